"""Which plantings stand together, and how near: parts of one bed, and beds close to each other."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterator, Mapping
from datetime import date
from functools import cached_property
from itertools import accumulate, chain, pairwise
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from rules.checks.footprints import Footprint, close_by, footprint, metres_apart
from rules.graphs.stays import LOST_EARLY_DAYS
from rules.model import Planting

if TYPE_CHECKING:
    from rules.checks.context import Context

#: Shares of a bed and metres closer than this are the same.
_HAIR = 1e-6
#: So many pairs are looked for in any plan, and beyond that so many a planting: no garden has more
#: plants beside each other, and no document can make the work grow with the square of its size.
_PAIRS, _PARTNERS = 1_000_000, 64
#: Where two beds have positions but no sizes, corners this far beyond the reach are no neighbours (judgement).
_ROOMY_M = 10.0


class Neighbour(NamedTuple):
    """Two plantings that stand together, ``one`` starting first.

    ``metres`` is 0.0 where their parts of one bed overlap or touch, else the gap between them;
    None where it is not known.  ``days`` counts the days on which both stand, ``mixed`` says
    that their parts of one bed overlap.
    """

    one: Planting
    other: Planting
    metres: float | None
    days: int
    mixed: bool


class _Row(NamedTuple):
    """A bed's plantings by start, their starts, and the latest end up to each."""

    plantings: list[Planting]
    starts: list[date]
    ends: list[date]


