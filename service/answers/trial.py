"""A planting tried out: the plan with it added, and what the ordinary check then finds that it did not before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cached_property, lru_cache

from rules import check
from rules.checks.context import Context
from rules.checks.hits import Key, all_hits
from rules.checks.outlook import gaps
from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.model import Bed, Plan, Planting, Window
from rules.planning.fixes import Remedies
from rules.reading import assumed_end
from rules.report import Finding, Report
from rules.seasons import LAST_YEAR, growing_year, growing_year_window

_LAST_DAY = date(LAST_YEAR, 12, 31)
_ASKED = "asked"


def tried(plan: Plan, bed: Bed, crop: Crop, day: date) -> Planting:
    """The planting that is asked about, as a plan's row with bed, crop and start would be read."""
    taken = {p.id for p in plan.plantings}
    name = next(name for name in (_ASKED, *(f"{_ASKED}-{n}" for n in range(len(taken) + 1))) if name not in taken)
    end = min(assumed_end(crop, day, plan.garden), _LAST_DAY)
    return Planting(name, bed.id, crop, day, end, assumed_end=True, status="planned")


def judged_on(plan: Plan, day: date) -> Plan:
    """The plan with the season judged that a day lies in: the plan's own, or the day's growing year.

    Where the plan's own season is still to come it is judged as well, so that what is planned for it counts.
    """
    if plan.judge.start <= day <= plan.judge.end:
        return plan
    latitude = plan.garden.latitude
    year = growing_year_window(growing_year(day, latitude), latitude)
    whole = Window(year.start, max(year.end, plan.judge.end))
    return replace(plan, judge=whole, judged_season=None)


def with_planting(plan: Plan, planting: Planting) -> Plan:
    """The plan with a planting added, in its place by date."""
    rows = sorted((*plan.plantings, planting), key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))
    return replace(plan, plantings=tuple(rows))


class Trial:
    """What the check of a plan says once a crop is added."""

    def __init__(self, plan: Plan, bed: Bed, crop: Crop, day: date, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.before = judged_on(plan, day)
        self.planting = tried(plan, bed, crop, day)
        self.after = with_planting(self.before, self.planting)

    @cached_property
    def report(self) -> Report:
        """The ordinary check of the plan with the planting."""
        return check(self.after, self.knowledge)

    @cached_property
    def breaches(self) -> list[Finding]:
        """The breaches that come with the planting, the worst first."""
        return self._added("breach")

    @cached_property
    def cautions(self) -> list[Finding]:
        """The cautions that come with the planting."""
        return self._added("caution")

    @cached_property
    def gaps(self) -> list[str]:
        """What the planting's own check would need and the record does not tell."""
        holes = gaps(Context(self.after, self.knowledge))
        return list(dict.fromkeys(hole.why for hole in holes if hole.planting.id == self.planting.id))

    def _added(self, severity: str) -> list[Finding]:
        found = [f for f in self.report.findings if f.severity == severity and f.in_window]
        return [f for f in found if self.planting.id in f.plantings or not self._known.issuperset(_keys(f))]

    @cached_property
    def _known(self) -> set[Key]:
        """What counted against the plan before, each rule with each planting that it names."""
        hits = all_hits(Context(self.before, self.knowledge), only_grave=True)
        return {(rule.id, p.id) for rule, hit in hits if hit.in_window for p in hit.plantings}


def _keys(finding: Finding) -> set[Key]:
    return {(finding.rule, name) for name in finding.plantings}


class Quick:
    """Whether crops may go into beds, and no more: the rules of breaches alone, over the ground of one bed.

    Every such rule looks at one ground (a test holds it to the full check), so the beds that have no part
    in that ground are left out.
    """

    def __init__(self, plan: Plan, day: date, knowledge: Knowledge) -> None:
        self.plan, self.day, self.knowledge = judged_on(plan, day), day, _breaches_only(knowledge)
        self._remedies = Remedies(Context(self.plan, knowledge), frozenset())
        self._cut: dict[str, Plan] = {}

    def may(self, bed: Bed, crop: Crop) -> bool:
        """True where the crop, set in the bed on the day, brings no breach."""
        here = self._cut.get(bed.id)
        if here is None:
            here = self._cut[bed.id] = self._remedies.trial({bed.id}, ()).plan
        after = self._keys(with_planting(here, tried(self.plan, bed, crop, self.day)))
        return not after or after <= self._keys(here)

    def _keys(self, plan: Plan) -> set[Key]:
        hits = all_hits(Context(plan, self.knowledge), only_grave=True)
        grave = ((rule, hit) for rule, hit in hits if rule.severity == "breach" and hit.in_window)
        return {(rule.id, p.id) for rule, hit in grave for p in hit.plantings}


@lru_cache(maxsize=4)
def _breaches_only(knowledge: Knowledge) -> Knowledge:
    kept = {
        kind: breaches
        for kind, rules in knowledge.by_kind.items()
        if (breaches := tuple(rule for rule in rules if rule.severity == "breach"))
    }
    return replace(knowledge, by_kind=kept, grave_by_kind=kept)


def full_until(standing: Sequence[Planting]) -> date | None:
    """The day up to which what stands fills a bed from end to end; None where some of it is free."""
    covered, until = 0.0, None
    for low, high, end in sorted((p.part[0], p.part[1], p.end) for p in standing):
        if low > covered:
            return None
        if high > covered:
            covered, until = high, end if until is None else min(until, end)
    return until if covered >= 1.0 else None
