"""Timing in turns, targets and the table: what every figure of the benchmark goes through.

A row's ratio and its "met" are computed from the medians of one run; nothing is typed in.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from time import perf_counter
from typing import Literal

#: Called with the number of the turn, so that a subject can take another document each time.
Subject = Callable[[int], object]

HEADER = ("what", "figures", "ratio", "target", "met")


@dataclass(frozen=True, slots=True)
class Target:
    """A bound on a row's value; ``form`` words a value, such as "{:.2f} s"."""

    sense: Literal["at most", "at least"]
    limit: float
    form: str = "{:.2f}"

    def met(self, value: float) -> bool:
        """Whether a value keeps the bound."""
        return value <= self.limit if self.sense == "at most" else value >= self.limit

    def __str__(self) -> str:
        return f"{self.sense} {self.form.format(self.limit)}"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: ``value`` is held against ``target``; ``ratio`` is shown beside it.

    A row without a value was not measured, and ``figures`` says why.
    """

    what: str
    figures: str
    target: Target | str
    ratio: float | None = None
    value: float | None = None

    @property
    def met(self) -> str:
        """ "yes" or "no", or "-" for a row without a value."""
        if self.value is None or isinstance(self.target, str):
            return "-"
        return "yes" if self.target.met(self.value) else "no"

    def cells(self) -> tuple[str, ...]:
        """The row as text, in the order of ``HEADER``."""
        ratio = "-" if self.ratio is None else f"{self.ratio:.2f}"
        return self.what, self.figures, ratio, str(self.target), self.met


def in_turn(subjects: Mapping[str, Subject], *, rounds: int, calls: int = 1, warm_up: int = 1) -> dict[str, float]:
    """Seconds a call of each subject: the median over rounds in which all take their turn (A B A B).

    Each round makes ``calls`` calls of each subject; ``warm_up`` rounds before them do not count.
    """
    seconds: dict[str, list[float]] = {name: [] for name in subjects}
    turn = 0
    for count in range(-warm_up, rounds):
        for name, subject in subjects.items():
            gc.collect()  # nobody pays for the litter of the one before
            started = perf_counter()
            for call in range(turn, turn + calls):
                subject(call)
            if count >= 0:
                seconds[name].append((perf_counter() - started) / calls)
        turn += calls
    return {name: median(each) for name, each in seconds.items()}


def shown(seconds: float) -> str:
    """A time in the unit that suits it.

    >>> shown(0.01234), shown(2.5)
    ('12.3 ms', '2.50 s')
    """
    return f"{seconds * 1000:.1f} ms" if seconds < 1 else f"{seconds:.2f} s"


def markdown(lines: Sequence[Sequence[str]]) -> str:
    """Lines of cells, the first of them the header, as a Markdown table with even columns."""
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    ruled = [lines[0], ["-" * width for width in widths], *lines[1:]]
    cells = ([cell.ljust(width) for cell, width in zip(line, widths, strict=True)] for line in ruled)
    return "".join(f"| {' | '.join(line)} |\n" for line in cells)


def table(rows: Sequence[Row]) -> str:
    """The rows against their targets."""
    return markdown([HEADER, *(row.cells() for row in rows)])
