"""Clearing a whole bed in one breath: all that stands there goes, but not what was planted to stay for years.

"Cleared Kiln bed" is said at the end of a season.  Nobody means the rhubarb in the corner by it, nor what
is planned for next month: both are left, and the sentence says so.
"""

from __future__ import annotations

from datetime import timedelta
from typing import NamedTuple

from rules.knowledge.facts import FALLOW
from rules.model import Planting
from service.answers.spoken import bed_name, fitted, joined, short, verb
from service.phonefinding import LATE, Asked, Unclear, crop_names, find, rank
from service.words import as_date, capital

#: Ranks of what stands by the record or by the plan, and of what the plan says should have gone by now.
_THERE = (0, 4)


class Clearing(NamedTuple):
    """What goes, and what is told of that which stays."""

    gone: list[Planting]
    left: str = ""


def whole_bed(asked: Asked) -> Clearing:
    """What is cleared where a bed is named and no crop.

    Raises
    ------
    Unclear
        where nothing stands there, or only what stays for years.
    """
    assert asked.bed is not None
    ranked = [(how, p) for p in asked.rows if p.crop.id != FALLOW and (how := rank(asked, p)) is not None]
    best = min((how for how, _ in ranked), default=None)
    if best not in _THERE:
        found = find(asked)
        return Clearing([found] if found else [])
    there = sorted((p for how, p in ranked if how == best), key=lambda p: (p.start, p.crop.plural, p.id))
    stays = [p for p in there if p.crop.perennial]
    there = [p for p in there if not p.crop.perennial]
    if not there:
        raise _only(asked, stays)
    gone = [p for p in there if not _awaited(asked, p)] or there
    return Clearing(gone, _left(stays, [p for p in there if p not in gone]))


def _awaited(asked: Asked, p: Planting) -> bool:
    """True for what was planned, and may not be in the ground yet: a season that slipped."""
    planned = asked.status(p) == "planned" and p.id not in asked.logged and p.exact == "day"
    return planned and asked.day - p.start <= timedelta(days=LATE)


def _only(asked: Asked, stays: list[Planting]) -> Unclear:
    assert asked.bed is not None
    crops = list({p.crop.id: p.crop for p in stays}.values())
    names, stand = joined(crop_names(crops)), verb(crops, "stands", "stand")
    said = f"Only {names} {stand} in {bed_name(asked.bed)} on {as_date(asked.day)}, meant to stay for years"
    return Unclear("crop", f"{said}; name the crop if {verb(crops, 'it was', 'they were')} cleared")


def _left(stays: list[Planting], awaited: list[Planting]) -> str:
    """ "asparagus stays, name it to clear it", and the same of what is planned."""
    told = []
    for rows, one, many in (
        (stays, "is left, name it if it went too", "are left, name them if they went too"),
        (awaited, "is not logged as begun, and stays planned", "are not logged as begun, and stay planned"),
    ):
        crops = list({p.crop.id: p.crop for p in rows}.values())
        if crops:
            told.append(fitted(crop_names(crops), "", f" {verb(crops, one, many)}"))
    return capital("; ".join(told))


def told_gone(crops: list[str], where: str, day: str) -> str:
    """ "lettuces, kale and beans cleared from Kiln bed today", with room for the words before it."""
    lead = "Taken back: "
    return fitted(list(dict.fromkeys(map(short, crops))), lead, f" cleared from {where} {day}").removeprefix(lead)
