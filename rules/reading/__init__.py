"""From the typed rows of a plan document to a ``Plan``: names, seasons, assumed ends.

The rows come from a schema (types and ranges are checked there); what is checked here needs
knowledge or other rows: crop names, beds, seasons, the order of dates.
"""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import TYPE_CHECKING

from rules.model import Plan, Planting, Window
from rules.reading.beds import read_beds, read_garden, read_own_crops
from rules.reading.desk import Desk, Fault, Path, PlanFaults, Row
from rules.reading.events import look_up_spoiled, read_amendments, read_covers, read_sightings, read_treatments
from rules.reading.plantings import assumed_end, read_plantings
from rules.reading.wishes import read_wishes
from rules.seasons import growing_year, growing_year_window, parse_season, season_window

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

__all__ = ["Fault", "PlanFaults", "assumed_end", "build_plan"]


#: The most rows of a kind for one bed: twelve a year for forty years.
MOST_OF_BED = 500


def build_plan(
    data: Row, knowledge: Knowledge, *, as_of: date, season: str | None = None, broken: frozenset[Path] = frozenset()
) -> Plan:
    """Build a plan from typed rows.

    Parameters
    ----------
    data
        The document as the schema loads it (see ``service.schemas.plan``).
    as_of
        Today as the door sees it; used where the document has no ``as_of``.
    season
        The season to judge, over the document's own ``judge``.
    broken
        Paths of rows that the schema refused; they are left out.

    Raises
    ------
    PlanFaults
        with everything wrong, each with its path.
    """
    desk = Desk(data, knowledge, data.get("as_of", as_of), read_garden(data.get("garden") or {}), broken)
    if not data.get("beds") and not data.get("plantings"):
        desk.fault((), "a plan needs beds, plantings or both; this one has neither")
    _crowded(desk)
    plan = _plan(desk, season)
    if desk.faults:
        raise PlanFaults(desk.faults)
    return plan


def _crowded(desk: Desk) -> None:
    """Refuse more rows for one bed than any garden's record holds: checks look at a bed's rows two by two."""
    for key in ("plantings", "covers", "sightings", "treatments", "amendments"):
        counted: Counter[str] = Counter()
        for i, row in desk.rows(key):
            bed = row.get("bed")
            if isinstance(bed, str):
                counted[bed] += 1
                if counted[bed] == MOST_OF_BED + 1:
                    desk.fault(
                        (key, i, "bed"), f"bed {bed!r} has more than {MOST_OF_BED} {key}; that is the most for one bed"
                    )


def _plan(desk: Desk, season: str | None) -> Plan:
    read_own_crops(desk)
    beds = read_beds(desk)
    plantings = read_plantings(desk)
    ids = {p.id for p in plantings}
    look_up_spoiled(desk)
    judge, judged_season = _judge(desk, season, plantings)
    return Plan(
        as_of=desk.as_of,
        judge=judge,
        judged_season=judged_season,
        garden=desk.garden,
        beds=beds,
        plantings=plantings,
        covers=read_covers(desk, ids),
        sightings=read_sightings(desk, ids),
        treatments=read_treatments(desk, ids),
        amendments=read_amendments(desk),
        seasons_read={word: window for word, window in sorted(desk.seasons.items()) if window},
        notes=_notes(desk),
        wishes=read_wishes(desk, beds, plantings),
    )


def _notes(desk: Desk) -> tuple[str, ...]:
    if desk.latitude is None:
        return ("No latitude is given, so seasons are read as in the north.",)
    return ()


def _judge(desk: Desk, season: str | None, plantings: tuple[Planting, ...]) -> tuple[Window, str | None]:
    asked: Row = {"season": season} if season is not None else desk.data.get("judge") or {}
    word = asked.get("season")
    if word is not None:
        parsed = parse_season(word)
        if parsed is None:
            desk.fault(("judge", "season"), f"{word!r} is not a season; write a year (2027) or a year and quarter")
            return Window(desk.as_of, desk.as_of), None
        year, quarter = parsed
        if quarter is None:
            return growing_year_window(year, desk.latitude), word
        return season_window(year, quarter, desk.latitude), word
    if asked.get("from") and asked.get("to"):
        if asked["to"] < asked["from"]:
            desk.fault(("judge", "to"), f"to {asked['to']} lies before from {asked['from']}")
        return Window(asked["from"], asked["to"]), None
    latest = max((p.start for p in plantings), default=desk.as_of)
    year = growing_year(latest, desk.latitude)
    return growing_year_window(year, desk.latitude), str(year)
