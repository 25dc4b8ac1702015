"""What one proposal does otherwise than another."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from rules.seasons import year_reader
from service.words import as_list

if TYPE_CHECKING:
    from rules.model import Plan
    from rules.planning.propose import Proposal

#: Places that are named; of more, their number is told.
_NAMED = 3


class Move(NamedTuple):
    """A crop of a year that stands in other beds: ``beds`` here, ``otherwise`` in the other proposal."""

    year: int
    crop: str
    beds: tuple[str, ...]
    otherwise: tuple[str, ...]


def differences(proposal: Proposal, other: Proposal, horizon: range) -> list[Move]:
    """The crops that stand in other beds in the other proposal, by year and crop."""
    here, there = _places(proposal, horizon), _places(other, horizon)
    return [
        Move(year, crop, tuple(sorted(here[year, crop])), tuple(sorted(there[year, crop])))
        for year, crop in sorted({*here, *there})
        if here[year, crop] != there[year, crop]
    ]


def _places(proposal: Proposal, horizon: range) -> defaultdict[tuple[int, str], set[str]]:
    year_of = year_reader(proposal.plan.garden.latitude)
    places: defaultdict[tuple[int, str], set[str]] = defaultdict(set)
    for planting in proposal.plantings:
        if (year := year_of(planting.start)) in horizon:
            places[year, planting.crop.plural].add(planting.bed)
    return places


def told(moves: list[Move], plan: Plan) -> str:
    """The differences in words, the first of them by name."""
    names = {bed.id: bed.name for bed in plan.beds}
    if not moves:
        return "the same crops in the same beds, on other days or in other parts of them."
    said = []
    for move in moves[:_NAMED]:
        where = as_list(names[bed] for bed in move.otherwise)
        said.append(f"{move.crop} of {move.year} " + (f"in {where}" if where else "left out"))
    more = f"; {len(moves) - _NAMED} more crops stand elsewhere" if len(moves) > _NAMED else ""
    return f"{'; '.join(said)}{more}."
