"""Which pair rules speak for two crops: a look-up made when rules are loaded.

Where two rules say the same kind of thing about one pair, the more specific one speaks:
a crop's own before its group's, its family's, its traits'.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rules.knowledge.factfiles import Facts
from rules.knowledge.facts import Crop
from rules.knowledge.pairrows import Pair
from rules.knowledge.ruleset import GRAVE, Rule


class Spoken(NamedTuple):
    """A rule that speaks for two crops: which acts, which is acted on.

    ``sure`` is False where a group word only may be meant; ``level`` says how specific the
    rule is, lower being more specific; ``behind`` names a more specific rule that speaks instead.
    """

    rule: Rule
    pair: Pair
    a: Crop
    b: Crop
    sure: bool
    level: int
    behind: str | None = None


class Told(dict[tuple[Crop, Crop], tuple[Spoken, ...]]):
    """What is told of a plan by two crops: no rule that is kept for questions, and none behind another."""

    def __init__(self, table: PairTable, facts: Facts, *, grave: bool) -> None:
        super().__init__()
        self._table, self._facts, self._grave = table, facts, grave

    def __missing__(self, key: tuple[Crop, Crop]) -> tuple[Spoken, ...]:
        found = tuple(
            spoken
            for spoken in self._table.between(*key)
            if spoken.pair.in_plan and spoken.behind is None and (spoken.rule.severity in GRAVE) is self._grave
        )
        if all(map(self._facts.holds, key)):
            self[key] = found
        return found


class PairTable:
    """All pair rules of a rule set by the crops that they speak for."""

    def __init__(self, rules: Iterable[Rule], facts: Facts) -> None:
        self._rules: list[tuple[Rule, Pair]] = [(rule, rule.compiled) for rule in rules]
        self._facts = facts
        self._known: dict[tuple[Crop, Crop], tuple[Spoken, ...]] = {}
        #: What is told of a plan that holds two crops: the harms, and all else.
        self.harms, self.mild = Told(self, facts, grave=True), Told(self, facts, grave=False)
        self._far: dict[tuple[Crop, float], bool] = {}
        self._sides: dict[str, tuple[dict[int, bool], dict[int, bool]]] = {}
        #: How far apart two crops can stand and still be spoken of, in metres.
        self.reach_m = max((pair.only_if.reach_m for _, pair in self._rules), default=0.0)

    def acts_beyond(self, crop: Crop, metres: float) -> bool:
        """Whether a crop is, or may be, what acts in a rule that still speaks over more than so many metres."""
        known = self._far.get((crop, metres))
        if known is None:
            far = (pair for _, pair in self._rules if pair.in_plan and pair.only_if.reach_m > metres)
            known = any(pair.a.match(crop) != "no" for pair in far)
            if self._facts.holds(crop):
                self._far[crop, metres] = known
        return known

    def pestless(self, country: str | None) -> frozenset[str]:
        """Rules all of whose pests are unknown in a country: there is nothing to help or harm."""
        pests = self._facts.pests
        return frozenset(
            rule.id
            for rule, pair in self._rules
            if pair.pests and not pair.others and not any(pests[pest].lives_in(country) for pest in pair.pests)
        )

    def between(self, one: Crop, other: Crop) -> tuple[Spoken, ...]:
        """Every rule that speaks for two crops, whichever of them acts, by rule id; in either order the same."""
        one, other = (one, other) if one.id <= other.id else (other, one)
        known = self._known.get((one, other))
        if known is None:
            known = self._find(one, other)
            if self._facts.holds(one) and self._facts.holds(other):
                self._known[one, other] = known
        return known

    def _find(self, one: Crop, other: Crop) -> tuple[Spoken, ...]:
        if one.id == other.id:
            return ()
        found: list[Spoken] = []
        for a, b in ((one, other), (other, one)):
            acting, acted_on = self._sides_of(a)[0], self._sides_of(b)[1]
            for n in sorted(acting.keys() & acted_on.keys()):
                rule, pair = self._rules[n]
                if pair.both and any(spoken.rule is rule for spoken in found):
                    continue
                level = max(pair.a.level(a), pair.b.level(b))
                found.append(Spoken(rule, pair, a, b, acting[n] and acted_on[n], level))
        found.sort(key=lambda spoken: (spoken.rule.id, spoken.a.id))
        return tuple(spoken._replace(behind=_outranked(spoken, found)) for spoken in found)

    def _sides_of(self, crop: Crop) -> tuple[dict[int, bool], dict[int, bool]]:
        """The rules in which a crop acts and is acted on; True where it surely is meant."""
        known = self._sides.get(crop.id) if self._facts.holds(crop) else None
        if known is None:
            known = ({}, {})
            for n, (_, pair) in enumerate(self._rules):
                for side, selector in enumerate((pair.a, pair.b)):
                    match = selector.match(crop)
                    if match != "no":
                        known[side][n] = match == "yes"
            if self._facts.holds(crop):
                self._sides[crop.id] = known
        return known


def _outranked(spoken: Spoken, found: list[Spoken]) -> str | None:
    """The id of a more specific rule that says the same kind of thing about the same pair."""
    for other in found:
        if other.level < spoken.level and other.a is spoken.a and _same_thing(spoken, other):
            return other.rule.id
    return None


def _same_thing(one: Spoken, other: Spoken) -> bool:
    if one.rule.effect != other.rule.effect or (one.pair.in_plan and not other.pair.in_plan):
        return False
    mine, theirs = (set(s.pair.pests + s.pair.diseases + s.pair.others) for s in (one, other))
    if not mine or not theirs:
        return one.pair.about == other.pair.about
    return not mine.isdisjoint(theirs)
