"""A sheet's header, and a cell's text as the value that a plan document has in its place."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from rules.knowledge.shapes import nearest
from service.schemas.rows import REMEMBERED
from service.schemas.words import LONGEST_NAME, shown

DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}
#: Columns of a planting under their keys in a plan; those of its variety stand beside them.
PLANTING = (
    "id", "crop", "season", "start", "end", "first_harvest", "status", "cause", "replaces", "method", "count",
    "spacing", "part",
)  # fmt: skip
VARIETY = ("variety", "resists", "parthenocarpic")
#: What a sheet may say of the bed that a planting stands in; x and y are its south-west corner in metres.
BED = ("kind", "length", "width", "depth", "x", "y")
PLOTS = ("garden", "bed", *PLANTING, *VARIETY, *BED)
SIGHTINGS = ("garden", "bed", "date", "of", "level")

MOST_COLUMNS = 100

_NUMBER = re.compile(r"-?[0-9]{1,9}([.,][0-9]{1,20})?", re.ASCII)
_SHARE = re.compile(r"([0-9][0-9.,]*) *[-\u2013] *([0-9][0-9.,]*)", re.ASCII)
_TRUTH = {"yes": True, "true": True, "no": False, "false": False}


class SheetFault(NamedTuple):
    """What is wrong with a whole sheet: its line and column from 1 where they are known."""

    line: int
    detail: str


class SheetRejected(Exception):
    """No row of a sheet can be read, because of its header or of its bytes."""

    def __init__(self, faults: list[SheetFault]) -> None:
        self.faults = faults
        super().__init__("; ".join(fault.detail for fault in faults))


class Header(NamedTuple):
    """The columns of a sheet in their order ("" for one to pass over) and what stands between cells."""

    columns: tuple[str, ...]
    delimiter: str

    @property
    def garden(self) -> int:
        """Where the garden's name stands."""
        return self.columns.index("garden")


def read_header(text: str, known: tuple[str, ...], needed: tuple[tuple[str, ...], ...], line: int = 1) -> Header:
    """The header of a sheet; ``needed`` lists columns of which at least one each must be there.

    Raises
    ------
    SheetRejected
        naming every unknown, doubled or missing column.
    """
    if "\r" in text.rstrip("\r\n"):
        raise SheetRejected([SheetFault(line, "lines end with CR alone; save the sheet as CSV (UTF-8)")])
    if "\x00" in text or "\udcff" in text[:2]:
        raise SheetRejected([SheetFault(line, "the sheet is not UTF-8 text; save it as CSV (UTF-8)")])
    if len(text) > MOST_COLUMNS * LONGEST_NAME:
        raise SheetRejected([SheetFault(line, f"the heading is longer than {MOST_COLUMNS} columns can be")])
    split = {mark: _cells(text, mark) for mark in DELIMITERS}
    delimiter = max(DELIMITERS, key=lambda mark: (len({*map(_plain, split[mark])} & {*known}), len(split[mark])))
    cells = split[delimiter]
    while cells and not cells[-1].strip():
        cells.pop()
    faults = [SheetFault(line, detail) for detail in _complaints(cells, known, needed)]
    if faults:
        raise SheetRejected(faults)
    return Header(tuple("" if (name := _plain(cell)).startswith("x_") else name for cell in cells), delimiter)


def _cells(text: str, delimiter: str) -> list[str]:
    return next(csv.reader([text], delimiter=delimiter), [])


def _plain(cell: str) -> str:
    """A heading as a key: "First harvest" is first_harvest."""
    return "_".join(re.split(r"[\s_\-]+", cell.strip().casefold()))


def _complaints(cells: list[str], known: tuple[str, ...], needed: tuple[tuple[str, ...], ...]) -> list[str]:
    columns = [_plain(cell) for cell in cells]
    if not set(columns) & set(known):
        wanted = ", ".join(" or ".join(choice) for choice in needed)
        return [f"the first line must be the heading, with {wanted}; got {shown(', '.join(cells))}"]
    if len(columns) > MOST_COLUMNS:
        return [f"there are {len(columns):,} columns; the most is {MOST_COLUMNS}"]
    said = []
    for at, (cell, name) in enumerate(zip(cells, columns, strict=True), 1):
        if not name:
            said.append(f"column {at} has no heading")
        elif columns.index(name) + 1 < at:
            said.append(f"the column {shown(cell)} stands twice")
        elif name not in known and not name.startswith("x_"):
            close = nearest(name[:LONGEST_NAME], known, 1)
            hint = f"did you mean '{close[0]}'?" if close else f"known are {', '.join(known)}"
            said.append(f"there is no column {shown(cell)} here; {hint} (x- before a heading passes it over)")
    for choice in needed:
        if not set(choice) & set(columns):
            said.append(f"the column '{' or '.join(choice)}' is missing")
    return said


@lru_cache(REMEMBERED)
def _number(cell: str) -> Any:
    """A number, also with a decimal comma; any other text as it is, for the schema to refuse or read ("10 ft")."""
    if not _NUMBER.fullmatch(cell) or re.search(r",[0-9]{3}$", cell):  # 1,250 may be one metre or a kilometre
        return cell
    value = float(cell.replace(",", "."))
    return int(value) if value.is_integer() else value


@lru_cache(REMEMBERED)
def _share(cell: str) -> Any:
    found = _SHARE.fullmatch(cell)
    return [_number(found[1]), _number(found[2])] if found else cell


def _words(cell: str) -> list[str]:
    return [word.strip() for word in re.split("[;,]", cell) if word.strip()]


#: How a cell's text becomes a value, where it does not stay text.
READERS: Mapping[str, Callable[[str], Any]] = {
    **dict.fromkeys(("count", "spacing", "length", "width", "depth", "x", "y"), _number),
    "part": _share,
    "resists": _words,
    "parthenocarpic": lambda cell: _TRUTH.get(cell.casefold(), cell),
}
