"""Words for several crops in a wish: one of them is chosen, and the grower is told which and why."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.model import Plan, Wish, Wishes
from rules.planning.propose.times import timings


def named(wishes: Wishes, plan: Plan, knowledge: Knowledge) -> tuple[Wishes, tuple[str, ...]]:
    """The wishes with a single crop in each, and a note for each word that stood for several.

    Of those that are not disliked and can be grown here in the wanted season the one is taken that the garden grew
    most; where it grew none, one that is not wished for by name already, and of these the most usual.
    """
    if not any(wish.crop.members for wish in wishes.wants):
        return wishes, ()
    choosing, notes, wants = _Choosing(wishes, plan, knowledge), dict[str, None](), []
    for wish in wishes.wants:
        if wish.crop.members:
            crop, why = choosing.chosen(wish)
            word = wish.crop.plural
            notes[f"{word[:1].upper()}{word[1:]}: planned as {crop.plural}, {why}. To have another, name it."] = None
            wish = replace(wish, crop=crop)
        wants.append(wish)
    return replace(wishes, wants=tuple(wants)), tuple(notes)


class _Choosing:
    def __init__(self, wishes: Wishes, plan: Plan, knowledge: Knowledge) -> None:
        self.wishes, self.garden, self.knowledge = wishes, plan.garden, knowledge
        self.by_name = {wish.crop.id for wish in wishes.wants}
        self.disliked = {one.crop.id for one in wishes.dislikes if one.bed is None}
        self.grown = Counter(p.crop.id for p in (*plan.plantings, *wishes.fixed, *wishes.keep) if p.status != "lost")
        #: The common crops stand in the order in which they are usual.
        self.usual = {name: place for place, name in enumerate(knowledge.facts.common)}

    def chosen(self, wish: Wish) -> tuple[Crop, str]:
        """The crop for a wish, and why this one."""
        members = [self.knowledge.crops[name] for name in wish.crop.members]
        liked = [crop for crop in members if crop.id not in self.disliked] or members
        open_ = [crop for crop in liked if self._grows(crop, wish)] or liked
        best = min(open_, key=self._order)
        if len(open_) == 1:
            return best, "the only one of them that is left" if len(liked) == 1 else "the only one for this season here"
        if self.grown[best.id]:
            return best, "as you grew them before"
        return best, "the most usual of them" if best.id in self.usual else "the first of them"

    def _order(self, crop: Crop) -> tuple[int, bool, bool, int]:
        usual = self.usual.get(crop.id, len(self.usual))
        return -self.grown[crop.id], crop.id in self.by_name, crop.perennial, usual

    def _grows(self, crop: Crop, wish: Wish) -> bool:
        years = [year for year in self.wishes.horizon if not wish.years or year in wish.years]
        return all(timings(crop, year, self.garden, self.knowledge, wish.slot) for year in years)
