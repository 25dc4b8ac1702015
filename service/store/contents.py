"""All of a garden as values that never change, read whole or brought up to date by what was written since.

A journal is only added to, and most writes add to it.  So of a garden that was read before only its own
row is read, the lines since, and the plantings that these are about; where anything else was written
(``Garden.arranged``) all rows but the earlier lines.
"""

from __future__ import annotations

from collections import OrderedDict, namedtuple
from collections.abc import Sequence
from dataclasses import dataclass, field
from threading import Lock
from typing import Any

from sqlalchemy import bindparam, inspect, select
from sqlalchemy.orm import Session

from service.store.errors import NotFound
from service.store.journal import Journal, Line
from service.store.tables import Base, Bed, Entry, Garden, Ground, OwnCrop, Planting

#: Where a session keeps its ``Reading``.
READING = "breakcrop_reading"
#: Rows that a process remembers in all its gardens together: some 22 MB (measured: 0.97 MB for 2,173 rows, four plans).
MOST_ROWS = 50_000
#: Lines after which the plan is the same, where they are about no planting.
_LIGHT = frozenset({"watered", "note"})


@dataclass(eq=False)
class Contents:
    """All of a garden, each list in the order in which it was written down.

    The rows have the attributes of their tables.  Those of a garden that was read from the store are plain
    values; those of one that was only just read from a file are the rows that are about to be stored.

    ``made`` is for what follows from the contents, and is handed on with them while it stays so.
    """

    garden: Garden
    crops: Sequence[OwnCrop]
    beds: Sequence[Bed]
    grounds: Sequence[Ground]
    plantings: Sequence[Planting]
    journal: Journal
    made: dict[Any, Any] = field(default_factory=dict, init=False, repr=False)

    @property
    def rows(self) -> int:
        """How much there is to remember."""
        return len(self.journal) + len(self.plantings) + len(self.beds) + 1


class _Kept:
    """The rows of one table as values: how they are asked for and made."""

    def __init__(self, table: type[Base], *order: str) -> None:
        columns = {attribute.key: attribute.columns[0] for attribute in inspect(table).column_attrs}
        self.row: Any = namedtuple(table.__name__, columns)  # the names come from the table
        self.row.KEYS = getattr(table, "KEYS", ())
        mine = columns["id"] if table is Garden else columns["garden_id"]
        self.all = (
            select(*columns.values()).where(mine == bindparam("garden")).order_by(*(columns[one] for one in order))
        )
        if table is Planting:
            self.some = self.all.where(columns["id"].in_(bindparam("ids", expanding=True)))

    def read(self, session: Session, garden_id: str) -> list[Any]:
        """All rows of a garden."""
        return list(map(self.row._make, session.execute(self.all, {"garden": garden_id})))


_GARDEN, _CROPS, _BEDS = _Kept(Garden), _Kept(OwnCrop, "place"), _Kept(Bed, "place")
_GROUNDS, _PLANTINGS = _Kept(Ground, "newer", "place"), _Kept(Planting, "place")
_JOURNAL = Entry.__table__.c
_LINES = (
    select(*(_JOURNAL[name] for name in Line._fields))
    .where(_JOURNAL.garden_id == bindparam("garden"), _JOURNAL.id > bindparam("after"))
    .order_by(_JOURNAL.id)
)
_HELD = _GARDEN.all.with_for_update(key_share=True)


def garden_row(session: Session, garden_id: str, *, held: bool = False) -> Garden:
    """The row of a garden as a value, on wish with other writers to it kept off; ``NotFound``."""
    # PostgreSQL has no text with a zero byte, so that it cannot even be asked for one.
    found = (
        None if "\0" in garden_id else session.execute(_HELD if held else _GARDEN.all, {"garden": garden_id}).first()
    )
    if found is None:
        raise NotFound("garden", garden_id)
    row: Garden = _GARDEN.row._make(found)
    return row


