"""What the checks of neighbours could not settle: rows without days, beds without places, crowds.

A line is told for each kind of check that needs plantings to stand together, under its first rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rules.checks.context import Context
from rules.checks.hosts_later import unmeasured
from rules.checks.hosts_together import taken_as_near
from rules.model import Planting
from rules.report import NotChecked

BY_YEAR = "crops known by their year alone may have stood beside others; give season words or days"
IN_LIST = "positions or sizes are missing, so beds that follow each other in the plan were taken as neighbours"
CROWDED = "so many crops stand together here that not every two were compared"
#: How far off another crop may stand for a row without days to be told of, in metres.
_NEAR_M = 2.0


def unsettled(context: Context) -> Iterator[NotChecked]:
    """What the checks of hosts side by side could not settle."""
    if context.knowledge.by_kind.get("hosts-together"):
        yield from _line(context, "hosts-together", BY_YEAR, by_year_alone(context))
        yield from _beds(context, "hosts-together", IN_LIST, taken_as_near(context))
        crowd = (context.plantings[name] for name in context.neighbours.crowded)
        yield from _line(context, "hosts-together", CROWDED, crowd)
    if context.knowledge.by_kind.get("hosts-next-season"):
        yield from _beds(context, "hosts-next-season", IN_LIST, unmeasured(context))


def by_year_alone(context: Context) -> list[Planting]:
    """Plantings of the judged window known by a bare year, where another may stand beside them."""
    return [p for p in context.judged if p.exact == "year" and p.crop.kind != "fallow" and _in_company(context, p)]


def _in_company(context: Context, planting: Planting) -> bool:
    beds = (planting.bed, *(bed for bed, _ in context.neighbours.near(_NEAR_M)[planting.bed]))
    return any(
        p.start <= planting.end and p.end >= planting.start and p.id != planting.id and p.crop.kind != "fallow"
        for bed in beds
        for p in context.own[bed]
    )


def _line(context: Context, kind: str, why: str, plantings: Iterable[Planting]) -> Iterator[NotChecked]:
    """One line that counts plantings."""
    beds = [p.bed for p in plantings]
    if beds:
        yield NotChecked(_rule(context, kind), why, len(beds), _told(context, beds))


def _beds(context: Context, kind: str, why: str, beds: Iterable[str]) -> Iterator[NotChecked]:
    """One line that counts beds."""
    told = _told(context, beds)
    if told:
        yield NotChecked(_rule(context, kind), why, len(told), told)


def _rule(context: Context, kind: str) -> str:
    return context.knowledge.by_kind[kind][0].id


def _told(context: Context, beds: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(set(beds), key=context.rank.__getitem__))
