"""What a cover keeps out, and which plantings it covers.

A cover stops a pest only if its openings are small enough for that pest, it lies from the day
the crop goes in, its edges are shut, and the pest does not come out of the ground beneath.
The widest opening stands with each pest (``Pest.max_mesh_mm``).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date
from itertools import accumulate, islice, takewhile

from rules.checks.context import Context
from rules.knowledge.facts import Pest
from rules.model import Cover, Planting

#: Where a pest of any soil winters: it is under the cover whatever grew there.
RESIDENT = ("soil_anywhere", "soil_anywhere_with_organic_matter", "soil_and_mulch_anywhere")
#: Bonded fabric has no countable mesh; one laboratory trial found that it passed the smallest
#: greenhouse pests (BETHKE1991), so it is not promised against what needs finer openings than this, in mm.
FLEECE_FROM_MM = 0.5
#: What an open-topped fence turns away: it must come on foot and not climb.
_ON_FOOT = ("crawls", "crawls_at_night", "walks", "walks_and_digs")
#: A net finer than this is not advised for outdoors, in mm: what needs it (thrips, whitefly) is met by other means
#: (judgement).
FINEST_MM = 0.6
#: Wider openings at full stretch can catch animals (VIC_NET, ACT_NET, NSW_NET), so no net with wider ones is advised.
SAFE_MM = 5.0
#: A cover that comes on this many days after the crop counts as there from the start.
GRACE_DAYS = 1
#: No planting has more covers over it, and none is looked for among more: a document of thousands on one
#: bed must not make the work grow with their square (judgement).
MOST_COVERS, _MOST_LOOKED_AT = 24, 2000


def covers_of(context: Context) -> dict[str, list[Cover]]:
    """The covers over each planting, by planting id; a cover that names no planting is over all of its bed.

    Of very many over one planting the latest ``MOST_COVERS`` that were put on are looked at.
    """
    by_bed: dict[str, list[Cover]] = {}
    for cover in context.plan.covers:
        by_bed.setdefault(cover.bed, []).append(cover)
    place = {cover: n for n, cover in enumerate(context.plan.covers)}
    found: dict[str, list[Cover]] = {}
    for bed, covers in by_bed.items():
        covers.sort(key=lambda c: c.start)
        starts, ends = [c.start for c in covers], list(accumulate((c.end or date.max for c in covers), max))
        for planting in context.own.get(bed, ()):
            last = bisect_right(starts, planting.end)
            ahead = range(last - 1, max(-1, last - 1 - _MOST_LOOKED_AT), -1)
            on = takewhile(lambda i: ends[i] >= planting.start, ahead)  # noqa: B023 (used up at once)
            over = islice((covers[i] for i in on if over_planting(covers[i], planting)), MOST_COVERS)
            told = sorted(over, key=place.__getitem__)
            if told:
                found[planting.id] = told
    return found


def over_planting(cover: Cover, planting: Planting) -> bool:
    """Whether a cover lies over a planting on any day."""
    named = not cover.plantings or planting.id in cover.plantings
    return (
        named
        and cover.bed == planting.bed
        and cover.start <= planting.end
        and (cover.end is None or cover.end >= planting.start)
    )


def fine_enough(cover: Cover, pest: Pest) -> bool | None:
    """Whether a pest cannot pass a cover's stuff; None where its mesh is not on record."""
    most = pest.max_mesh_mm
    if most is None or cover.kind == "collar":
        return False
    if cover.kind == "fence" and pest.mobility not in _ON_FOOT:
        return False
    if cover.kind == "fleece":
        return most >= FLEECE_FROM_MM and pest.group != "vertebrate"
    return None if cover.mesh is None else cover.mesh <= most


def from_the_start(cover: Cover, planting: Planting) -> bool:
    """Whether a cover lay when the crop went in."""
    return (cover.start - planting.start).days <= GRACE_DAYS


def lives_below(pest: Pest) -> bool:
    """Whether a pest is at home in any soil, so that no cover keeps it from the crop."""
    return pest.overwinters in RESIDENT


def keeps_out(cover: Cover, planting: Planting, pest: Pest) -> bool | None:
    """Whether a cover keeps a pest from a planting, ground apart; None where its mesh is not on record."""
    if cover.edges == "open" or lives_below(pest) or not from_the_start(cover, planting):
        return False
    return fine_enough(cover, pest)


def shut_until(covers: Sequence[Cover], planting: Planting, pest: Pest) -> date | None:
    """The day up to which covers, one taking over from the other, shut a pest out from the start; None: not at all."""
    until: date | None = None
    for cover in sorted(covers, key=lambda c: c.start):
        if cover.edges == "open" or lives_below(pest) or not fine_enough(cover, pest):
            continue
        joins = from_the_start(cover, planting) if until is None else (cover.start - until).days <= GRACE_DAYS
        if joins:
            ends = [day for day in (cover.end, cover.open_by_day_from) if day is not None]
            until = max(until or planting.start, min(ends, default=date.max))
    return until


def shut_throughout(context: Context, planting: Planting, pest: Pest) -> bool:
    """Whether a planting was covered against a pest from start to end."""
    until = shut_until(context.once(covers_of).get(planting.id, ()), planting, pest)
    return until is not None and until >= planting.end


def feeders(context: Context, planting: Planting) -> tuple[Pest, ...]:
    """The pests of this garden's country that feed on a planting for certain, by id."""
    return context.local.by_crop.get(planting.crop.id, ())