def read_contents(session: Session, garden: Garden, before: Contents | None) -> Contents:
    """The contents of the garden whose row was just read; ``before`` is what they were at an earlier count."""
    if before is None or before.garden.revision > garden.revision:
        return Contents(garden, *_arranged(session, garden.id), Journal(_lines(session, garden.id, 0)))
    if before.garden.revision == garden.revision:
        return before
    lines = _lines(session, garden.id, before.journal[-1].id if before.journal else 0)
    if before.garden.arranged != garden.arranged:
        *others, plantings = _arranged(session, garden.id)
        # What follows from a planting is kept with its row, so one that is the same stays.
        kept = {row.id: row for row in before.plantings}
        plantings = [same if (same := kept.get(row.id)) == row else row for row in plantings]
        return Contents(garden, *others, plantings, before.journal.grown(lines))
    plantings = before.plantings
    if names := sorted({line.planting for line in lines if line.planting is not None}):
        # Their versions count what is logged about them.
        asked = {"garden": garden.id, "ids": names}
        now = {row.id: row for row in map(_PLANTINGS.row._make, session.execute(_PLANTINGS.some, asked))}
        plantings = [now.get(row.id, row) for row in plantings]
    after = Contents(garden, before.crops, before.beds, before.grounds, plantings, before.journal.grown(lines))
    if all(line.did in _LIGHT and line.planting is None for line in lines):
        after.made = before.made
    return after


def _arranged(session: Session, garden_id: str) -> list[list[Any]]:
    return [kept.read(session, garden_id) for kept in (_CROPS, _BEDS, _GROUNDS, _PLANTINGS)]


def _lines(session: Session, garden_id: str, after: int) -> list[Line]:
    words: dict[Any, Any] = {}
    one = words.setdefault  # a word or day is kept once, however many lines have it
    return [
        Line(number, one(day, day), one(did, did), one(bed, bed), one(planting, planting), *more)
        for number, day, did, bed, planting, *more in session.execute(_LINES, {"garden": garden_id, "after": after})
    ]


class Remembered:
    """The gardens that a process read last: each as it stood at a count of writes, never what is not committed."""

    def __init__(self, most: int = MOST_ROWS) -> None:
        self.most, self.lock = most, Lock()
        self.gardens: OrderedDict[str, Contents] = OrderedDict()
        self.rows = 0

    def get(self, garden_id: str) -> Contents | None:
        """A garden as it was when it was last read."""
        with self.lock:
            if garden_id in self.gardens:
                self.gardens.move_to_end(garden_id)
            return self.gardens.get(garden_id)

    def put(self, contents: Contents) -> None:
        """Keep a garden, unless what is kept of it is later; the oldest go where it is too much."""
        with self.lock:
            key, kept = contents.garden.id, self.gardens.get(contents.garden.id)
            if kept is not None and kept.garden.revision >= contents.garden.revision:
                return
            self.rows += contents.rows - (kept.rows if kept is not None else 0)
            self.gardens[key] = contents
            self.gardens.move_to_end(key)
            while self.rows > self.most:
                self.rows -= self.gardens.popitem(last=False)[1].rows


class Reading:
    """The contents that one transaction reads: they begin with what is remembered, and are remembered if that is right.

    What a transaction sees of its own writes is remembered by nobody: it may still be taken back.  One that may
    write sees what others commit meanwhile (PostgreSQL), so it holds the garden while it is read: its row and its
    lines are then of one count.
    """

    def __init__(self, session: Session, remembered: Remembered, *, writer: bool = True) -> None:
        self.session, self.remembered, self.writer = session, remembered, writer
        self.read: dict[str, Contents] = {}
        self.wrote: set[str] = set()

    def contents(self, garden_id: str, garden: Garden | None = None) -> Contents:
        """All of a garden; ``garden`` is its row where that was read under this transaction's lock."""
        self.session.flush()
        before = self.read.get(garden_id) or self.remembered.get(garden_id)
        if garden is None or garden_id in self.wrote:
            garden = garden_row(self.session, garden_id, held=self.writer)
        found = read_contents(self.session, garden, before)
        self.read[garden_id] = found
        if garden_id not in self.wrote:
            self.remembered.put(found)
        return found

    def writes(self, garden_id: str) -> None:
        """The garden is about to be written to: what is read of it from here on is this transaction's own."""
        self.wrote.add(garden_id)
