"""A stream of bytes to gardens, one at a time: rows of a sheet that stand together, or a plan a line."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain
from typing import IO, Any, Literal, NamedTuple

from service.batch.columns import PLOTS, SIGHTINGS, Header, SheetFault, SheetRejected, read_header, told_delimiter
from service.batch.records import Line, Record, Records, lines, text_of
from service.reading import Unreadable, parse
from service.schemas.plan import MOST_PLANTINGS
from service.schemas.words import clean

Form = Literal["csv", "ndjson"]

_NEEDED = (("garden",), ("bed",), ("crop",), ("season", "start"))
_NEEDED_SIGHTINGS = (("garden",), ("bed",), ("date",), ("of",))
_UNNAMED = "the garden's name is missing; write it in every row (the row is taken with the garden above)"
#: What was read before was answered before: a sheet of any length is read once.
_BACK = "the garden stands in line {met} already and was judged without this row; sort the sheet by garden"

#: Line, column (None for a whole row) and what is wrong.
Fault = tuple[int, str | None, str]


class GardenRows(NamedTuple):
    """The rows of one garden of a sheet: ``rows`` as {column: text} without empty cells, ``lines`` of each.

    All values are plain, so that an item can be kept as JSON.
    """

    line: int
    name: str
    rows: list[dict[str, str]]
    lines: list[int]
    faults: list[Fault]


class GardenText(NamedTuple):
    """One plan document as a line of JSON (None for a line that is too long)."""

    line: int
    text: str | None


Item = GardenRows | GardenText


def pack(item: Item) -> list[Any]:
    """An item as plain values that JSON can hold."""
    return list(item)


def unpack(values: list[Any]) -> Item:
    """The item that ``pack`` made plain."""
    return GardenRows(*values) if len(values) > 2 else GardenText(*values)


class Gardens:
    """The gardens of a stream in its order.

    ``form`` is "csv" or "ndjson", told by the first mark.  ``site`` is what the first line of an NDJSON
    stream says that all share (``{"type": "site", ...}``), else None.  ``named`` holds the line on which
    each name of a sheet was met first, and its spelling there, as far as it was read: the one thing that
    grows with a sheet, which is why a service names the ``most`` gardens that a sheet may have.

    Raises
    ------
    SheetRejected
        where there is nothing to read, or the header of a sheet cannot be used.
    """

    def __init__(self, stream: IO[bytes], most: int | None = None) -> None:
        self._lines, self._most = lines(stream), most
        self.site: dict[str, Any] | None = None
        self.named: dict[str, tuple[int, str]] = {}
        first, delimiter = _first(self._lines)
        if first is None:
            raise SheetRejected([SheetFault(1, "there is nothing to read; send a sheet or a plan a line")])
        if (first.data or b"").lstrip()[:1] == b"[":
            raise SheetRejected([SheetFault(first.number, "this is a list in JSON; send a sheet or a plan a line")])
        if (first.data or b"").lstrip()[:1] == b"{":
            self.form: Form = "ndjson"
            self._header: Header | None = None
            self._lines = chain(() if self._is_site(first) else (first,), self._lines)
        else:
            self.form = "csv"
            self._header = read_header(text_of(first), PLOTS, _NEEDED, first.number, delimiter)

    def _is_site(self, line: Line) -> bool:
        try:
            document = parse(line.data or b"", "json")[0]
        except Unreadable:
            return False
        if not isinstance(document, dict) or document.get("type") != "site":
            return False
        self.site = {key: value for key, value in document.items() if key != "type"}
        return True

    def __iter__(self) -> Iterator[Item]:
        return self._plans() if self._header is None else self._blocks(self._header)

    def _plans(self) -> Iterator[GardenText]:
        for line in self._lines:
            if line.data is None or line.data.strip():
                yield GardenText(line.number, None if line.data is None else text_of(line).rstrip("\r\n"))

    def _blocks(self, header: Header) -> Iterator[GardenRows]:
        garden: GardenRows | None = None
        key = ""
        for name, line, row, faults in _rows(Records(self._lines, header.delimiter), header):
            if garden is None or (name and key_of(name) != key):
                if garden is not None:
                    yield garden
                key = key_of(name)
                garden = GardenRows(line, name, [], [], [])
                if key and (met := self.named.setdefault(key, (line, name))[0]) != line:
                    garden.faults.append((line, "garden", _BACK.format(met=met)))
                if self._most is not None and len(self.named) > self._most:
                    much = f"a sheet has at most {self._most:,} gardens here; this one and all after it were not read"
                    garden.faults.append((line, None, much))
                    break
            if not name:
                faults.append((line, "garden", _UNNAMED))
            _add(garden, line, row, faults)
        if garden is not None:
            yield garden


def key_of(name: str) -> str:
    """What two spellings of a garden's name have in common."""
    return " ".join(name.split()).casefold()


