"""A garden out of the store as a document in the plan's format.

What the format has no words for (notes, waterings, what was planned before it came otherwise, who
took back what) travels under ``x-record``, which every reader of plans passes over.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from rules.model import FrostDate
from service.journalrows import event_rows, typed_line, withdrawn
from service.mapping import bed_rows, document, planting_rows
from service.store.repository import Contents
from service.store.rows import typed_row
from service.store.tables import Planting

Row = dict[str, Any]
RECORD = "x-record"
#: What a planting's plan was before the journal spoke, where that differs.
PLANNED = ("season", "start", "end", "first_harvest", "status", "cause", "count", "replaces")


def export(contents: Contents) -> Row:
    """A garden as a document of plain values, ready for JSON; importing it gives the same garden."""
    told = document(contents)
    rows = planting_rows(contents)
    outgoing: Row = {"format": 1, "garden": told["garden"]} if "garden" in told else {"format": 1}
    outgoing["crops"] = [with_extra(typed_row(crop), crop.extra) for crop in contents.crops]
    outgoing["beds"] = [with_extra(row, bed.extra) for row, bed in zip(bed_rows(contents), contents.beds, strict=True)]
    outgoing["plantings"] = [with_extra(row, planting.extra) for row, planting in rows]
    for key, events in event_rows(contents.journal).items():
        outgoing[key] = [with_extra(row, entry.extra) for row, entry in events]
    outgoing = {key: plain(value) for key, value in outgoing.items() if value}
    outgoing = with_extra(outgoing, contents.garden.extra)
    if contents.journal:
        outgoing[RECORD] = _record(contents, rows)
    return outgoing


def _record(contents: Contents, rows: Sequence[tuple[Row, Planting]]) -> Row:
    numbers = {entry.id: number for number, entry in enumerate(contents.journal, 1)}
    journal = []
    for entry in contents.journal:
        line = typed_line(entry)
        if entry.corrects is not None:
            line["corrects"] = numbers[entry.corrects]
        journal.append(with_extra({**plain(line), "recorded": entry.recorded_at.isoformat()}, entry.extra))
    gone = withdrawn(contents.plantings, contents.journal)
    known = {planting.id for planting in contents.plantings}
    planned = {}
    for row, planting in rows:
        if row["id"] == planting.id:
            before = {key: value for key, value in typed_row(planting).items() if key in PLANNED}
            if before != {key: value for key, value in row.items() if key in PLANNED}:
                planned[planting.id] = plain(before)
    record: Row = {"journal": journal, "planned": planned}
    record["attempts"] = [row["id"] for row, _ in rows if row["id"] not in known]
    record["withdrawn"] = [with_extra(plain(typed_row(p)), p.extra) for p in contents.plantings if p.id in gone]
    return {key: value for key, value in record.items() if value}


def plain(value: Any) -> Any:
    """Typed values as the document writes them."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, FrostDate):
        days = {key: f"{day[0]:02}-{day[1]:02}" for key in ("p10", "p50", "p90") if (day := getattr(value, key))}
        return days["p50"] if len(days) == 1 else days
    if isinstance(value, Mapping):
        return {key: _point(entry) if key == "position" else plain(entry) for key, entry in value.items()}
    return [plain(entry) for entry in value] if isinstance(value, list | tuple) else value


def _point(value: Any) -> Any:
    return {"x": value[0], "y": value[1]} if isinstance(value, tuple) else plain(value)


def with_extra(row: Row, extra: Mapping[str, Any] | None) -> Row:
    """A row with its x- keys; in a mapping that is no longer there they have no place."""
    mixed = dict(row)
    for key, value in (extra or {}).items():
        if key.startswith("x-"):
            mixed[key] = value
        elif isinstance(mixed.get(key), Mapping):
            mixed[key] = with_extra(mixed[key], value)
    return mixed
