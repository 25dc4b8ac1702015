"""Bytes of a stream to lines of bounded length, and a sheet's lines to records: (line, cells).

A spreadsheet writes CRLF, a byte order mark, cells over several lines, and semicolons or tabs
where the comma is the decimal mark.  What is broken in one record is told with its line, and
reading goes on with the next line: a quotation mark that nobody closed may not swallow the rest.
"""

from __future__ import annotations

import csv
from collections import deque
from collections.abc import Iterator
from typing import IO, NamedTuple

from service.reading import LARGEST

#: Bytes of the longest line of any form, and of a line of a sheet.
LONGEST_LINE = LARGEST["json"] + 1
LONGEST_ROW = 64 * 1024
#: Lines that one record may take: a note in a cell has some, an open quotation mark all that follow.
MOST_LINES = 20

TOO_LONG = f"the line is longer than any row of a sheet ({LONGEST_ROW // 1024} KB)"
OPEN = 'a quotation mark (") is opened here and never closed'
INSIDE = 'a quotation mark (") stands inside a quoted cell; write it twice'
RETURN = "the line holds a carriage return (CR) that does not end it; save the sheet as CSV (UTF-8)"
#: What the reader of the library says, in our words; any other fault of its is an open quotation mark.
_SAID = {"expected after": INSIDE, "new-line character": RETURN, "larger than field limit": TOO_LONG}
_BOM = b"\xef\xbb\xbf"


class Line(NamedTuple):
    """A line of the stream, from 1, with its line end; ``data`` is None for one that is too long."""

    number: int
    data: bytes | None


class Record(NamedTuple):
    """One record of a sheet: the line it begins on, its cells, and what is wrong with it."""

    line: int
    cells: list[str]
    fault: str | None = None


def lines(stream: IO[bytes], longest: int = LONGEST_LINE) -> Iterator[Line]:
    """The lines of a stream without its byte order mark; none is held that has more than ``longest`` bytes."""
    number = 0
    while data := stream.readline(longest + 1):
        number += 1
        if number == 1:
            data = data.removeprefix(_BOM)
        if len(data) <= longest:
            yield Line(number, data)
            continue
        while not data.endswith(b"\n") and (data := stream.readline(longest)):
            pass
        yield Line(number, None)


def text_of(line: Line) -> str:
    """A line as text; bytes that are no UTF-8 become half characters, which no cell may hold."""
    return (line.data or b"").decode("utf-8", "surrogateescape")


class _Broken(Exception):
    """The record that is being read cannot be one."""


class Records:
    """The records of a sheet after its header, one after the other."""

    def __init__(self, source: Iterator[Line], delimiter: str) -> None:
        self._source, self._delimiter = source, delimiter
        self._again: deque[Line] = deque()
        self._taken: list[Line] = []

    def __iter__(self) -> Iterator[Record]:
        reader = self._reader()
        while True:
            self._taken.clear()
            try:
                cells = next(reader)
            except StopIteration:
                return
            except (_Broken, csv.Error) as error:
                yield self._broken(error)
                reader = self._reader()
            else:
                yield Record(self._taken[0].number, cells)

    def _reader(self) -> Iterator[list[str]]:
        return csv.reader(self._texts(), delimiter=self._delimiter, strict=True)

    def _texts(self) -> Iterator[str]:
        while True:
            line = self._again.popleft() if self._again else next(self._source, None)
            if line is None:
                return
            self._taken.append(line)
            if line.data is None or len(line.data) > LONGEST_ROW:
                raise _Broken(TOO_LONG)
            if len(self._taken) > MOST_LINES:
                raise _Broken(OPEN)
            yield text_of(line)

    def _broken(self, error: Exception) -> Record:
        """The record's first line with its fault; the lines after it are read again, as records of their own."""
        first, *rest = self._taken
        self._again.extendleft(reversed(rest))
        if first.data is None or len(first.data) > LONGEST_ROW:
            return Record(first.number, [], TOO_LONG)
        text = text_of(first).partition("\r")[0]
        cells = next(csv.reader([text], delimiter=self._delimiter), [])
        fault = next((ours for said, ours in _SAID.items() if said in str(error)), OPEN)
        return Record(first.number, cells, fault)
