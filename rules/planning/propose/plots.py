"""The ground to plan: stretches of beds with one past, what stands in them, and the days on which they are free."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from rules.checks.context import Context
from rules.graphs.stays import is_host
from rules.knowledge.facts import FALLOW, Crop
from rules.model import WHOLE, Bed, Planting
from rules.planning.offers import APART, Offers
from rules.planning.propose.times import PICKING, Timing
from rules.seasons import add_years

#: Beds are shared out in quarters: smaller parts are more bother than they are worth (judgement).
PARTS = 4
#: Stretches smaller than this share of a bed are left alone (judgement).
_LEAST_SHARE = 0.15
#: Parts of beds that were cleared longer ago than this divide a bed no more (judgement: the longest better break).
_PARTED_YEARS = 4
#: Points for a quarter bed under glass of a crop that does well there too, or belongs outside; and outside, where there
#: is glass, of one that wants it (judgement).
_UNDER_GLASS, _NO_GLASS = {"best": 0.0, "fine": 0.5, "no": 4.0}, 2.0
_ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, eq=False)
class Plot:
    """A stretch of a bed in ``cells``, each about a quarter of a middling bed; ``past`` is what stands or stood in it.

    It may be planted from ``opens`` to ``closes``.
    """

    bed: Bed
    part: tuple[float, float]
    cells: int
    past: tuple[Planting, ...]
    opens: date
    closes: date

    def cell(self, first: int, last: int) -> tuple[float, float]:
        """The part of the bed from one cell to before another."""
        low, high = self.part
        width = (high - low) / self.cells
        part = round(low + first * width, 4), high if last == self.cells else round(low + last * width, 4)
        return WHOLE if part == WHOLE else part

    def free_from(self, timing: Timing) -> date | None:
        """The first day on which a crop can be set here in its time; None where there is none.

        What stands already is left to its end, and what stands later must find its ground clear.
        """
        start = max(timing.start, self.opens)
        for p in self.past:
            if p.crop.kind != FALLOW and p.start <= start <= p.end:
                start = p.end + _ONE_DAY
        if start > timing.latest or self.free_until(start, timing.end) < start + timing.ripe + PICKING:
            return None
        return start

    def free_until(self, start: date, end: date) -> date:
        """The last day, up to an end, on which what is set on a day can still stand here."""
        last = min(end, self.closes)
        for p in self.past:
            if p.crop.kind != FALLOW and start < p.start <= last:
                last = p.start - _ONE_DAY
        return last

    def hosts_before(self, day: date) -> Iterator[Planting]:
        """What of its past was a host and was set before a day."""
        return (p for p in self.past if p.start < day and is_host(p))


def plots(context: Context, first: date) -> list[Plot]:
    """The plots of a plan in the order its beds are told in; ``first`` is the first day that may be planted."""
    heirs, found, size = Offers(context).heirs, list[Plot](), sizes(context.beds.values())
    for bed in sorted(context.beds.values(), key=lambda bed: context.rank[bed.id]):
        handed = [until for _, until in heirs.get(bed.id, ())]
        if None in handed:
            continue
        ends = [day for day in (bed.end, *handed) if day is not None]
        opens, closes = max(first, bed.start or first), min(ends, default=date.max)
        if opens < closes:
            found += _of_bed(context, bed, opens, closes, size[bed.id])
    return found


def sizes(beds: Iterable[Bed]) -> dict[str, float]:
    """Each bed's size in middling beds, by its id; one whose sides are not known counts as middling.

    Never less than a quarter, and never more than four: a field is no bed.
    """
    beds = list(beds)
    areas = {bed.id: bed.length * bed.width for bed in beds if bed.length and bed.width}
    there = [areas[bed.id] for bed in beds if bed.end is None and bed.id in areas] or areas.values()
    middle = median(there) if areas else 1.0
    return {bed.id: min(4.0, max(1 / PARTS, areas.get(bed.id, middle) / middle)) for bed in beds}


def _of_bed(context: Context, bed: Bed, opens: date, closes: date, size: float) -> Iterator[Plot]:
    past = context.grounds[bed.id].plantings
    since = add_years(opens, -_PARTED_YEARS)
    edges = {edge for p in past if p.end >= since for edge in p.part} | {0.0, 1.0}
    stretches: list[tuple[float, float, tuple[Planting, ...]]] = []
    for low, high in pairwise(sorted(edges)):
        here = tuple(p for p in past if p.part[0] < high - 1e-6 and p.part[1] > low + 1e-6)
        if stretches and stretches[-1][2] == here:
            low = stretches.pop()[0]
        stretches.append((low, high, here))
    for low, high, here in stretches:
        if high - low >= _LEAST_SHARE:
            yield Plot(bed, (low, high), max(1, round((high - low) * size * PARTS)), here, opens, closes)


def glass_cost(wanted: str, plot: Plot, garden: Iterable[Plot]) -> float:
    """What it costs to have a quarter of a lot under glass that it does not want, or outside where there is glass."""
    if plot.bed.kind == "greenhouse":
        return _UNDER_GLASS[wanted]
    return _NO_GLASS if wanted == "best" and any(p.bed.kind == "greenhouse" for p in garden) else 0.0


def fits(crop: Crop, plot: Plot) -> bool:
    """Whether a crop has room: a plant that needs more than the bed's sides does not, nor a shrub in a pot."""
    spaces = crop.traits.in_row_cm or crop.traits.each_way_cm
    sides = [side for side in (plot.bed.length, plot.bed.width) if side]
    if spaces and sides and spaces[0] > max(sides):
        return False
    return not (crop.perennial and crop.kind == "fruit" and plot.bed.kind in APART)
