"""Plantings of a stored garden as a sheet (CSV), out and in."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.access import garden_for
from service.negotiate import CSV, body_bytes, body_type
from service.openapi_doc import describe, problems
from service.plantingsheet import import_plantings, marked, plantings_csv
from service.record import Record
from service.resources.door import ALWAYS, KEY, SECURITY, RecordBlueprint
from service.resources.planning import file_name
from service.resources.recorded import contents_of, derived, seen
from service.resources.writing import answer, write
from service.schemas.query import Query
from service.schemas.sheets import AddedSchema, SheetQuery
from service.store.once import Answer

sheets = RecordBlueprint("sheets", __name__, description="Plantings of a stored garden as a sheet (CSV).")

_PATH = "/v1/gardens/<garden>/plantings.csv"
_TEXT = {"type": "string"}


@sheets.route(_PATH)
@sheets.arguments(SheetQuery(), location="query")
@sheets.doc(operationId="exportPlantings", security=SECURITY)
@describe(
    sheets.alt_response(200, schema=_TEXT, content_type=CSV, description="A row for each planting.", success=True),
    *problems(sheets, 304, 400, *ALWAYS),
)
def take_out(query: dict[str, Any], garden: str) -> Response:
    """Export plantings as a sheet

    As they stand, with what the journal says of each. Brought into a garden with the same beds, the
    sheet gives the same plantings. It is made for a spreadsheet; a program asks for `formulas=kept`.
    """
    there = seen(garden, "garden_read")
    defuse = query["formulas"] == "defused"

    def sheet() -> bytes:
        told = plantings_csv(contents_of(garden, "garden_read"), defuse=defuse)
        return marked(told) if defuse else told.encode()

    found = derived(there, sheet, CSV)
    found.headers["Content-Disposition"] = f'attachment; filename="{file_name(there.name)}.csv"'
    return found


@sheets.route(_PATH, methods=["POST"])
@sheets.arguments(Query(), location="query")
@sheets.doc(
    operationId="importPlantings",
    security=SECURITY,
    parameters=[KEY],
    requestBody={"required": True, "content": {CSV: {"schema": _TEXT, "example": "bed,crop,season\nkiln,kale,2027\n"}}},
)
@describe(
    sheets.alt_response(201, schema=AddedSchema, description="What was added.", success=True),
    *problems(sheets, *sorted({400, 409, 413, 415, 422, *ALWAYS})),
)
def bring_in(query: dict[str, Any], garden: str) -> Response:
    """Import plantings from a sheet

    All rows or none: every bad row is named by line and column. Beds go by id or name and must be on
    record; commas, semicolons or tabs may stand between cells.
    """
    garden_for("garden_write", garden)
    body_type((CSV,))
    body = body_bytes(keep=True)

    def work(record: Record) -> Answer:
        ids = [planting.id for planting in import_plantings(record, body)]
        return answer({"added": len(ids), "plantings": ids}, 201, location=f"/v1/gardens/{garden}/plantings")

    return write(garden, work)
