"""The ordinary check of what was laid, and who is to blame for what is new in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from rules.checks.context import Context, Hit
from rules.checks.hits import all_hits, grave_keys
from rules.checks.runner import check
from rules.knowledge.known import Knowledge
from rules.knowledge.ruleset import Rule
from rules.model import Plan, Planting, Window, Wishes
from rules.report import Report
from rules.seasons import growing_year_window


def horizon(wishes: Wishes, latitude: float | None) -> Window:
    """All days of the years that are planned."""
    years = wishes.horizon
    return Window(growing_year_window(years[0], latitude).start, growing_year_window(years[-1], latitude).end)


def joined(plan: Plan, plantings: Iterable[Planting]) -> Plan:
    """A plan with further plantings, in the order of their starts."""
    every = sorted((*plan.plantings, *plantings), key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))
    return replace(plan, plantings=tuple(every))


class Judge:
    """Judges plans of one garden against what was wrong with it before anything was proposed."""

    def __init__(self, plan: Plan, knowledge: Knowledge) -> None:
        self.plan, self.knowledge = plan, knowledge
        self.before = grave_keys(self._hits(plan))

    def report(self, plantings: Iterable[Planting]) -> Report:
        """The ordinary check of the plan with some plantings."""
        return check(joined(self.plan, plantings), self.knowledge)

    def blamed(self, plantings: Iterable[Planting], severity: str = "breach") -> list[frozenset[str]]:
        """For each new breach (or caution) the plantings of ours that bring it about together."""
        ours = {p.id: p for p in plantings}
        found: dict[frozenset[str], None] = {}
        for rule, hit in self._hits(joined(self.plan, ours.values())):
            if rule.severity == severity and any((rule.id, p.id) not in self.before for p in hit.plantings):
                culprits = frozenset(_culprits(hit, ours))
                if culprits:
                    found[culprits] = None
        return list(found)

    def _hits(self, plan: Plan) -> list[tuple[Rule, Hit]]:
        return list(all_hits(Context(plan, self.knowledge, told="all"), only_grave=True))


def _culprits(hit: Hit, ours: Mapping[str, Planting]) -> Iterable[str]:
    """Our plantings that a hit names, and the earlier host that it names as evidence."""
    yield from (p.id for p in hit.plantings if p.id in ours)
    for value in hit.because.values():
        for name in value if isinstance(value, tuple) else (value,):
            if isinstance(name, str) and name in ours:
                yield name
