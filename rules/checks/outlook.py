"""What each bed's record says of the years to come, and where the record is silent."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from rules.checks.context import Context
from rules.checks.disease_break import DECADES
from rules.checks.exposures import hosts_of
from rules.checks.grounds import Ground
from rules.graphs.stays import free_after, is_host
from rules.model import Planting
from rules.report import BedOutlook, Closure, Free, Outlook
from rules.seasons import growing_year, growing_year_window

_ALL_YEARS = 1000


class Gap(NamedTuple):
    """Years or crops that a planting's check would need and the record does not tell."""

    bed: str
    planting: Planting
    why: str


def outlooks(context: Context) -> tuple[BedOutlook, ...]:
    """Each bed's outlook on the day the judged window begins, beds in their told order."""
    grown = sorted({family for ground in context.grounds.values() for family in ground.hosts})
    families = {family: interval[1] for family in grown if (interval := context.interval(family)) is not None}
    order = sorted(context.grounds, key=context.rank.__getitem__)
    return tuple(_outlook(context, context.grounds[bed], families) for bed in order)


def _outlook(context: Context, ground: Ground, families: Mapping[str, int]) -> BedOutlook:
    first = growing_year(context.plan.judge.start, context.latitude)
    years = {year for year in ground.years if year < first}
    known_from = min(years, default=None)
    fresh = growing_year(ground.fresh_from, context.latitude) if ground.fresh_from else None
    missing = tuple(y for y in range(known_from, first) if y not in years) if known_from is not None else ()
    closures, closed = _closures(context, ground)
    told = _told_back(years, first, fresh)
    free: dict[str, Outlook] = {f: "open" if better <= told else "unknown" for f, better in families.items()}
    for family in ground.hosts:
        if family in free and (busy := _busy(context, ground, family)):
            free[family] = busy
    for family in closed:
        if family in free:
            free[family] = closed[family]
    return BedOutlook(ground.bed.id, known_from, missing, free, closures)


def _told_back(years: set[int], first: int, fresh: int | None) -> int:
    """How many growing years before ``first`` are on record without a hole; all, from new soil on."""
    told = 0
    while first - told - 1 in years:
        told += 1
    return _ALL_YEARS if fresh is not None and first - told <= fresh else told


def _busy(context: Context, ground: Ground, family: str) -> Free | None:
    """When a family may return after its last host before the window; None where it may already."""
    start = context.plan.judge.start
    last: Planting | None = None
    for p in ground.hosts[family]:
        if p.start < start and (last is None or p.end >= last.end):
            last = p
    if last is None:
        return None
    least, better = context.interval(family) or (0, 0)
    if last.end.year + better + 1 < start.year:
        return None
    after = free_after(last, better, context.latitude)
    return Free(free_after(last, least, context.latitude), after) if after > start else None


def _closures(context: Context, ground: Ground) -> tuple[tuple[Closure, ...], dict[str, Outlook]]:
    """Crops that sighted diseases keep out, and the families they close whole."""
    start = context.plan.judge.start
    closures: list[Closure] = []
    closed: dict[str, Outlook] = {}
    for disease_id, days in ground.sightings.items():
        disease = context.knowledge.diseases[disease_id]
        before = [day for day in days if day < start]
        if not before:
            continue
        hosts = [p for p in hosts_of(ground, disease) if is_host(p, context.knowledge.diseases) and p.start < start]
        hosts += [p for p in ground.plantings if p.crop.id in disease.carriers and before[0] < p.start < start]
        ends = [(p.end, p.exact) for p in hosts if p.end >= before[0]] + [(day, "day") for day in before]
        last, exact = max(ends)
        never = disease.least is None or disease.better is None or disease.least >= DECADES
        until = None
        free: Outlook = "never"
        if not never:
            mark = Planting("", ground.bed.id, context.knowledge.crops["fallow"], last, last, exact)
            free = Free(
                free_after(mark, disease.least or 0, context.latitude),
                free_after(mark, disease.better or 0, context.latitude),
            )
            until = free.better
            if until <= start:
                continue
        closures.append(Closure(tuple(sorted(disease.hosts & context.knowledge.crops.keys())), until, disease_id))
        for family in disease.host_families:
            closed[family] = _later(closed.get(family), free)
    return tuple(closures), closed


def _later(one: Outlook | None, other: Outlook) -> Outlook:
    if one is None or other == "never":
        return other
    if one == "never" or isinstance(other, str) or isinstance(one, str):
        return one
    return Free(max(one.least, other.least), max(one.better, other.better))


def gaps(context: Context) -> Iterator[Gap]:
    """What the rotation check of a planting in the window would need and cannot know; silent years once a bed."""
    silent: dict[str, set[int]] = {}
    lacking: list[Planting] = []
    for p in context.judged:
        if p.crop.family and (interval := context.interval(p.crop.family)) is not None and is_host(p):
            years = _silent(context, context.grounds[p.bed], p, interval[1])
            if years:
                silent.setdefault(p.bed, set()).update(years)
                lacking.append(p)
    for p in lacking:
        told = ", ".join(str(year) for year in sorted(silent[p.bed]))
        yield Gap(p.bed, p, f"{context.bed_name(p.bed)} has no record for {told}")
    for p in context.judged:
        if p.crop.kind == "fallow":
            continue
        if not p.crop.family:
            yield Gap(
                p.bed, p, f"{p.crop.plural} in {context.bed_name(p.bed)} can be of several families; name the crop"
            )
            continue
        interval = context.interval(p.crop.family)
        if interval is not None and is_host(p):
            yield from _mixed(context, context.grounds[p.bed], p, interval[1])


def _since(context: Context, ground: Ground, p: Planting, better: int) -> int:
    """The first growing year that a planting's check looks at."""
    since = growing_year(p.start, context.latitude) - better
    return max(since, growing_year(ground.fresh_from, context.latitude)) if ground.fresh_from else since


def _silent(context: Context, ground: Ground, p: Planting, better: int) -> list[int]:
    """The growing years that a planting's check looks at and nothing is on record for.

    A year to come inside the judged window is planned: without a planting its ground is to be empty.
    """
    years = range(_since(context, ground, p, better), growing_year(p.start, context.latitude))
    return [year for year in years if year not in ground.years and not _planned(context, year)]


def _planned(context: Context, year: int) -> bool:
    window, plan = growing_year_window(year, context.latitude), context.plan
    return plan.judge.start <= window.start and plan.as_of < window.end


def _mixed(context: Context, ground: Ground, p: Planting, better: int) -> Iterator[Gap]:
    """Group words on record that may have been of a planting's family."""
    if not ground.mixed:
        return
    start = growing_year_window(_since(context, ground, p, better), context.latitude).start
    for other in ground.mixed:
        if p.crop.family in other.crop.families and start <= other.end and other.start < p.start:
            yield Gap(
                p.bed,
                p,
                f"{other.crop.plural} of {other.start.year} in {context.bed_name(p.bed)} may have been "
                f"of the {context.knowledge.family_name(p.crop.family)}",
            )
