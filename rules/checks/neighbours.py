"""Which plantings stand together, and how near: parts of one bed, and beds close to each other."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import date
from functools import cached_property
from itertools import accumulate, combinations, pairwise
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from rules.checks.footprints import Box, Footprint, box, boxes_apart, close_by, footprint, metres_apart, upright
from rules.graphs.stays import LOST_EARLY_DAYS
from rules.knowledge.facts import Crop
from rules.model import Planting

if TYPE_CHECKING:
    from rules.checks.context import Context

#: Shares of a bed and metres closer than this are the same.
_HAIR = 1e-6
#: So many pairs are looked for in any plan, and beyond that so many a planting: no garden has more
#: plants beside each other, and no document can make the work grow with the square of its size.
_PAIRS, _PARTNERS = 200_000, 64
#: So few beds are measured two by two, once for every reach: laying them into squares takes longer.
FEW = 24
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
        # Not the context itself: it holds this, and what holds itself stays until garbage is collected.
        self._beds, self._rank, self._own = context.beds, context.rank, context.own
        self._told, self._judged = context.judged, context.judged_ids
        self._near: dict[float, dict[str, list[tuple[str, float | None]]]] = {}
        self._pairs: dict[tuple[float, frozenset[str] | None], list[Neighbour]] = {}
        self._by_crops: dict[tuple[float, int], list[list[Neighbour]]] = {}
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
            place = self._places
            many = len(place)
            self._pairs[key] = sorted(self._found(*key), key=lambda n: place[n.one.id] * many + place[n.other.id])
        return self._pairs[key]

    def by_crops(self, reach_m: float, days: int) -> Iterable[list[Neighbour]]:
        """The pairs that stand together for so many days or more, those of the same two crops in one list."""
        found = self._by_crops.get((reach_m, days))
        if found is None:
            lists: dict[tuple[Crop, Crop], list[Neighbour]] = {}
            for near in self.pairs(reach_m):
                if near.days >= days:
                    lists.setdefault((near.one.crop, near.other.crop), []).append(near)
            found = self._by_crops[reach_m, days] = list(lists.values())
        return found

    def _found(self, reach_m: float, of: frozenset[str] | None) -> Iterator[Neighbour]:
        wanted = self._judged if of is None else of
        asking = [p for row in self._rows.values() for p in row.plantings if p.id in wanted]
        most = max(_PARTNERS, _PAIRS // max(1, len(asking)))
        held, near = {bed: len(row.plantings) for bed, row in self._rows.items()}, self.near(reach_m)
        around = {bed: sum(held.get(other, 0) for other, _ in near[bed]) + held[bed] for bed in held}
        steps = sum(held[bed] * around[bed] for bed in held)
        if max(around.values(), default=0) <= most and steps <= 2 * sum(around[p.bed] for p in asking):
            return self._all_pairs(reach_m, wanted)
        return self._some_pairs(asking, reach_m, most)

    def _all_pairs(self, reach_m: float, wanted: frozenset[str]) -> Iterator[Neighbour]:
        """Every pair, bed by bed: quicker where most plantings are asked for and none has many beside it."""
        near, judged, rows = self.near(reach_m), self._judged, self._rows
        done: set[str] = set()
        for bed, row in rows.items():
            done.add(bed)
            beside = [(rows[other], metres) for other, metres in near[bed] if other in rows and other not in done]
            for n, p in enumerate(row.plantings):
                name, start, end = p.id, p.start, p.end
                asked, in_window = name in wanted, name in judged
                for q in row.plantings[n + 1 : bisect_right(row.starts, end)]:
                    if q.end >= start and (asked or q.id in wanted) and (in_window or q.id in judged):
                        yield _neighbour(p, q, self._between(p, q), _overlap(p.part, q.part) > _HAIR)
                for other, metres in beside:
                    for q in other.plantings:
                        if q.start > end:
                            break
                        if q.end >= start and (asked or q.id in wanted) and (in_window or q.id in judged):
                            yield _neighbour(p, q, metres, False)

    def _some_pairs(self, asking: list[Planting], reach_m: float, most: int) -> Iterator[Neighbour]:
        """Of each planting's pairs so many."""
        judged, seen = self._judged, set[tuple[str, str]]()
        for p in asking:
            for q, metres in self._partners(p, reach_m, most):
                both = (p.id, q.id) if p.id < q.id else (q.id, p.id)
                if both not in seen and (p.id in judged or q.id in judged):
                    seen.add(both)
                    mixed = p.bed == q.bed and _overlap(p.part, q.part) > _HAIR
                    yield _neighbour(p, q, metres, mixed)

    def _partners(self, p: Planting, reach_m: float, most: int) -> Iterator[tuple[Planting, float | None]]:
        """What stands beside a planting, the nearest beds first, and how far off; ``most`` at the most."""
        left, steps, rows = most, 8 * most, self._rows
        for bed, metres in [(p.bed, 0.0), *self.near(reach_m).get(p.bed, ())]:
            if bed not in rows:
                continue
            plantings, starts, ends = rows[bed]
            for i in range(bisect_right(starts, p.end) - 1, -1, -1):
                if ends[i] < p.start:
                    break
                q, steps = plantings[i], steps - 1
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

    @cached_property
    def _places(self) -> dict[str, int]:
        """Where each planting comes in the order of starts, beds and crops."""
        rank = self._rank
        rows = [p for row in self._rows.values() for p in row.plantings]
        rows.sort(key=lambda p: (p.start, rank[p.bed], p.crop.id, p.id))
        return {p.id: n for n, p in enumerate(rows)}

    @cached_property
    def _rows(self) -> Mapping[str, _Row]:
        """By bed, the plantings that may stand with one of the judged window."""
        judged = self._told
        if not judged:
            return {}
        first, last = min(p.start for p in judged), max(p.end for p in judged)
        rows: dict[str, _Row] = {}
        for bed, own in self._own.items():
            here = [p for p in own if p.end >= first and p.start <= last and stands_dated(p)]
            if here:
                here.sort(key=lambda p: (p.start, p.end, p.crop.id, p.id))
                rows[bed] = _Row(here, [p.start for p in here], list(accumulate((p.end for p in here), max)))
        return rows

    # -- beds

    def apart(self, bed: str, other: str) -> float | None:
        """Metres from edge to edge of two beds, 0.0 where they touch; None where a position or size is missing."""
        boxes = self._upright
        if bed in boxes and other in boxes:
            return boxes_apart(boxes[bed], boxes[other])
        one, two = self._footprints.get(bed), self._footprints.get(other)
        return None if one is None or two is None else metres_apart(one, two)

    def near(self, reach_m: float) -> Mapping[str, list[tuple[str, float | None]]]:
        """Each bed's near beds with their distance in metres, the nearest first, unknown distances last.

        Beds that replace one another are one place at different times, and never near.
        """
        found = self._near.get(reach_m)
        if found is None:
            found = self._near[reach_m] = self._around(reach_m)
        return found

    def _around(self, reach_m: float) -> dict[str, list[tuple[str, float | None]]]:
        around: dict[str, list[tuple[str, float | None]]] = {bed: [] for bed in self._beds}
        if len(self._boxes) <= FEW:
            told = self._measured
        else:
            most = 8 * max(_PARTNERS, _PAIRS // max(1, len(self._beds)))
            told = self._in_order(close_by(self._boxes, reach_m, most))
        for metres, bed, other in told:
            if metres > reach_m + _HAIR:
                break
            around[bed].append((other, metres))
            around[other].append((bed, metres))
        for bed, other in self._in_list(reach_m):
            if not self._same_place(bed, other):
                around[bed].append((other, None))
                around[other].append((bed, None))
        return around

    @cached_property
    def _measured(self) -> list[tuple[float, str, str]]:
        """Every two beds and how far apart they are."""
        return self._in_order(combinations(self._boxes, 2))

    def _in_order(self, pairs: Iterable[tuple[str, str]]) -> list[tuple[float, str, str]]:
        """Beds two by two with the metres between them: the nearest first, then as the beds are told."""
        rank, found = self._rank, []
        for bed, other in pairs:
            metres = self.apart(bed, other)
            if metres is not None and not self._same_place(bed, other):
                one, two = (bed, other) if rank[bed] < rank[other] else (other, bed)
                found.append((metres, rank[one], rank[two], one, two))
        found.sort()
        return [(metres, one, two) for metres, _, _, one, two in found]

    def _in_list(self, reach_m: float) -> Iterator[tuple[str, str]]:
        """Beds told one after the other of which one has no position or no size."""
        if len(self._footprints) == len(self._beds):
            return
        told = sorted(self._beds, key=self._rank.__getitem__)
        for bed, other in pairwise(told):
            if bed not in self._footprints or other not in self._footprints:
                one, two = self._beds[bed].position, self._beds[other].position
                if not one or not two or hypot(one[0] - two[0], one[1] - two[1]) <= reach_m + _ROOMY_M:
                    yield bed, other

    def _same_place(self, bed: str, other: str) -> bool:
        if not self._beds[bed].replaces and not self._beds[other].replaces:
            return False
        return other in self._earlier(bed) or bed in self._earlier(other)

    def _earlier(self, bed: str) -> frozenset[str]:
        """Every bed whose ground a bed took over, directly or by way of others."""
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
        rank = self._rank
        corners = {bed: footprint(self._beds[bed]) for bed in sorted(self._beds, key=rank.__getitem__)}
        return {bed: placed for bed, placed in corners.items() if placed is not None}

    @cached_property
    def _boxes(self) -> dict[str, Box]:
        return {bed: box(corners) for bed, corners in self._footprints.items()}

    @cached_property
    def _upright(self) -> dict[str, Box]:
        """The boxes that are the ground itself."""
        return {bed: ground for bed, ground in self._boxes.items() if upright(self._footprints[bed])}


def stands_dated(planting: Planting) -> bool:
    """True for what stands on known days: no fallow, no bare year, nothing lost within 42 days."""
    if planting.exact == "year" or planting.crop.kind == "fallow":
        return False
    return planting.status != "lost" or (planting.end - planting.start).days > LOST_EARLY_DAYS


def _neighbour(p: Planting, q: Planting, metres: float | None, mixed: bool) -> Neighbour:
    """Two plantings as neighbours, the one that starts first before the other."""
    one, other = (p, q) if p.start < q.start or (p.start == q.start and p.id < q.id) else (q, p)
    return Neighbour(one, other, metres, (min(p.end, q.end) - other.start).days + 1, mixed)


def _overlap(part: tuple[float, float], other: tuple[float, float]) -> float:
    """The share of a bed that two parts have in common; below 0 the gap between them."""
    return min(part[1], other[1]) - max(part[0], other[0])