class Neighbours:
    """Which plantings of one plan stand together."""

    def __init__(self, context: Context) -> None:
        self._context, self._beds = context, context.beds
        self._near: dict[float, dict[str, list[tuple[str, float | None]]]] = {}
        self._pairs: dict[tuple[float, frozenset[str] | None], list[Neighbour]] = {}
        self._older: dict[str, frozenset[str]] = {}
        #: Plantings that have more beside them than were looked at.
        self.crowded: set[str] = set()

    # -- plantings

    def pairs(self, reach_m: float, of: Collection[str] | None = None) -> list[Neighbour]:
        """Every two plantings that stand together in one bed, or in beds at most ``reach_m`` metres apart.

        At least one of the two belongs to the judged window and, where ``of`` names plantings by
        id, at least one is among them.  Left out are fallow, what is known by its year alone and
        what was lost within 42 days.  Beds without positions are near when the plan tells one
        after the other.  In order of their starts, beds and crops.
        """
        key = reach_m, None if of is None else frozenset(of)
        if key not in self._pairs:
            found = sorted(self._found(*key), key=self._place)
            self._pairs[key] = found
        return self._pairs[key]

    def _found(self, reach_m: float, of: frozenset[str] | None) -> Iterator[Neighbour]:
        judged = self._judged
        asking = [p for row in self._rows.values() for p in row.plantings if p.id in (judged if of is None else of)]
        most = max(_PARTNERS, _PAIRS // max(1, len(asking)))
        seen: set[tuple[str, str]] = set()
        for p in asking:
            for q, metres in self._partners(p, reach_m, most):
                if p.id not in judged and q.id not in judged:
                    continue
                one, other = (p, q) if (p.start, p.id) < (q.start, q.id) else (q, p)
                if (one.id, other.id) not in seen:
                    seen.add((one.id, other.id))
                    days = (min(p.end, q.end) - other.start).days + 1
                    mixed = p.bed == q.bed and _overlap(p.part, q.part) > _HAIR
                    yield Neighbour(one, other, metres, days, mixed)

    def _partners(self, p: Planting, reach_m: float, most: int) -> Iterator[tuple[Planting, float | None]]:
        """What stands beside a planting, the nearest beds first, and how far off; ``most`` at the most."""
        left, steps = most, 8 * most
        for bed, metres in [(p.bed, 0.0), *self.near(reach_m).get(p.bed, ())]:
            row = self._rows.get(bed)
            for i in range(bisect_right(row.starts, p.end) - 1, -1, -1) if row else ():
                if row is None or row.ends[i] < p.start:
                    break
                q, steps = row.plantings[i], steps - 1
                beside = q.end >= p.start and q.id != p.id
                if steps == 0 or (beside and left == 0):
                    self.crowded.add(p.id)
                    return
                if beside:
                    left -= 1
                    yield q, self._between(p, q) if bed == p.bed else metres

    def _between(self, p: Planting, q: Planting) -> float | None:
        """Metres between two parts of one bed; None where they are apart in a bed of unknown length."""
        gap, length = -_overlap(p.part, q.part), self._beds[p.bed].length
        if gap <= _HAIR:
            return 0.0
        return None if length is None else round(gap * length / 100, 6)

    def _place(self, near: Neighbour) -> tuple[object, ...]:
        rank = self._context.rank
        return tuple(part for p in near[:2] for part in (p.start, rank[p.bed], p.crop.id, p.id))

    @cached_property
    def _judged(self) -> frozenset[str]:
        return frozenset(p.id for p in self._context.judged)

    @cached_property
    def _rows(self) -> Mapping[str, _Row]:
        """By bed, the plantings that may stand with one of the judged window."""
        judged = self._context.judged
        if not judged:
            return {}
        first, last = min(p.start for p in judged), max(p.end for p in judged)
        rows: dict[str, _Row] = {}
        for bed, own in self._context.own.items():
            here = [p for p in own if p.end >= first and p.start <= last and stands_dated(p)]
            if here:
                here.sort(key=lambda p: (p.start, p.end, p.crop.id, p.id))
                rows[bed] = _Row(here, [p.start for p in here], list(accumulate((p.end for p in here), max)))
        return rows

    # -- beds

    def apart(self, bed: str, other: str) -> float | None:
        """Metres from edge to edge of two beds, 0.0 where they touch; None where a position or size is missing."""
        one, two = self._footprints.get(bed), self._footprints.get(other)
        return None if one is None or two is None else metres_apart(one, two)

    def near(self, reach_m: float) -> Mapping[str, list[tuple[str, float | None]]]:
        """Each bed's near beds with their distance in metres, the nearest first, unknown distances last.

        Beds that replace one another are one place at different times, and never near.
        """
        if reach_m not in self._near:
            self._near[reach_m] = self._around(reach_m)
        return self._near[reach_m]

    def _around(self, reach_m: float) -> dict[str, list[tuple[str, float | None]]]:
        around: dict[str, list[tuple[str, float | None]]] = {bed: [] for bed in self._beds}
        most = 8 * max(_PARTNERS, _PAIRS // max(1, len(self._beds)))
        for bed, other in chain(close_by(self._footprints, reach_m, most), self._in_list(reach_m)):
            metres = self.apart(bed, other)
            if (metres is None or metres <= reach_m + _HAIR) and not self._same_place(bed, other):
                around[bed].append((other, metres))
                around[other].append((bed, metres))
        rank = self._context.rank
        for beds in around.values():
            beds.sort(key=lambda near: (near[1] is None, near[1] or 0.0, rank[near[0]]))
        return around

    def _in_list(self, reach_m: float) -> Iterator[tuple[str, str]]:
        """Beds told one after the other of which one has no position or no size."""
        told = sorted(self._beds, key=self._context.rank.__getitem__)
        for bed, other in pairwise(told):
            if bed not in self._footprints or other not in self._footprints:
                one, two = self._beds[bed].position, self._beds[other].position
                if not one or not two or hypot(one[0] - two[0], one[1] - two[1]) <= reach_m + _ROOMY_M:
                    yield bed, other

    def _same_place(self, bed: str, other: str) -> bool:
        return other in self._earlier(bed) or bed in self._earlier(other)

    def _earlier(self, bed: str) -> frozenset[str]:
        """Every bed whose ground a bed took over, directly or by way of others."""
        if not self._beds[bed].replaces:
            return frozenset()
        if bed not in self._older:
            reached, ahead = set[str](), [bed]
            while ahead:
                for replaced in self._beds[ahead.pop()].replaces:
                    if replaced.bed not in reached:
                        reached.add(replaced.bed)
                        ahead.append(replaced.bed)
            self._older[bed] = frozenset(reached)
        return self._older[bed]

    @cached_property
    def _footprints(self) -> dict[str, Footprint]:
        """The ground of each bed whose position and size are known, in the order beds are told in."""
        rank = self._context.rank
        corners = {bed: footprint(self._beds[bed]) for bed in sorted(self._beds, key=rank.__getitem__)}
        return {bed: placed for bed, placed in corners.items() if placed is not None}


def stands_dated(planting: Planting) -> bool:
    """True for what stands on known days: no fallow, no bare year, nothing lost within 42 days."""
    if planting.exact == "year" or planting.crop.kind == "fallow":
        return False
    return planting.status != "lost" or (planting.end - planting.start).days > LOST_EARLY_DAYS


def _overlap(part: tuple[float, float], other: tuple[float, float]) -> float:
    """The share of a bed that two parts have in common; below 0 the gap between them."""
    return min(part[1], other[1]) - max(part[0], other[0])
