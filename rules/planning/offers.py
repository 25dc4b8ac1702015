"""Beds that could take a planting: free while it would stand, or with one planned crop to swap."""

from __future__ import annotations

from datetime import date
from math import hypot

from rules.checks.context import Context
from rules.model import Bed, Planting
from rules.seasons import FIRST_YEAR, add_years

#: How many beds are offered for a move, and how many for a swap.
MOST_OFFERS = 4
#: How many of the longest-rested beds are looked at for one finding, so that a large site costs no more.
MOST_BEDS = 24
#: A bed must offer this share of the ground that a crop had before.
ROOM = 0.8
#: Kinds of ground that a crop is not moved into from another kind: other climate, other size.
APART = frozenset({"container", "greenhouse"})

#: No record at all, the end of the family's last host, the order beds are told in.
Rest = tuple[bool, date, int]
_EVER = date(FIRST_YEAR, 1, 1)


class Offers:
    """What the beds of one plan can take; what it learns of a family's rest it keeps."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self._rested: dict[str | None, dict[str, Rest]] = {}
        #: For each bed that others replace, those and the last day of its own ground (None = not told).
        self.heirs: dict[str, list[tuple[str, date | None]]] = {}
        for bed in context.plan.beds:
            for replaced in bed.replaces:
                self.heirs.setdefault(replaced.bed, []).append((bed.id, replaced.end or bed.start))

    def find(
        self, planned: list[Planting], here: Bed, family: str | None
    ) -> tuple[list[Bed], list[tuple[Bed, Planting]]]:
        """Free beds, and beds with the one planned crop that stands there; longest rested first, then nearest."""
        free: list[Bed] = []
        busy: list[tuple[Bed, Planting]] = []
        first, last = min(p.start for p in planned), max(p.end for p in planned)
        rested = self._by_rest(family)
        for looked_at, bed_id in enumerate(rested):
            if looked_at >= MOST_BEDS or (len(free) >= MOST_OFFERS and len(busy) >= MOST_OFFERS):
                break
            standing = self._standing(bed_id, first, last)
            if len(standing) > 1 or (standing and standing[0].status != "planned"):
                continue
            bed = self.context.beds[bed_id]
            if self._may_have_been(bed_id, family) or not self._suits(bed, here, planned):
                continue
            if not standing:
                free.append(bed)
            elif standing[0].crop.perennial == planned[0].crop.perennial and self._suits(here, bed, standing):
                busy.append((bed, standing[0]))
        free.sort(key=lambda bed: self._preference(rested[bed.id], bed, here))
        busy.sort(key=lambda pair: self._preference(rested[pair[0].id], pair[0], here))
        return free[:MOST_OFFERS], busy[:MOST_OFFERS]

    def _may_have_been(self, bed: str, family: str | None) -> bool:
        """True where a group word on record ("flowers", "salad") may have been the family within its break."""
        interval = self.context.interval(family) if family else None
        if interval is None:
            return False
        since = add_years(self.context.plan.judge.start, -interval[1])
        return any(family in p.crop.families and p.end >= since for p in self.context.grounds[bed].mixed)

    def last_host(self, bed: str, family: str | None) -> Planting | None:
        """The host of a family that ended last in a bed's ground, of those set before the judged window."""
        start, last = self.context.plan.judge.start, None
        for p in self.context.grounds[bed].hosts.get(family or "", ()):
            if p.start < start and (last is None or p.end > last.end):
                last = p
        return last

    def last_days(self, bed: str) -> list[date]:
        """Days after which a bed is no more, or its ground another bed's."""
        return [day for day in (self.context.beds[bed].end, *(until for _, until in self.heirs.get(bed, ()))) if day]

    def _by_rest(self, family: str | None) -> dict[str, Rest]:
        """All beds, longest without the family first, beds without any record last."""
        if family not in self._rested:
            grounds, rank = self.context.grounds, self.context.rank
            rests = []
            for bed in grounds:
                last = self.last_host(bed, family)
                rests.append(((not grounds[bed].plantings, last.end if last else _EVER, rank[bed]), bed))
            self._rested[family] = {bed: rest for rest, bed in sorted(rests)}
        return self._rested[family]

    def _preference(self, rest: Rest, bed: Bed, here: Bed) -> tuple[bool, date, float, int]:
        unknown, end, rank = rest
        if bed.position and here.position:
            distance = hypot(bed.position[0] - here.position[0], bed.position[1] - here.position[1])
        else:
            distance = abs(rank - self.context.rank[here.id])
        return unknown, end, round(distance, 3), rank

    def _suits(self, bed: Bed, here: Bed, planned: list[Planting]) -> bool:
        if bed is here or (bed.kind != here.kind and (bed.kind in APART or here.kind in APART)):
            return False
        if bed.start and any(p.start < bed.start for p in planned):
            return False
        if bed.end and any(p.end > bed.end for p in planned):
            return False
        for _, until in self.heirs.get(bed.id, ()):
            if until is None or any(p.end > until for p in planned):
                return False
        if here.length and here.width and bed.length and bed.width:
            share = max(p.part[1] - p.part[0] for p in planned)
            return bed.length * bed.width >= ROOM * here.length * here.width * share
        return True

    def _standing(self, bed: str, first: date, last: date) -> list[Planting]:
        return [p for p in self.context.own[bed] if p.start <= last and p.end >= first and p.crop.kind != "fallow"]
