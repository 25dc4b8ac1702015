"""A whole batch as pieces of bytes: every garden in its order, then what belongs to none, then the summary."""

from __future__ import annotations

import re
from collections.abc import Generator, Iterator
from typing import TYPE_CHECKING

from rules.knowledge.shapes import nearest
from service.batch.gardens import Gardens, key_of
from service.batch.judge import Line, error_line
from service.batch.lines import csv_head
from service.batch.run import Work, chunks, in_order
from service.batch.summary import Summary, brief_of

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

#: Names among which the nearest one is looked for.
_MOST_NAMES = 5_000


class Answer:
    """The answer to a batch; iterate it once.  ``summary`` grows with it and is whole at its end."""

    def __init__(self, gardens: Gardens, work: Work, knowledge: Knowledge, processes: int = 1) -> None:
        self.gardens, self.work, self.knowledge, self.processes = gardens, work, knowledge, processes
        self.summary = Summary(work.shared.season, work.shared.as_of)

    def __iter__(self) -> Generator[bytes, None, None]:
        if self.work.form == "csv":
            yield csv_head()
        met: set[str] = set()
        seen = self.work.shared.sightings
        for done in in_order(self.work, chunks(self.gardens), self.processes, self.knowledge):
            for brief in done.briefs:
                self.summary.add(brief)
                if seen and brief.garden:
                    met.add(key_of(brief.garden))
            yield done.data
        for line in self._strays(met):
            self.summary.stray(brief_of(line))
            yield self.work.bytes_of(line, self.knowledge)
        yield self.work.bytes_of(self.summary.line(), self.knowledge)

    def _strays(self, met: set[str]) -> Iterator[Line]:
        """Sightings in gardens that nobody planted: a name that is spelt in two ways would lose a disease."""
        known = self.gardens.named
        alike: dict[tuple[str, ...], list[str]] = {}
        for name in known if len(known) <= _MOST_NAMES else ():
            alike.setdefault(_figures(name), []).append(name)
        for key, rows in self.work.shared.sightings.items():
            if key in met:
                continue
            close = nearest(key, alike.get(_figures(key), ()), 1)
            hint = f"; did you mean '{known[close[0]][1]}'?" if close else ""
            detail = f"no garden has this name in the sheet of plantings{hint}"
            place = {"sheet": "sightings", "line": rows[0]["line"], "column": "garden"}
            yield error_line(rows[0]["line"], rows[0]["garden"], [{**place, "detail": detail}])


def _figures(name: str) -> tuple[str, ...]:
    """The numbers in a name: plot 77 is nowhere near plot 7."""
    return tuple(re.findall("[1-9][0-9]*", name))
