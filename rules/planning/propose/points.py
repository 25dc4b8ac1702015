"""What crops do for each other side by side and in sequence, asked of the rule set's own tables."""

from __future__ import annotations

from rules.checks.conditions import beside, judged
from rules.checks.context import Context
from rules.checks.neighbours import Neighbour
from rules.knowledge.facts import FALLOW
from rules.knowledge.ruleset import GRAVE
from rules.model import Planting
from rules.planning.propose.times import LAST_DAY

#: What a caution weighs against points of help.
_HARM = 5
#: A crop cleared longer ago than this says nothing to the next (as in the checks of what follows what).
_MOST_DAYS = 400


class Points:
    """Points of two plantings; what it finds it keeps."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self._pairs, self._follows = context.knowledge.pairs, context.knowledge.follows
        self._absent = self._pairs.pestless(context.plan.garden.country)
        self._known: dict[tuple[object, ...], int] = {}

    def together(self, one: Planting, other: Planting) -> int:
        """Points of two that touch or share their part of a bed, one rule counting once."""
        if one.crop is other.crop:
            return 0
        first, second = (one, other) if (one.start, one.id) <= (other.start, other.id) else (other, one)
        days = (min(first.end, second.end) - second.start).days + 1
        if days < 1:
            return 0
        key = (
            first.crop,
            second.crop,
            first.end,
            (second.start - first.start).days,
            days,
            self.context.beds[one.bed].kind,
        )
        if key not in self._known:
            self._known[key] = self._together(Neighbour(first, second, 0.0, days, False))
        return self._known[key]

    def _together(self, near: Neighbour) -> int:
        told = (self._pairs.harms, self._pairs.mild)
        total = 0
        for spoken in (s for table in told for s in table[near.one.crop, near.other.crop]):
            rule = spoken.rule
            if rule.id in self._absent or not spoken.sure or not beside(spoken.pair.only_if, near):
                continue
            a, b = (near.one, near.other) if near.one.crop is spoken.a else (near.other, near.one)
            if all(condition.holds for condition in judged(spoken.pair, a, b, near, self.context)):
                total += rule.points - (_HARM if rule.severity in GRAVE else 0)
        return total

    def follows(self, earlier: Planting, later: Planting) -> int:
        """Points of a crop that comes directly after another in its ground: the best, the worst and the harms."""
        days = (later.start - earlier.end).days
        if earlier.end >= LAST_DAY or not 0 <= days <= _MOST_DAYS or earlier.crop.kind == FALLOW:
            return 0
        key = earlier.crop, later.crop, days, (earlier.end - earlier.start).days, later.method
        if key not in self._known:
            self._known[key] = self._follow(earlier, later, days)
        return self._known[key]

    def _follow(self, earlier: Planting, later: Planting, days: int) -> int:
        if earlier.crop.family and earlier.crop.family == later.crop.family:
            return 0  # relatives are left to the rotation
        stood, sown = (earlier.end - earlier.start).days, later.method == "sow"
        best = worst = harm = 0
        for table in (self._follows.grave, self._follows.mild):
            for rule, follow, *_ in table.after(earlier.crop, later.crop):
                if follow.sighted or stood < follow.stood_days or (follow.sown and not sown):
                    continue
                if follow.within_days is not None and days >= follow.within_days:
                    continue
                if rule.severity in GRAVE:
                    harm += _HARM
                else:
                    best, worst = max(best, rule.points), min(worst, rule.points)
        return best + worst - harm
