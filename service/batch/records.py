"""Bytes of a stream to lines of bounded length, and a sheet's lines to records: (line, cells).

A spreadsheet writes CRLF, a byte order mark, UTF-16 ("Unicode text"), cells over several lines, and
semicolons or tabs where the comma is the decimal mark.  What is broken in one record is told with its line, and
reading goes on with the next line: a quotation mark that nobody closed may not swallow the rest.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections import deque
from collections.abc import Iterator
from typing import IO, Any, NamedTuple

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
#: Before UTF-8 it says nothing but that a program for spreadsheets wrote it, and will read it.
BOM = codecs.BOM_UTF8
_UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


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
    """The lines of a stream without its byte order mark; none is held that has more than ``longest`` bytes.

    With the mark of UTF-16 it is read as such; the lines are UTF-8 then too.
    """
    number, data = 0, stream.readline(longest + 1)
    if data.startswith(_UTF_16):
        stream = io.BufferedReader(_Utf16(data, stream))
        data = stream.readline(longest + 1)
    data = data.removeprefix(BOM)
    while data:
        number += 1
        if len(data) <= longest:
            yield Line(number, data)
        else:
            while not data.endswith(b"\n") and (data := stream.readline(longest)):
                pass
            yield Line(number, None)
        data = stream.readline(longest + 1)


class _Utf16(io.RawIOBase):
    """A stream of UTF-16, of which the beginning was read already, as one of UTF-8.

    What is no text in it is none in UTF-8 either, so that it is told by its line and column.
    """

    def __init__(self, begun: bytes, stream: IO[bytes]) -> None:
        self._read, self._stream = begun, stream
        self._decoder = codecs.getincrementaldecoder("utf-16")("surrogatepass")
        self._ready, self._over = b"", False

    def readable(self) -> bool:
        """It can be read."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Some bytes more; 0 at the end."""
        while not self._ready and not self._over:
            data = self._read or self._stream.read(len(buffer))
            self._read, self._over = b"", not data
            try:
                self._ready = self._decoder.decode(data, final=not data).encode("utf-8", "surrogatepass")
            except UnicodeDecodeError:  # it ends in the middle of a sign
                self._ready = b"\xff"
        size = min(len(buffer), len(self._ready))
        buffer[:size], self._ready = self._ready[:size], self._ready[size:]
        return size


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
