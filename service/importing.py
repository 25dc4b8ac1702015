"""A garden into the store from a document in the plan's format: all of it or none.

A document that was exported brings its journal along (``x-record``); in any other the journal
begins with what the plan's own lists say.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from rules.reading import PlanFaults, build_plan
from service.exporting import PLANNED, RECORD, Row
from service.journalrows import LISTS, columns, line_of
from service.lines import name_faults
from service.mapping import document, planned_document
from service.places import place_of, remembering
from service.reading import Kind, PlanError, PlanRejected, parse, pointer, read_plan
from service.schemas.record import RecordSchema, record_faults
from service.store.errors import Conflict
from service.store.journal import Journal
from service.store.keys import short_id
from service.store.repository import Contents, Repository
from service.store.rows import fill, typed_row
from service.store.tables import Bed, Entry, Garden, Ground, OwnCrop, Planting

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

#: Lists that the record says as well, so that both must agree.
_TOLD_TWICE = ("plantings", *LISTS)
_LISTED = ("as_of", "judge", "crops", "beds", "plantings", *LISTS)


def read_garden(
    body: bytes, kind: Kind, *, knowledge: Knowledge, today: Callable[[str | None], date], now: datetime
) -> Contents:
    """The garden that a document describes, not stored yet.

    Raises
    ------
    service.reading.Unreadable
        when the bytes are no document.
    service.reading.PlanRejected
        with every fault, each by its place.
    """
    kept: list[Row] = []
    plan = read_plan(body, kind, today=today, knowledge=knowledge, build_plan=remembering(kept))
    raw, data = parse(body, kind)[0], kept[0]
    try:
        json.dumps(raw, allow_nan=False)
    except ValueError:  # only under x- keys: elsewhere the schema has bounds
        raise PlanRejected([PlanError("", "a key starting x- holds a number that is too large to keep")], 1) from None
    # Rows without an id are named as the plan names them, so that what points at them still does.
    names = {place_of(planting): planting.id for planting in plan.plantings}
    given = {row["id"] for row in data.get("plantings") or () if "id" in row}
    for place, row in enumerate(data.get("plantings") or ()):
        if "id" not in row:
            row["id"] = short_id(names[place], given)
            given.add(row["id"])
    record = _read_record(raw.get(RECORD))
    contents = _contents(data, raw, record, now)
    if record is not None:
        _sound(contents, record, knowledge, plan.as_of)
        _agree(data, contents)
    return contents


def store_garden(
    repository: Repository, contents: Contents, *, club_id: str, into: str | None = None, now: datetime
) -> Garden:
    """Put a garden that was read into the store: a new one, or into one of the club's that is empty.

    Raises
    ------
    Conflict
        when the garden is not empty.
    NotFound
        for a club or garden that is not there.
    """
    session, typed, extra = repository.session, typed_row(contents.garden), contents.garden.extra
    if into is None:
        garden = repository.add_garden(club_id, typed, now=now, extra=extra)
    else:
        repository.touch(into)
        garden = repository.garden(into, club_id=club_id)
        if not repository.is_empty(into):
            raise Conflict("This garden has beds or a journal already. Import into a new one.")
        fill(garden, {key: typed.get(key) for key in Garden.KEYS})
        garden.extra = extra
    for rows in (contents.crops, contents.beds, contents.grounds, contents.plantings):
        for row in rows:
            row.garden_id = garden.id
        session.add_all(rows)
        session.flush()
    ids: dict[int, int] = {}
    pending: list[tuple[int, Entry]] = []

    def put() -> None:
        session.add_all(entry for _, entry in pending)
        session.flush()
        ids.update((number, entry.id) for number, entry in pending)
        pending.clear()

    for entry in contents.journal:
        number, entry.garden_id = entry.id, garden.id
        entry.id = None  # type: ignore[assignment]  # the store numbers its lines itself
        if entry.corrects is not None:
            if entry.corrects not in ids:
                put()
            entry.corrects = ids[entry.corrects]
        pending.append((number, entry))
    put()
    return garden


def _contents(data: Row, raw: Mapping[str, Any], record: Row | None, now: datetime) -> Contents:
    rows = data.get("plantings") or ()
    beds = data.get("beds") or [{"id": bed} for bed in sorted({row["bed"] for row in rows})]
    garden = fill(Garden(version=1, revision=1, created_at=now), data.get("garden") or {})
    garden.extra = _extra({key: value for key, value in raw.items() if key not in _LISTED}, RECORD)
    earlier = set(record.get("attempts") or ()) if record else set()
    planned = (record.get("planned") or {}) if record else {}
    plantings = []
    for place, row in enumerate(rows):
        if row["id"] in earlier:
            continue
        if row["id"] in planned:
            row = {**{key: value for key, value in row.items() if key not in PLANNED}, **planned[row["id"]]}
        planting = Planting(place=place, version=1, extra=_extra_of(raw, "plantings", place))
        plantings.append(fill(planting, row))
    for place, row in enumerate(record.get("withdrawn") or () if record else ()):
        extra = _extra_of(raw[RECORD], "withdrawn", place)
        plantings.append(fill(Planting(place=len(rows) + place, version=1, extra=extra), row))
    grounds = [
        fill(Ground(newer=bed["id"], place=place), older)
        for bed in beds
        for place, older in enumerate(bed.get("replaces") or ())
    ]
    return Contents(
        garden,
        [
            fill(OwnCrop(place=i, extra=_extra_of(raw, "crops", i)), row)
            for i, row in enumerate(data.get("crops") or ())
        ],
        [fill(Bed(place=i, version=1, extra=_extra_of(raw, "beds", i)), row) for i, row in enumerate(beds)],
        grounds,
        plantings,
        Journal(
            Entry(id=number, **{"recorded_at": now, **columns(line), "extra": extra})
            for number, (line, extra) in enumerate(_lines(data, raw, record), 1)
        ),
    )


def _lines(data: Row, raw: Mapping[str, Any], record: Row | None) -> Iterator[tuple[Row, Any]]:
    """The lines of the journal: those of the record, or what the plan's own lists say."""
    if record is not None:
        for i, line in enumerate(record.get("journal") or ()):
            yield line, _extra_of(raw[RECORD], "journal", i)
        return
    for key in LISTS:
        for i, row in enumerate(data.get(key) or ()):
            yield line_of(key, row), _extra_of(raw, key, i)


