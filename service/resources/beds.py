"""Beds of a stored garden, and its crops from outside the catalogue."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from flask import Response

from service.access import garden_for
from service.encode import to_bytes
from service.exporting import plain
from service.mapping import bed_rows
from service.record import Record
from service.resources.door import RecordBlueprint, adds, changes, reads, removes
from service.resources.gardens import told
from service.resources.recorded import contents_of, derived, seen
from service.resources.writing import answer, gone, loaded, patch_sent, patched, sent, wanted_version, write
from service.schemas.knowledge import page_of
from service.schemas.plan import BedSchema, OwnCropSchema
from service.schemas.query import Query
from service.schemas.stored import BedRowSchema, CropRowSchema
from service.store.errors import NotFound, Stale
from service.store.once import Answer
from service.store.repository import Contents
from service.store.rows import typed_row
from service.store.tables import Bed

beds = RecordBlueprint("beds", __name__, description="Beds of a stored garden, and crops of its own.")

_PATH = "/v1/gardens/<garden>/beds"


@beds.route(_PATH)
@beds.arguments(Query(), location="query")
@reads(beds, "listBeds", page_of(BedRowSchema), "The beds, in the order in which they were written down.")
def every(query: dict[str, Any], garden: str) -> Response:
    """List beds"""
    there = seen(garden, "publishable_read")

    def page() -> bytes:
        return to_bytes({"items": _rows(contents_of(garden, "publishable_read")), "next": None})

    return derived(there, page)


@beds.route(_PATH, methods=["POST"])
@beds.arguments(Query(), location="query")
@adds(beds, "addBed", BedSchema, BedRowSchema, "The new bed.")
def add(query: dict[str, Any], garden: str) -> Response:
    """Add a bed

    `replaces` names earlier beds whose ground it stands on: their history is its own.
    """
    garden_for("garden_write", garden)
    raw = sent()

    def work(record: Record) -> Answer:
        row = record.add_bed(loaded(BedSchema(), raw))
        return answer(
            _row(record, row), 201, version=row.version, location=f"/v1/gardens/{garden}/beds/{quote(row.id)}"
        )

    return write(garden, work)


@beds.route(f"{_PATH}/<bed>")
@beds.arguments(Query(), location="query")
@reads(beds, "readBed", BedRowSchema, "The bed.")
def one(query: dict[str, Any], garden: str, bed: str) -> Response:
    """Read a bed"""
    rows = _rows(contents_of(garden, "publishable_read"))
    row = next((row for row in rows if row["id"] == bed), None)
    if row is None:
        raise NotFound("bed", bed)
    return told(row, version=row["version"])


@beds.route(f"{_PATH}/<bed>", methods=["PATCH"])
@beds.arguments(Query(), location="query")
@changes(beds, "changeBed", BedSchema, BedRowSchema, "The bed as it is now.")
def change(query: dict[str, Any], garden: str, bed: str) -> Response:
    """Change a bed"""
    garden_for("garden_write", garden)
    raw, version = patch_sent(), wanted_version()

    def work(record: Record) -> Answer:
        before = record.repository.bed(garden, bed)
        row = record.change_bed(bed, patched(BedSchema(), before, raw), version=version)
        return answer(_row(record, row), version=row.version)

    return write(garden, work)


@beds.route(f"{_PATH}/<bed>", methods=["DELETE"])
@beds.arguments(Query(), location="query")
@removes(beds, "removeBed")
def remove(query: dict[str, Any], garden: str, bed: str) -> Response:
    """Take a bed away

    Only one that nothing grew in; give any other its last day (`until`).
    """
    garden_for("garden_write", garden)
    version = wanted_version()

    def work(record: Record) -> Answer:
        record.repository.remove_bed(garden, bed, version=version)
        return gone()

    return write(garden, work)


@beds.route("/v1/gardens/<garden>/crops")
@beds.arguments(Query(), location="query")
@reads(beds, "listOwnCrops", page_of(CropRowSchema), "The garden's own crops.")
def own_crops(query: dict[str, Any], garden: str) -> Response:
    """List the garden's own crops"""
    rows = [plain(typed_row(crop)) for crop in contents_of(garden, "publishable_read").crops]
    return told({"items": rows, "next": None})


@beds.route("/v1/gardens/<garden>/crops", methods=["POST"])
@beds.arguments(Query(), location="query")
@adds(beds, "addOwnCrop", OwnCropSchema, CropRowSchema, "The new crop.")
def add_crop(query: dict[str, Any], garden: str) -> Response:
    """Add a crop of the garden's own

    One outside the catalogue, with the family that it is judged by.
    """
    garden_for("garden_write", garden)
    raw = sent()

    def work(record: Record) -> Answer:
        row = record.add_crop(loaded(OwnCropSchema(), raw))
        return answer(plain(typed_row(row)), 201, location=f"/v1/gardens/{garden}/crops")

    return write(garden, work)


@beds.route("/v1/gardens/<garden>/crops/<crop>", methods=["DELETE"])
@beds.arguments(Query(), location="query")
@removes(beds, "removeOwnCrop")
def remove_crop(query: dict[str, Any], garden: str, crop: str) -> Response:
    """Take a crop of the garden's own away

    Refused while a planting names it. It has no version, so `If-Match: *` will do.
    """
    garden_for("garden_write", garden)
    if wanted_version() is not None:
        raise Stale

    def work(record: Record) -> Answer:
        record.remove_crop(crop)
        return gone()

    return write(garden, work)


def _rows(contents: Contents) -> list[dict[str, Any]]:
    return [{**plain(row), "version": bed.version} for row, bed in zip(bed_rows(contents), contents.beds, strict=True)]


def _row(record: Record, bed: Bed) -> dict[str, Any]:
    return next(row for row in _rows(record.contents()) if row["id"] == bed.id)
