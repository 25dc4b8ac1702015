"""Which planting came before which in the same ground, and what was done to the soil in between."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator
from datetime import date, timedelta
from itertools import pairwise
from typing import NamedTuple

from rules.checks.amended import amendments
from rules.checks.context import Context
from rules.graphs.stays import GRACE_OVERWINTERED_DAYS, is_host
from rules.knowledge.facts import Crop
from rules.model import WHOLE, Amendment, Planting
from rules.seasons import growing_year

#: A crop cleared longer ago than this no longer counts as the one directly before (judgement: a year and a month).
MOST_DAYS = 400
#: Crops that stood together and were cleared within so many days of each other came before together (judgement).
_TOGETHER = timedelta(days=28)
_OVERWINTERED = timedelta(days=GRACE_OVERWINTERED_DAYS)


#: Whether anything is asked of an earlier crop, or the kind of an amendment, and a later crop.
Asked = Callable[[Crop | str, Crop], object]


class Succession(NamedTuple):
    """A planting and what came before it in its ground: an earlier planting, or something done to the soil.

    ``days`` lie between the end of the earlier, or the day of the amendment, and the start of the
    later; ``direct`` is True for the crop directly before in at least a part of the ground.
    """

    later: Planting
    earlier: Planting | None
    amendment: Amendment | None
    days: int
    direct: bool = False

    @property
    def done(self) -> date:
        """The last day of the earlier planting, or the day of the amendment."""
        if self.earlier is not None:
            return self.earlier.end
        assert self.amendment is not None
        return self.amendment.date

    @property
    def dated(self) -> bool:
        """True where the days between are on record and not assumed."""
        return self.later.exact == "day" and not (self.earlier is not None and self.earlier.assumed_end)


def successions(
    context: Context, bed: str, laters: Iterable[Planting], reach: int, asked: Asked
) -> Iterator[Succession]:
    """What came at most ``reach`` days before some of a bed's plantings; the latest to end comes first.

    ``asked`` says of an earlier crop, or the kind of an amendment, and the later crop whether they matter.
    """
    known = context.once(_known)
    if bed not in known:
        # Fallow counts, since what stood before it did not come directly before; what was lost young, or came
        # up by itself, does not.
        grown = [p for p in context.grounds[bed].plantings if p.method != "volunteer" and _counts(p)]
        grown.sort(key=_by_end)
        known[bed] = grown, [p.end for p in grown]
    by_end, ends = known[bed]
    changes = context.once(amendments).get(bed, ())
    for later in laters:
        if later.method == "volunteer" or not is_host(later):
            continue
        before = _before(later, by_end, ends, reach, context.latitude)
        meant = [p for p in before if p.crop.kind != "fallow" and asked(p.crop, later.crop)]
        direct = _direct(later, before) if meant else ()
        for earlier in meant:
            days = max(0, (later.start - earlier.end).days)
            yield Succession(later, earlier, None, days, earlier.id in direct)
        for change in changes:
            days = (later.start - change.date).days
            if 0 <= days <= reach and asked(change.kind, later.crop):
                yield Succession(later, None, change, days)


def _known(context: Context) -> dict[str, tuple[list[Planting], list[date]]]:
    """What stood in each ground that was asked for, by end, and the ends."""
    return {}


def _by_end(planting: Planting) -> tuple[date, str]:
    return planting.end, planting.id


def _counts(planting: Planting) -> bool:
    return planting.crop.kind == "fallow" or is_host(planting)


def _before(
    later: Planting, by_end: list[Planting], ends: list[date], reach: int, latitude: float | None
) -> list[Planting]:
    """The plantings of the same ground that ended before one started, the last first.

    A row known by its year alone is taken to start in spring, so what stood over the winter before
    it may have ended a little later.
    """
    by_year = later.exact == "year"
    latest = later.start + _OVERWINTERED if by_year else later.start
    until = bisect_right(ends, latest)
    since = bisect_left(ends, later.start - timedelta(days=reach), 0, until)
    low, high = later.part
    found = [p for p in by_end[since:until] if p.start < later.start and p.part[0] < high and p.part[1] > low]
    if by_year:
        year = growing_year(later.start, latitude)
        found = [p for p in found if growing_year(p.start, latitude) < year]
    found.reverse()
    return found


def _direct(later: Planting, before: list[Planting]) -> set[str]:
    """Ids of those that came directly before in at least a part of the ground."""
    oldest = later.start - timedelta(days=MOST_DAYS)
    recent = [p for p in before if p.end >= oldest]
    direct: set[str] = set()
    for low, high in _pieces(later, recent):
        here = [p for p in recent if p.part[0] < high and p.part[1] > low]
        last = here[0] if here else None
        for p in here:
            if p is last or (last and last.end - p.end <= _TOGETHER and p.end > last.start):
                direct.add(p.id)
    return direct


def _pieces(later: Planting, before: list[Planting]) -> Iterator[tuple[float, float]]:
    """The stretches of a planting's ground that no earlier part's edge divides."""
    low, high = later.part
    if all(p.part is WHOLE for p in before):
        yield low, high
        return
    cuts = {edge for p in before for edge in p.part if low < edge < high}
    yield from pairwise(sorted({low, high, *cuts}))