def _read_record(raw: Any) -> Row | None:
    if raw is None:
        return None
    faults = record_faults(raw)
    if faults:
        errors = [PlanError(pointer((RECORD, *path)), detail) for path, detail in faults]
        raise PlanRejected(errors[:100], len(errors))
    loaded: Row = RecordSchema().load(raw)
    return loaded


def _sound(contents: Contents, record: Row, knowledge: Knowledge, as_of: date) -> None:
    """The lines name what is there, and what was planned is a plan without them too."""
    beds, plantings = {bed.id for bed in contents.beds}, {p.id: p.bed for p in contents.plantings}
    errors = [
        PlanError(pointer((RECORD, "journal", i, key)), detail)
        for i, line in enumerate(record.get("journal") or ())
        for key, detail in name_faults(line, beds, plantings, knowledge)
    ]
    try:
        build_plan(planned_document(contents), knowledge, as_of=as_of)
    except PlanFaults as found:
        errors += [PlanError(pointer((RECORD, "planned")), fault.detail) for fault in found.faults]
    if errors:
        raise PlanRejected(errors[:100], len(errors))


def _agree(data: Row, contents: Contents) -> None:
    """The plan says what the record says, row by row; else which of the two was meant is not known."""
    said = document(contents)
    errors = []
    for key in _TOLD_TWICE:
        ours, theirs = said.get(key) or [], data.get(key) or []
        if len(ours) != len(theirs):
            detail = f"{RECORD} tells of {len(ours):,} and the plan of {len(theirs):,}; leave out {RECORD} or mend one"
            errors.append(PlanError(pointer((key,)), detail))
        errors += [
            PlanError(pointer((key, i)), f"{RECORD} says otherwise; leave out {RECORD} or mend one of the two")
            for i, (one, other) in enumerate(zip(ours, theirs, strict=False))
            if one != other
        ]
    if errors:
        raise PlanRejected(errors[:100], len(errors))


# Keys that start with x-: carried and never looked at.


def _extra(raw: Any, *without: str) -> Row | None:
    """The x- keys of a mapping and of the mappings in it."""
    if not isinstance(raw, Mapping):
        return None
    found: Row = {}
    for key, value in raw.items():
        if key.startswith("x-"):
            if key not in without:
                found[key] = value
        elif (inner := _extra(value)) is not None:
            found[key] = inner
    return found or None


def _extra_of(raw: Mapping[str, Any], key: str, place: int) -> Row | None:
    rows = raw.get(key)
    return _extra(rows[place]) if isinstance(rows, list) and place < len(rows) else None
