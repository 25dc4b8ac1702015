"""From the rows of one garden, and what all gardens share, to the plan document that they stand for.

Everything after this is the ordinary way of a plan: its schema, ``build_plan``, the check.  ``Sheet``
remembers which cell each part of the document came from, so that a fault is told by line and column.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Any
from zlib import crc32

from service.batch.columns import BED, READERS, VARIETY
from service.batch.gardens import GardenRows
from service.schemas.fields import Slug

#: Keys of a plan document under other headings.
_HEADINGS = {"name": "variety", "position": "x"}
_IN_A_SHEET = (
    ("such as [0, 0.5]", "such as 0-0.5"),
    ("can be given under 'crops' with its family", "can be given in the site document, under 'crops', with its family"),
)
_BED = frozenset(BED)
_NOT_PLANTING = _BED | {*VARIETY, "bed"}


class Sheet:
    """The document of one garden of a sheet; ``faults`` are those that no document can show."""

    def __init__(
        self, item: GardenRows, site: Mapping[str, Any] | None, sightings: Sequence[Mapping[str, Any]]
    ) -> None:
        self.item, self.sightings = item, sightings
        self.faults = list(item.faults)
        self.beds: dict[str, dict[str, Any]] = {}
        self._cells: dict[str, dict[str, int]] = {}
        self._ids: dict[str, str] = {}  # what cells say, as written and as casefolded id, to the bed's id
        spoiled = {line for line, _, _ in item.faults}
        self.plantings = []
        self._lines = []
        for row, line in zip(item.rows, item.lines, strict=True):
            if line not in spoiled:
                self.plantings.append(self._planting(row, line))
                self._lines.append(line)
        self.document = shared_with(
            {
                "garden": {"name": item.name},
                "beds": list(self.beds.values()),
                "plantings": self.plantings,
                "sightings": [self._sighting(row) for row in sightings],
            },
            site,
        )

    def _planting(self, row: Mapping[str, str], line: int) -> dict[str, Any]:
        planting = planting_of(row)
        if "bed" in row:
            planting["bed"] = self._bed(row["bed"], line)
            if not _BED.isdisjoint(row):
                self._of_bed(planting["bed"], row, line)
        return planting

    def _bed(self, text: str, line: int) -> str:
        """The id of the bed that a cell names; people write "North bed" where a plan has an id and a name."""
        known = self._ids.get(text)
        if known is None:
            known = self._ids[text] = self._ids.setdefault(bed_id(text).casefold(), bed_id(text))
            if known not in self.beds:
                self.beds[known] = {"id": known} if known == text else {"id": known, "name": text}
                self._cells[known] = {"id": line}
        return known

    def _of_bed(self, bed: str, row: Mapping[str, str], line: int) -> None:
        """What a row says of its bed; the same as every other row that says it."""
        told, lines = self.beds[bed], self._cells[bed]
        position = dict(told.get("position", ()))
        for column in BED:
            if column not in row:
                continue
            value = READERS[column](row[column]) if column in READERS else row[column]
            place = position if column in ("x", "y") else told
            if place.setdefault(column, value) != value:
                detail = f"{column} is {row[column]} here and {place[column]} in line {lines[column]}; they must agree"
                self.faults.append((line, column, detail))
            lines.setdefault(column, line)
        if position:
            told["position"] = position

    def _sighting(self, row: Mapping[str, Any]) -> dict[str, Any]:
        seen = seen_in(row)
        if "bed" in seen:
            seen["bed"] = self._ids.get(seen["bed"]) or self._ids.get(bed_id(seen["bed"]).casefold(), seen["bed"])
        return seen

    def place(self, path: Sequence[str | int]) -> dict[str, Any]:
        """The line and the column that a path of the document came from."""
        key, row, *rest = [*path, "", ""]
        names = [name for name in rest if isinstance(name, str) and name]
        column = names[-1] if names else None
        if key == "plantings" and isinstance(row, int) and row < len(self._lines):
            return _place(self._lines[row], _HEADINGS.get(column or "", column))
        if key == "sightings" and isinstance(row, int) and row < len(self.sightings):
            return {"sheet": "sightings", **_place(self.sightings[row]["line"], column)}
        if key == "beds" and isinstance(row, int) and row < len(self.beds):
            lines = self._cells[list(self.beds)[row]]
            column = "bed" if column in (None, "id", "name") else _HEADINGS.get(column or "", column)
            return _place(lines.get(column or "", lines["id"]), column)
        return _place(self.item.line, "garden" if tuple(path) == ("garden", "name") else None)


def planting_of(row: Mapping[str, str]) -> dict[str, Any]:
    """The planting of a document that a row's cells stand for, without its bed."""
    planting: dict[str, Any] = {}
    variety: dict[str, Any] = {}
    for column, text in row.items():
        read = READERS.get(column)
        value = read(text) if read else text
        if column not in _NOT_PLANTING:
            planting[column] = value
        elif column in VARIETY:
            variety["name" if column == "variety" else column] = value
    if variety:
        planting["variety"] = variety
    return planting


def seen_in(row: Mapping[str, Any]) -> dict[str, Any]:
    """The sighting of a document that a row of the second sheet stands for."""
    cells = ((key, value) for key, value in row.items() if key not in ("line", "garden"))
    return {key: READERS[key](value) if key in READERS else value for key, value in cells}


def _place(line: int, column: str | None) -> dict[str, Any]:
    return {"line": line, "column": column} if column else {"line": line}


def as_in_a_sheet(detail: str) -> str:
    """A fault's words as they are right for a cell."""
    for plan, sheet in _IN_A_SHEET:
        detail = detail.replace(plan, sheet)
    return detail


def bed_id(text: str) -> str:
    """A bed's id from what people call it; text that is an id already stays as it is.

    >>> bed_id("kiln"), bed_id("North bed (old)")
    ('kiln', 'north-bed-old')
    """
    if Slug.form.fullmatch(text):
        return text
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9_.]+", "-", plain).strip("-._")[:64] or f"bed-{crc32(text.encode('utf-8', 'replace')):08x}"


def shared_with(document: Any, site: Mapping[str, Any] | None) -> Any:
    """A plan document with what its site says wherever it says nothing itself."""
    if not site or not isinstance(document, dict):
        return document
    merged = {**{key: site[key] for key in ("as_of", "judge") if site.get(key)}, **document}
    garden, crops = document.get("garden"), document.get("crops")
    if isinstance(garden, dict | None):
        merged["garden"] = {**(site.get("garden") or {}), **(garden or {})}
    if isinstance(crops, list | None) and site.get("crops"):
        own = {row.get("id") for row in crops or () if isinstance(row, dict)}
        merged["crops"] = [*(crops or ()), *(row for row in site["crops"] if row["id"] not in own)]
    if site.get("bed"):
        beds = document.get("beds") or [{"id": bed} for bed in _named_beds(document.get("plantings"))]
        if isinstance(beds, list):
            merged["beds"] = [{**site["bed"], **bed} if isinstance(bed, dict) else bed for bed in beds]
    return merged


def _named_beds(plantings: Any) -> list[str]:
    """The beds that plantings name, in the order in which a plan without a list of beds has them."""
    rows = plantings if isinstance(plantings, list) else ()
    return sorted({row["bed"] for row in rows if isinstance(row, dict) and isinstance(row.get("bed"), str)})
