"""Plantings of a stored garden as a sheet (CSV), out and in: all rows of it or none.

The columns are those of a batch, without the garden's name and what a batch says of beds.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from marshmallow import ValidationError

from rules.reading import PlanFaults, build_plan
from service.batch.columns import PLANTING, VARIETY, SheetRejected, read_header
from service.batch.documents import as_in_a_sheet, planting_of
from service.batch.gardens import Fault, rows
from service.batch.records import BOM, Records, lines, text_of
from service.mapping import document, planned_document, planting_rows
from service.reading import MOST_ERRORS, MOST_SUGGESTIONS, PlanError, PlanRejected, flat, pointer
from service.schemas.plan import MOST_PLANTINGS, PlantingSchema
from service.schemas.words import did_you_mean, shown, suggestions
from service.store.keys import short_id
from service.store.repository import Contents
from service.store.rows import fill
from service.store.tables import Planting
from service.tables import RISKY

if TYPE_CHECKING:
    from service.record import Record

Row = dict[str, Any]
COLUMNS = ("bed", *PLANTING, *VARIETY)
_NEEDED = (("bed",), ("crop",), ("season", "start"))
_SCHEMA = PlantingSchema()
#: An id for the bed of a row that names none, so that the rest of the row is read.
_NOWHERE = "nowhere"


# -- out


def plantings_csv(contents: Contents, *, defuse: bool = True) -> str:
    """The plantings as they stand, one row each (RFC 4180); reading it back gives the same rows.

    With ``defuse`` a cell that a spreadsheet would run as a formula has an apostrophe before it.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row, _ in planting_rows(contents):
        variety = row.get("variety") or {}
        flat_row = {**row, "variety": variety.get("name"), **{key: variety.get(key) for key in VARIETY[1:]}}
        writer.writerow([_quoted(_cell(flat_row.get(column)), defuse) for column in COLUMNS])
    return out.getvalue()


def marked(sheet: str) -> bytes:
    """A sheet as a file for spreadsheets: without the mark at its beginning some take UTF-8 for an old encoding."""
    return BOM + sheet.encode()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        text = format(Decimal(repr(value)), "f")
        return text.removesuffix(".0")
    if isinstance(value, tuple):  # a share of the bed
        return "-".join(map(_cell, value))
    return "; ".join(value) if isinstance(value, list) else str(value)


def _quoted(cell: str, defuse: bool) -> str:
    """The cell, so that ``_unquoted`` gives it back whatever it begins with."""
    risky = cell.lstrip("'").startswith(RISKY)
    return f"'{cell}" if risky and (defuse or cell.startswith("'")) else cell


def _unquoted(cell: str) -> str:
    return cell[1:] if cell.startswith("'") and cell.lstrip("'").startswith(RISKY) else cell


# -- in


def import_plantings(record: Record, body: bytes) -> list[Planting]:
    """Add the plantings of a sheet to a garden, in the record's transaction.

    Beds go by their id or their name.  A row without an id is named from its bed, crop and time.

    Raises
    ------
    PlanRejected
        naming every bad row: ``line`` and ``column`` count from 1, ``pointer`` holds the column's name.
        The caller's transaction must then end without a trace.
    """
    record.hold()
    contents = record.contents()
    with suggestions(MOST_SUGGESTIONS):
        sheet = _Sheet(body, contents)
        sound = sheet.sound()
        taken = {planting.id for planting in contents.plantings} | {row["id"] for row in sound if "id" in row}
        for row in sound:
            if "id" not in row:
                row["id"] = short_id(record.name_of(row), taken)
                taken.add(row["id"])
        place = max((planting.place for planting in contents.plantings), default=-1) + 1
        added = [
            fill(Planting(garden_id=record.garden_id, place=place + i, version=1), row) for i, row in enumerate(sound)
        ]
        if added:
            _whole(record, replace(contents, plantings=[*contents.plantings, *added]), sheet)
        if sheet.faults:
            raise sheet.rejected()
    record.repository.touch(record.garden_id)
    record.repository.session.add_all(added)
    record.repository.session.flush()
    return record.wrote(added)


def _whole(record: Record, contents: Contents, sheet: _Sheet) -> None:
    """The garden with its new rows can be read as a plan, as planned and as it stands; what is wrong is noted."""
    for data in (planned_document(contents), document(contents, as_of=record.today)):
        try:
            build_plan(data, record.knowledge, as_of=record.today)
        except PlanFaults as found:
            for fault in found.faults:
                sheet.blame(data, fault.path, fault.detail)