def _add(garden: GardenRows, line: int, row: dict[str, str], faults: list[Fault]) -> None:
    """A row to its garden, in bounded memory."""
    if len(garden.rows) < MOST_PLANTINGS:
        garden.rows.append(row)
        garden.lines.append(line)
        garden.faults.extend(faults[: MOST_PLANTINGS - len(garden.faults)])
    elif len(garden.rows) == MOST_PLANTINGS:
        garden.faults.append((line, None, f"a garden has at most {MOST_PLANTINGS:,} rows"))
        garden.rows.append({})
        garden.lines.append(line)


def _rows(records: Records, header: Header) -> Iterator[tuple[str, int, dict[str, str], list[Fault]]]:
    """Each row that holds anything: its garden's name, its line, its cells by column, its faults."""
    for (line, cells, fault), row, faults in rows(records, header):
        name = row.pop("garden", "")
        if fault is not None and len(cells) <= header.garden + 1:  # the name itself is what is broken
            name = ""
        yield name, line, row, faults


def rows(records: Records, header: Header) -> Iterator[tuple[Record, dict[str, str], list[Fault]]]:
    """Each record that holds anything, with its cells by column and its faults."""
    columns = header.columns
    wide = len(columns)
    for record in records:
        _, cells, fault = record
        row = {column: text for column, cell in zip(columns, cells, strict=False) if (text := cell.strip()) and column}
        sound = fault is None and len(cells) <= wide and "".join(cells).isascii()  # nearly every row is
        faults = [] if sound else list(_faults(record, row, wide))
        if row or faults:
            yield record, row, faults


def _faults(record: Record, row: dict[str, str], wide: int) -> Iterator[Fault]:
    line, cells, fault = record
    if fault is not None:
        yield line, None, fault
    elif len(cells) > wide and any(map(str.strip, cells[wide:])):
        extra = next(filter(None, map(str.strip, cells[wide:])))
        yield line, None, f"there are more cells than headings, '{clean(extra)}' the first; is a comma not quoted?"
    for column, text in row.items():
        if any("\udc80" <= mark <= "\udcff" for mark in text):
            yield line, column, f"{column} is not UTF-8 text; save the sheet as CSV (UTF-8)"


def _first(source: Iterator[Line]) -> tuple[Line | None, str | None]:
    """The first line that holds anything, and what stands between cells where a line before it says so."""
    filled = (line for line in source if line.data is None or line.data.strip())
    first = next(filled, None)
    delimiter = told_delimiter(text_of(first)) if first else None
    return (next(filled, None) if delimiter else first), delimiter


def read_sightings(stream: IO[bytes]) -> dict[str, list[dict[str, Any]]]:
    """A sheet of sightings as rows by ``key_of`` its garden, each ``{"line", "garden", "bed", ...}``.

    Raises
    ------
    SheetRejected
        where its header cannot be used, or a row has no garden or cannot be read at all.
    """
    source = lines(stream)
    first, delimiter = _first(source)
    if first is None:
        return {}
    header = read_header(text_of(first), SIGHTINGS, _NEEDED_SIGHTINGS, first.number, delimiter)
    seen: dict[str, list[dict[str, Any]]] = {}
    broken: list[SheetFault] = []
    for name, line, row, faults in _rows(Records(source, header.delimiter), header):
        broken += [SheetFault(at, detail) for at, _, detail in faults]
        if not name and not faults:
            broken.append(SheetFault(line, "the garden's name is missing"))
        seen.setdefault(key_of(name), []).append({"line": line, "garden": name, **row})
    if broken:
        raise SheetRejected(broken)
    return seen
