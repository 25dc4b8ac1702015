"""A garden of the store as the typed document that ``rules.build_plan`` takes: the one straight way.

Plantings carry their projected state; covers, sightings, treatments and amendments come out of the
journal.  What a stored garden is checked as is what its export says.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from rules.reading import build_plan
from service.journalrows import done_on, event_rows, states, withdrawn
from service.store.keys import short_id
from service.store.projection import State
from service.store.repository import Contents
from service.store.rows import typed_row
from service.store.tables import Planting

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan

Row = dict[str, Any]
_STATE = ("season", "start", "end", "first_harvest", "status", "cause", "count")
_VALUES = attrgetter(*_STATE)
#: Plans of one garden that are kept with its contents: today's, of the seasons that are asked for.
_MOST_PLANS = 4


def garden_plan(contents: Contents, knowledge: Knowledge, *, as_of: date, season: str | None = None) -> Plan:
    """The plan of a garden on a day, to judge a season (else its latest growing year).

    Raises
    ------
    rules.PlanFaults
        for a garden with neither beds nor plantings, or a season that is none.
    """
    made = contents.made.get((as_of, season))
    if made is not None and made[0] is knowledge:
        plan: Plan = made[1]
        return plan
    plan = build_plan(document(contents, as_of=as_of), knowledge, as_of=as_of, season=season)
    if done := done_on(contents.journal, as_of, contents.garden.time_zone):
        plan = replace(plan, done=done)
    if len(contents.made) >= _MOST_PLANS:
        contents.made.clear()
    contents.made[as_of, season] = knowledge, plan
    return plan


def document(contents: Contents, *, as_of: date | None = None) -> Row:
    """A garden as the plan's schema would read it.

    With ``as_of`` what the journal says still grows does not end before that day, whatever was planned.
    """
    data = {**_lasting(contents), "plantings": [row for row, _ in planting_rows(contents, as_of=as_of)]}
    for key, rows in event_rows(contents.journal).items():
        data[key] = [row for row, _ in rows]
    return {key: value for key, value in data.items() if value}


def planned_document(contents: Contents) -> Row:
    """A garden as it was planned or first written down, without its journal."""
    data = {**_lasting(contents), "plantings": [typed_row(planting) for planting in contents.plantings]}
    return {key: value for key, value in data.items() if value}


def _lasting(contents: Contents) -> Row:
    """What the journal says nothing about."""
    return {
        "garden": typed_row(contents.garden),
        "crops": [typed_row(crop) for crop in contents.crops],
        "beds": bed_rows(contents),
    }


def bed_rows(contents: Contents) -> list[Row]:
    """The beds, each with the ground that it took over."""
    taken: dict[str, list[Row]] = {}
    for ground in contents.grounds:
        taken.setdefault(ground.newer, []).append(typed_row(ground))
    rows = []
    for bed in contents.beds:
        row = typed_row(bed)
        if bed.id in taken:
            row["replaces"] = taken[bed.id]
        rows.append(row)
    return rows


def planting_rows(contents: Contents, *, as_of: date | None = None) -> list[tuple[Row, Planting]]:
    """Rows of the plan with the planting that each is of: earlier attempts first, then what stands now.

    Plantings that went with the line that made them are left out.
    """
    states_ = states(contents.plantings, contents.journal, contents.garden.latitude)
    taken = {planting.id for planting in contents.plantings}
    gone = withdrawn(contents.plantings, contents.journal)
    rows: list[tuple[Row, Planting]] = []
    for planting in contents.plantings:
        if planting.id in gone:
            continue
        state = states_[planting.id]
        row = _row(planting, state, as_of, contents.journal.known)
        for number, attempt in enumerate(state.attempts, 1):
            name = short_id(f"{planting.id}.lost{number}", taken)
            taken.add(name)
            earlier: Row = {key: row[key] for key in ("bed", "part", "crop", "variety", "replaces") if key in row}
            earlier |= {"id": name, "start": attempt.start, "end": attempt.end, "status": "lost"}
            if attempt.cause is not None:
                earlier["cause"] = attempt.cause
            rows.append((earlier, planting))
            row["replaces"] = name
        rows.append((row, planting))
    return rows


def _row(planting: Planting, state: State, as_of: date | None, known: dict[Any, Any]) -> Row:
    """A planting as it stands; made once for the same row and state."""
    key = planting.id, as_of is None
    before = known.get(key)
    if before is None or before[0] is not planting or before[1] is not state or before[2] != as_of:
        row = typed_row(planting)
        for name, value in zip(_STATE, _told(state, as_of), strict=True):
            row.pop(name, None)
            if value is not None:
                row[name] = value
        before = known[key] = planting, state, as_of, row
    return dict(before[3])


def _told(state: State, as_of: date | None) -> tuple[Any, ...]:
    """What a state says of each of the keys of ``_STATE``."""
    end = state.end
    if as_of is not None and state.told and state.status == "growing" and end is not None and end < as_of:
        state = state._replace(end=None)
    return _VALUES(state)
