"""A sheet's header, and a cell's text as the value that a plan document has in its place."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from rules.knowledge.shapes import nearest
from service.schemas.rows import REMEMBERED
from service.schemas.words import LONGEST_NAME, days_meant, shown

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

#: What else people call a column.
_OTHER_WORDS = {
    "plot": "garden", "plot_name": "garden", "allotment": "garden", "row": "bed", "plant": "crop", "vegetable": "crop",
    "year": "season", "sown": "start", "planted": "start", "from": "start", "to": "end", "until": "end",
    "cleared": "end", "quantity": "count", "number": "count", "disease": "of", "pest": "of", "seen": "date",
}  # fmt: skip
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


def told_delimiter(text: str) -> str | None:
    """What ``sep=;`` says, which some programs write before the header; None for any other line.

    >>> told_delimiter("sep=;"), told_delimiter("garden;bed")
    (';', None)
    """
    found = re.fullmatch(r'"?sep=([,;\t])"?\s*', text, re.IGNORECASE)
    return found[1] if found else None


def read_header(
    text: str,
    known: tuple[str, ...],
    needed: tuple[tuple[str, ...], ...],
    line: int = 1,
    given: str | None = None,
) -> Header:
    """The header of a sheet; ``needed`` lists columns of which at least one each must be there.

    ``given`` is what stands between cells where the sheet says so itself.

    Raises
    ------
    SheetRejected
        naming every unknown, doubled or missing column.
    """
    if text.startswith("PK\x03\x04"):
        raise SheetRejected([SheetFault(line, "this is a workbook, not text; save the sheet as CSV (UTF-8)")])
    if "\r" in text.rstrip("\r\n"):
        raise SheetRejected([SheetFault(line, "lines end with CR alone; save the sheet as CSV (UTF-8)")])
    if "\x00" in text or "\udcff" in text[:2]:
        raise SheetRejected([SheetFault(line, "the sheet is not UTF-8 text; save it as CSV (UTF-8)")])
    if len(text) > MOST_COLUMNS * LONGEST_NAME:
        raise SheetRejected([SheetFault(line, f"the heading is longer than {MOST_COLUMNS} columns can be")])
    split = {mark: _cells(text, mark) for mark in DELIMITERS}
    delimiter = given or max(
        DELIMITERS, key=lambda mark: (len({*map(_plain, split[mark])} & {*known}), len(split[mark]))
    )
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
        *first, last = [" or ".join(choice) for choice in needed]
        wanted = f"{', '.join(first)} and {last}"
        return [f"the first line must be the heading, with the columns {wanted}; got {shown(', '.join(cells))}"]
    if len(columns) > MOST_COLUMNS:
        return [f"there are {len(columns):,} columns; the most is {MOST_COLUMNS}"]
    said = []
    lost = False
    for at, (cell, name) in enumerate(zip(cells, columns, strict=True), 1):
        if not name:
            said.append(f"column {at} has no heading")
        elif columns.index(name) + 1 < at:
            said.append(f"the column {shown(cell.strip())} stands twice")
        elif not name.startswith("x_") and any("\udc80" <= mark <= "\udcff" for mark in name):
            said.append(f"the heading of column {at} is not UTF-8 text; save the sheet as CSV (UTF-8)")
        elif name not in known and not name.startswith("x_"):
            hint = _hint(name, known)
            said.append(f"there is no column {shown(cell.strip())} here{hint}")
            lost = lost or not hint
    for choice in needed:
        if not set(choice) & set(columns):
            said.append(f"the column '{' or '.join(choice)}' is missing")
    if lost:
        said.append(f"the columns are {', '.join(known)}; any other needs x- before its heading and is passed over")
    return said


def _hint(name: str, known: tuple[str, ...]) -> str:
    other = _OTHER_WORDS.get(name)
    close = [other] if other in known else nearest(name[:LONGEST_NAME], known, 1)
    return f"; did you mean '{close[0]}'?" if close else ""


@lru_cache(REMEMBERED)
def _number(cell: str) -> Any:
    """A number, also with a decimal comma; any other text as it is, for the schema to refuse or read ("10 ft")."""
    if not _NUMBER.fullmatch(cell) or re.search(r",[0-9]{3}$", cell):  # 1,250 may be one metre or a kilometre
        return cell
    value = float(cell.replace(",", "."))
    return int(value) if value.is_integer() else value


@lru_cache(REMEMBERED)
def _day(cell: str) -> str:
    """A day in a form that can only be read in one way; 04/05/2027 stays as it is, to be refused."""
    meant = days_meant(cell) if "." in cell or cell[:4].isdecimal() else []
    return meant[0] if meant else cell


def _season(cell: str) -> str:
    """A year that a program wrote as a fraction, as some do with a column that has gaps."""
    return cell[:4] if re.fullmatch("[0-9]{4}[.,]0", cell, re.ASCII) else cell


@lru_cache(REMEMBERED)
def _share(cell: str) -> Any:
    found = _SHARE.fullmatch(cell)
    return [_number(found[1]), _number(found[2])] if found else cell


def _words(cell: str) -> list[str]:
    return [word.strip() for word in re.split("[;,]", cell) if word.strip()]


#: How a cell's text becomes a value, where it does not stay text.
READERS: Mapping[str, Callable[[str], Any]] = {
    **dict.fromkeys(("count", "spacing", "length", "width", "depth", "x", "y"), _number),
    **dict.fromkeys(("start", "end", "first_harvest", "date"), _day),
    "season": _season,
    "part": _share,
    "resists": _words,
    "parthenocarpic": lambda cell: _TRUTH.get(cell.casefold(), cell),
}
