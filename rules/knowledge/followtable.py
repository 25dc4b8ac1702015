"""Which rules of kind ``follow`` name two crops, or a crop and an amendment: look-ups that fill as they are asked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rules.knowledge.factfiles import Facts
from rules.knowledge.facts import Crop
from rules.knowledge.followrows import Follow
from rules.knowledge.ruleset import GRAVE, MOST_POINTS, Rule

#: Grades of evidence, the best first.
_GRADES = tuple(MOST_POINTS)


class Named(NamedTuple):
    """A rule that means a succession; the lower its level, the more closely it names the crops.

    What the strongest comes first by is its ``strength``: points, evidence, how closely the crops are named, name.
    """

    rule: Rule
    follow: Follow
    level: int
    strength: tuple[int, int, int, str]


class Successors:
    """Some rules of kind ``follow`` by the crops that they name."""

    def __init__(self, rules: Iterable[Rule], facts: Facts) -> None:
        self.rules: list[tuple[Rule, Follow]] = [(rule, rule.compiled) for rule in rules]
        #: The longest wait of these rules, in days.
        self.reach = max((follow.within_days or 0 for _, follow in self.rules), default=0)
        self.amendments = frozenset(follow.amendment for _, follow in self.rules if follow.amendment)
        self._facts = facts
        self._may_follow: dict[Crop, bool] = {}
        self._may_lead: dict[Crop, bool] = {}
        self._after: dict[tuple[Crop | str, Crop], tuple[Named, ...]] = {}

    def may_follow(self, crop: Crop) -> bool:
        """Whether a crop can be the later one for any of the rules."""
        if crop in self._may_follow:
            return self._may_follow[crop]
        found = any(follow.may_follow(crop) for _, follow in self.rules)
        if self._facts.holds(crop):
            self._may_follow[crop] = found
        return found

    def may_lead(self, crop: Crop) -> bool:
        """Whether a crop is what one of the rules asks to have been before."""
        if crop in self._may_lead:
            return self._may_lead[crop]
        found = any(follow.before is not None and follow.before.match(crop) == "yes" for _, follow in self.rules)
        if self._facts.holds(crop):
            self._may_lead[crop] = found
        return found

    def after(self, earlier: Crop | str, later: Crop) -> tuple[Named, ...]:
        """The rules that mean a crop after another one, or after an amendment by its kind, in the rules' order."""
        known = self._after.get((earlier, later))
        if known is None:
            known = tuple(self._named(earlier, later))
            if self._facts.holds(later) and (isinstance(earlier, str) or self._facts.holds(earlier)):
                self._after[earlier, later] = known
        return known

    def _named(self, earlier: Crop | str, later: Crop) -> Iterable[Named]:
        for rule, follow in self.rules:
            if not follow.may_follow(later):
                continue
            if not isinstance(earlier, str):
                level = follow.names(earlier, later)
            else:
                level = follow.after.level(later) if follow.amendment == earlier else None
            if level is not None:
                grade = _GRADES.index(rule.evidence.grade)
                yield Named(rule, follow, level, (-abs(rule.points), grade, level, rule.id))


class FollowTable:
    """The rules of kind ``follow``: those that count against a plan, and the benefits and advice."""

    def __init__(self, rules: Iterable[Rule], facts: Facts) -> None:
        rules = tuple(rules)
        self.grave = Successors([rule for rule in rules if rule.severity in GRAVE], facts)
        self.mild = Successors([rule for rule in rules if rule.severity not in GRAVE], facts)
