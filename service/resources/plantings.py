"""Plantings of a stored garden: planned keys are changed here, what became of them is logged."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import quote, urlencode

from flask import Response, request

from service.access import SCOPES, garden_for
from service.encode import to_bytes
from service.exporting import plain
from service.mapping import planting_rows
from service.record import Record, line_row
from service.resources.door import RecordBlueprint, adds, changes, reads, removes
from service.resources.gardens import told
from service.resources.recorded import contents_of, derived, seen
from service.resources.writing import answer, gone, loaded, patch_sent, patched, sent, wanted_version, write
from service.schemas.knowledge import page_of
from service.schemas.plan import PlantingSchema
from service.schemas.query import Query
from service.schemas.stored import AllQuery, PlantingRecordSchema, PlantingRowSchema
from service.store.errors import NotFound
from service.store.once import Answer
from service.store.repository import Contents
from service.store.tables import Planting

plantings = RecordBlueprint("plantings", __name__, description="Plantings of a stored garden.")

_PATH = "/v1/gardens/<garden>/plantings"
#: The number of what stands among the rows of its planting; attempts have those before.
_STANDS = 999


@plantings.route(_PATH)
@plantings.arguments(AllQuery(), location="query")
@reads(plantings, "listPlantings", page_of(PlantingRowSchema), "One page of plantings.")
def every(query: dict[str, Any], garden: str) -> Response:
    """List plantings

    As they stand: what the journal says became of each is worked in. Attempts that were lost and
    resown are rows of their own.
    """
    there = seen(garden, "publishable_read")

    def page() -> bytes:
        contents = contents_of(garden, "publishable_read")
        return to_bytes(_page(contents, query, f"/v1/gardens/{garden}/plantings"))

    return derived(there, page)


@plantings.route(_PATH, methods=["POST"])
@plantings.arguments(Query(), location="query")
@adds(plantings, "addPlanting", PlantingSchema, PlantingRowSchema, "The new planting.")
def add(query: dict[str, Any], garden: str) -> Response:
    """Add a planting

    Planned, or from the past. Without an id it is named from its bed, crop and time.
    """
    garden_for("garden_write", garden)
    raw = sent()

    def work(record: Record) -> Answer:
        row = record.add_planting(loaded(PlantingSchema(), raw))
        where = f"/v1/gardens/{garden}/plantings/{quote(row.id)}"
        return answer(_row(record.contents(), row.id), 201, version=row.version, location=where)

    return write(garden, work)


@plantings.route(f"{_PATH}/<planting>")
@plantings.arguments(Query(), location="query")
@reads(plantings, "readPlanting", PlantingRecordSchema, "The planting.")
def one(query: dict[str, Any], garden: str, planting: str) -> Response:
    """Read a planting

    With all that was logged about it, which a publishable token is not shown.
    """
    asked = garden_for("publishable_read", garden)
    contents = contents_of(garden, "publishable_read")
    row = _row(contents, planting)
    if SCOPES.index(asked.scope) >= SCOPES.index("garden_read"):
        row["journal"] = [plain(line_row(line)) for line in contents.journal if line.planting == planting]
    return told(row, version=row["version"])


@plantings.route(f"{_PATH}/<planting>", methods=["PATCH"])
@plantings.arguments(Query(), location="query")
@changes(plantings, "changePlanting", PlantingSchema, PlantingRowSchema, "The planting as it is now.")
def change(query: dict[str, Any], garden: str, planting: str) -> Response:
    """Change a planting

    Planned keys only: what happened is logged in the journal.
    """
    garden_for("garden_write", garden)
    raw, version = patch_sent(), wanted_version()

    def work(record: Record) -> Answer:
        before = record.repository.planting(garden, planting)
        row = record.change_planting(planting, patched(PlantingSchema(), before, raw), version=version)
        return answer(_row(record.contents(), planting), version=row.version)

    return write(garden, work)


@plantings.route(f"{_PATH}/<planting>", methods=["DELETE"])
@plantings.arguments(Query(), location="query")
@removes(plantings, "removePlanting")
def remove(query: dict[str, Any], garden: str, planting: str) -> Response:
    """Take a planting away

    Only one that nothing was logged about; log any other as lost or cleared.
    """
    garden_for("garden_write", garden)
    version = wanted_version()

    def work(record: Record) -> Answer:
        record.repository.remove_planting(garden, planting, version=version)
        return gone()

    return write(garden, work)


def _page(contents: Contents, query: dict[str, Any], path: str) -> dict[str, Any]:
    """A page of rows, and the address of the next one: the cursor is the place of the last row that was told.

    What is added or taken away meanwhile moves no other row, so that none is told twice or left out.
    """
    bed, after, most = query.get("bed"), int(query.get("cursor", -1)), query["limit"]
    if bed is not None and all(bed != one.id for one in contents.beds):
        raise NotFound("bed", bed)
    rows = [(at, row, p) for at, row, p in _placed(contents) if at > after and bed in (None, p.bed)]
    items = [_told(row, planting) for _, row, planting in rows[:most]]
    if len(rows) <= most:
        return {"items": items, "next": None}
    on = urlencode({**query, "cursor": rows[most - 1][0]})
    return {"items": items, "next": f"{request.script_root}{path}?{on}"}


def _placed(contents: Contents) -> Iterator[tuple[int, dict[str, Any], Planting]]:
    """Rows with the place that each keeps: that of its planting, earlier attempts by number, what stands last."""
    number = 0
    for row, planting in planting_rows(contents):
        number = _STANDS if row["id"] == planting.id else min(number + 1, _STANDS - 1)
        yield planting.place * (_STANDS + 1) + number, row, planting
        number %= _STANDS


def _told(row: dict[str, Any], planting: Planting) -> dict[str, Any]:
    return {**plain(row), "version": planting.version}


def _row(contents: Contents, planting: str) -> dict[str, Any]:
    row = next((_told(row, of) for row, of in planting_rows(contents) if row["id"] == planting), None)
    if row is None:
        raise NotFound("planting", planting)
    return row