class _Sheet:
    """The rows of a sheet as the plan's schema reads them (``typed``), and every fault by line and column."""

    def __init__(self, body: bytes, contents: Contents) -> None:
        self.typed: list[Row] = []
        self.faults: list[Fault] = []
        self._lines: list[int] = []
        self._beds = _bed_names(contents)
        self._known = {planting.id for planting in contents.plantings}
        self._columns: tuple[str, ...] = ()
        source = lines(io.BytesIO(body))
        first = next((line for line in source if line.data is None or line.data.strip()), None)
        if first is None:
            self.faults.append((1, None, "there is nothing to read; send a sheet with a row of headings"))
            return
        try:
            header = read_header(text_of(first), COLUMNS, _NEEDED, first.number)
        except SheetRejected as found:
            self.faults += [(fault.line, None, fault.detail) for fault in found.faults]
            return
        self._columns = header.columns
        for (line, _, _), row, faults in rows(Records(source, header.delimiter), header):
            if len(self._lines) == MOST_PLANTINGS:
                self.faults.append((line, None, f"a sheet has at most {MOST_PLANTINGS:,} rows"))
                break
            self._lines.append(line)
            self.faults += faults
            self.typed.append({} if faults else self._read({key: _unquoted(cell) for key, cell in row.items()}, line))
        if not self._lines:
            self.faults.append((first.number, None, "there are headings and no rows; add a row for each planting"))
        self._look_up()

    def sound(self) -> list[Row]:
        """The rows with nothing against them so far: what else is wrong with those is to be told as well."""
        bad = {line for line, _, _ in self.faults}
        return [row for row, line in zip(self.typed, self._lines, strict=True) if line not in bad]

    def _read(self, row: Mapping[str, str], line: int) -> Row:
        planting = planting_of(row)
        if "bed" in row:
            bed = self._beds.get(row["bed"]) or self._beds.get(row["bed"].casefold())
            if bed is None:
                said = f"no bed is called {shown(row['bed'])}{did_you_mean(row['bed'], self._beds)}"
                self.faults.append((line, "bed", said))
            planting["bed"] = bed or _NOWHERE
        if "season" not in row and "start" not in row:
            self.faults.append((line, "season", "season or start is missing"))
        try:
            typed: Row = _SCHEMA.load(planting)
        except ValidationError as error:
            self.faults += [(line, _column(path), as_in_a_sheet(said)) for path, said in flat(error.messages, ())]
            return error.valid_data if isinstance(error.valid_data, dict) else {}
        return typed

    def _look_up(self) -> None:
        """The beds and plantings that rows name are there, and no id stands twice."""
        ids: dict[str, int] = {}
        for row, line in zip(self.typed, self._lines, strict=True):
            name = row.get("id")
            if name is not None and ids.setdefault(name, line) != line:
                self.faults.append((line, "id", f"the id {shown(name)} stands in line {ids[name]} already"))
            elif name in self._known:
                said = f"a planting with the id {shown(name)} is on record; leave the row out, or the id empty"
                self.faults.append((line, "id", said))
        for row, line in zip(self.typed, self._lines, strict=True):
            older = row.get("replaces")
            if older is not None and older not in self._known and older not in ids:
                said = f"no planting has the id {shown(older)}{did_you_mean(older, [*self._known, *ids])}"
                self.faults.append((line, "replaces", said))

    def blame(self, data: Row, path: Sequence[str | int], detail: str) -> None:
        """Note a fault of the whole garden, by the row that it is of where it is of one."""
        if path and path[-1] == "replaces" and any(row not in self.sound() for row in self.typed):
            return  # it may stand in a row that has a fault of its own
        key, place, *rest = [*path, None, None][: max(2, len(path))]
        group = data.get(str(key))
        row = group[place] if isinstance(group, list) and isinstance(place, int) else {}
        name = row.get("id")
        at = next((i for i, typed in enumerate(self.typed) if typed.get("id") == name), None)
        if key == "plantings" and at is not None:
            self.faults.append((self._lines[at], _column(rest), detail))
        else:
            self.faults.append((self._lines[0], None, f"{key} {name}: {detail}" if name else detail))

    def rejected(self) -> PlanRejected:
        """All faults in the order of the sheet."""
        faults = sorted(dict.fromkeys(self.faults), key=lambda fault: (fault[0], self._number(fault[1])))
        errors = [
            PlanError(pointer((column,)) if column else "", detail, line, self._number(column))
            for line, column, detail in faults
        ]
        return PlanRejected(errors[:MOST_ERRORS], len(errors))

    def _number(self, column: str | None) -> int:
        return self._columns.index(column) + 1 if column in self._columns else 1


def _column(path: Sequence[Any]) -> str | None:
    """The heading over what a path of a planting names."""
    steps = [step for step in path if isinstance(step, str)]
    return "variety" if steps[-1:] == ["name"] else steps[-1] if steps else None


def _bed_names(contents: Contents) -> dict[str, str]:
    """What a cell may call a bed, with its id: the id, or a name that only one bed has."""
    named: dict[str, set[str]] = {}
    for bed in contents.beds:
        if bed.name:
            for name in (bed.name, bed.name.casefold()):
                named.setdefault(name, set()).add(bed.id)
    only = {name: next(iter(ids)) for name, ids in named.items() if len(ids) == 1}
    return only | {bed.id: bed.id for bed in contents.beds}
