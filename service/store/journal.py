"""The journal of a garden as one value: its lines in the order of writing, each question about them answered once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cached_property
from operator import attrgetter
from typing import Any, NamedTuple

from service.store.projection import LIFE


class Line(NamedTuple):
    """A line as it is kept; the names are those of the columns of ``Entry``, which may stand in its place."""

    id: int
    date: date
    did: str
    bed: str | None = None
    planting: str | None = None
    detail: dict[str, Any] | None = None
    note: str | None = None
    corrects: int | None = None
    recorded_at: datetime | None = None
    extra: dict[str, Any] | None = None


class Journal(tuple[Line, ...]):
    """Lines in the order of writing; those that others take back are still among them."""

    @cached_property
    def undone(self) -> frozenset[int]:
        """The ids of the lines that others take back."""
        return frozenset(line.corrects for line in self if line.corrects is not None)

    @cached_property
    def standing(self) -> list[Line]:
        """The lines that stand, as written: those that no other takes back."""
        undone = self.undone
        return [line for line in self if line.corrects is None and line.id not in undone]

    @cached_property
    def known(self) -> dict[Any, Any]:
        """What was worked out from single plantings and their lives, kept by whoever works it out."""
        return {}

    @cached_property
    def lives(self) -> dict[str, list[Line]]:
        """The lines that tell of each planting's own life, by day and then as written."""
        told: dict[str, list[Line]] = {}
        for line in self.said(LIFE):
            if line.planting is not None:
                told.setdefault(line.planting, []).append(line)
        return told

    def grown(self, lines: Sequence[Line]) -> Journal:
        """The journal with lines written since; what was found out about the earlier ones is not worked out again."""
        journal = Journal((*self, *lines))
        back = {line.corrects for line in lines if line.corrects is not None}
        journal.undone = self.undone | back
        kept = [line for line in self.standing if line.id not in back] if back else self.standing
        journal.standing = [*kept, *(one for one in lines if one.corrects is None and one.id not in back)]
        told = {line.planting for line in (*lines, *(line for line in self if line.id in back)) if line.planting}
        journal.lives = {name: life for name, life in self.lives.items() if name not in told}
        for line in journal.said(LIFE) if told else ():
            if line.planting in told:
                journal.lives.setdefault(line.planting, []).append(line)
        journal.known = self.known
        return journal

    def said(self, words: Iterable[str]) -> list[Line]:
        """The lines of these words that stand, by day and then as written."""
        wanted = frozenset(words)
        return sorted((line for line in self.standing if line.did in wanted), key=attrgetter("date", "id"))
