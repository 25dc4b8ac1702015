"""Lines of the journal to rows of the plan, and the other way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from rules.seasons import parse_season, season_window
from service.schemas.entry import JOINED, MADE, PLACED, STORED
from service.store.journal import Journal, Line
from service.store.projection import Act, Planned, State, project
from service.store.tables import Entry, Planting

Row = dict[str, Any]
#: Lists of the plan that the journal fills, with the word for a line of each.
LISTS = {"covers": "covered", "sightings": "sighting", "treatments": "treated", "amendments": "manured"}
#: Words that settle what was due on their day.
_SETTLE = frozenset({"covered", "uncovered", "harvested"})
_COVER = ("kind", "mesh", "edges", "open_by_day_from", "plantings")
_TREATMENT = ("active", "harvest_interval")


def line_of(key: str, row: Mapping[str, Any]) -> Row:
    """The typed line that says what a row of one of ``LISTS`` says."""
    line = {**row, "did": LISTS[key]}
    if key == "covers":
        line["date"] = line.pop("start")
        if "end" in line:
            line["until"] = line.pop("end")
    return line


def columns(line: Mapping[str, Any]) -> Row:
    """A typed line as the columns of the journal."""
    detail = {key: _plain(value) for key, value in line.items() if key not in STORED}
    return {**{key: line[key] for key in STORED if key in line}, "detail": detail or None}


def typed_line(entry: Line | Entry) -> Row:
    """A line of the journal as its schema reads it."""
    line = {key: value for key in PLACED if (value := getattr(entry, key)) is not None}
    for key, value in (entry.detail or {}).items():
        line[key] = date.fromisoformat(value) if key in ("until", "open_by_day_from") else value
    return line


def event_rows(journal: Journal) -> dict[str, list[tuple[Row, Line]]]:
    """The rows of each of ``LISTS`` that the standing lines say, as written, each with its line."""
    found: dict[str, list[tuple[Row, Line]]] = {key: [] for key in LISTS}
    for entry in journal.standing:
        if entry.did not in ("sighting", "treated", "manured"):
            continue
        line = typed_line(entry)
        own = {"bed": line.get("bed"), "date": line["date"]}
        at = {**own, "planting": line["planting"]} if "planting" in line else own
        if entry.did == "sighting":
            found["sightings"].append(({**at, **_some(line, ("of", "level"))}, entry))
        elif entry.did == "treated":
            found["treatments"].append(({**at, **_some(line, _TREATMENT)}, entry))
        else:
            found["amendments"].append(({**own, "kind": line["kind"]}, entry))
    found["covers"] = sorted(_covers(journal.said(("covered", "uncovered"))), key=lambda pair: pair[1].id)
    return found


def _covers(lines: Iterable[Line]) -> Iterator[tuple[Row, Line]]:
    """Covers by their laying; one taken off from some of its plantings lies on over the others."""
    lying: list[tuple[Row, Line]] = []
    for entry in lines:
        if entry.did == "covered":
            line = typed_line(entry)
            row = {"bed": entry.bed, "start": entry.date, **_some(line, _COVER)}
            if entry.planting is not None and "plantings" not in row:
                row["plantings"] = [entry.planting]
            if "until" in line:
                row["end"] = line["until"]
            lying.append((row, entry))
        else:
            still: list[tuple[Row, Line]] = []
            for row, laid in lying:
                yield from _taken_off(row, laid, entry, still)
            lying = still
    yield from lying


def _taken_off(row: Row, laid: Line, entry: Line, still: list[tuple[Row, Line]]) -> Iterator[tuple[Row, Line]]:
    over = row.get("plantings") or []
    named = entry.planting
    if row["bed"] != entry.bed or row.get("end", date.max) < entry.date or (over and named and named not in over):
        still.append((row, laid))
        return
    others = [planting for planting in over if planting != named] if named else []
    if others:
        still.append(({**row, "plantings": others}, laid))
        row = {**row, "plantings": [named]}
    opened = row.get("open_by_day_from")
    if opened is not None and opened > entry.date:
        row = {key: value for key, value in row.items() if key != "open_by_day_from"}
    yield {**row, "end": entry.date}, laid


def done_on(journal: Journal, day: date, time_zone: str | None) -> frozenset[tuple[str, str]]:
    """What stands as done on a day: the word, and the bed or (of a harvest) the planting that it was done to.

    A line that was written down before its day is a plan for that day, and may not be done yet.
    """
    zone = ZoneInfo(time_zone) if time_zone else None  # None: where the program runs
    lines = (entry for entry in journal.standing if entry.date == day and entry.did in _SETTLE)
    return frozenset(
        (entry.did, str(entry.planting if entry.did == "harvested" else entry.bed))
        for entry in lines
        if entry.recorded_at is None or entry.recorded_at.astimezone(zone).date() >= day
    )


def withdrawn(plantings: Iterable[Planting], journal: Journal) -> set[str]:
    """Plantings that lines of the journal made, and that are gone since those lines were taken back.

    One that another planting or a line that stands names is kept, as it was when it was made.
    """
    taken = (entry for entry in journal if entry.id in journal.undone and entry.detail and entry.detail.get(MADE))
    made = {entry.planting for entry in taken if entry.planting}
    if not made:
        return set()
    named = {entry.planting for entry in journal.standing} | {planting.replaces for planting in plantings}
    over = (planting for entry in journal.standing if entry.detail for planting in entry.detail.get("plantings", ()))
    return made.difference(named, over)


def together(journal: Journal, number: int) -> list[Line]:
    """The lines that were said in one breath with a line, itself among them, as far as they stand."""
    at = next(i for i, line in enumerate(journal) if line.id == number)
    first, last = at, at + 1
    while first > 0 and (journal[first].detail or {}).get(JOINED):
        first -= 1
    while last < len(journal) and (journal[last].detail or {}).get(JOINED):
        last += 1
    return [line for line in journal[first:last] if line.id not in journal.undone]


def lying(journal: Journal, bed: str, day: date, planting: str | None = None) -> bool:
    """True when a cover is on record over a bed (and that planting) on a day."""
    return any(
        row["bed"] == bed
        and row["start"] <= day <= row.get("end", date.max)
        and (planting is None or not row.get("plantings") or planting in row["plantings"])
        for row, _ in event_rows(journal)["covers"]
    )


def states(plantings: Iterable[Planting], journal: Journal, latitude: float | None) -> dict[str, State]:
    """The state of each planting by its id; one whose row and lines are the same as before is not worked out anew."""
    lives, known = journal.lives, journal.known
    found = {}
    for planting in plantings:
        life, before = lives.get(planting.id), known.get(planting.id)
        if before is None or before[0] is not planting or before[1] is not life or before[2] != latitude:
            state = project(_planned(planting, latitude), map(_act, life or ()))
            before = known[planting.id] = planting, life, latitude, state
        found[planting.id] = before[3]
    return found


def _act(entry: Line) -> Act:
    detail = entry.detail or {}
    return Act(entry.date, entry.did, detail.get("cause"), detail.get("count"))


def _planned(planting: Planting, latitude: float | None) -> Planned:
    opens = planting.start
    if opens is None:
        season = parse_season(planting.season or "")
        opens = season_window(*season, latitude).start if season else date.min
    return Planned(
        opens,
        planting.start,
        planting.season,
        planting.end,
        planting.first_harvest,
        planting.status,
        planting.cause,
        planting.method,
        planting.count,
    )


def _some(line: Row, keys: tuple[str, ...]) -> Row:
    return {key: line[key] for key in keys if key in line}


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value
