"""The time axis: growing years side by side, each as wide as the others, and the seasons in them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from rules.model import Window
from rules.seasons import QUARTERS, growing_year, growing_year_window, in_tropics, season_window


class Season(NamedTuple):
    """A quarter as far as the axis shows it."""

    word: str
    left: float
    right: float


@dataclass(frozen=True, slots=True)
class Axis:
    """Growing years from ``first`` to ``last`` (their own names), the first at ``left`` on the page."""

    first: int
    last: int
    left: float
    year_width: float
    latitude: float | None

    @property
    def right(self) -> float:
        """The end of the last year on the page."""
        return self.left + (self.last - self.first + 1) * self.year_width

    @property
    def years(self) -> range:
        """The growing years that are shown."""
        return range(self.first, self.last + 1)

    @property
    def window(self) -> Window:
        """All days that are shown."""
        return Window(self._year(self.first).start, self._year(self.last).end)

    def x(self, day: date) -> float:
        """Where a day begins on the page, within the axis."""
        year = growing_year(day, self.latitude)
        if year < self.first:
            return self.left
        if year > self.last:
            return self.right
        start, end = self._year(year)
        share = (day - start).days / ((end - start).days + 1)
        return self.left + (year - self.first + share) * self.year_width

    def after(self, day: date) -> float:
        """Where a day ends on the page."""
        return self.x(day + timedelta(days=1)) if day < date.max else self.right

    def of_year(self, year: int) -> tuple[float, float]:
        """Where a growing year begins and ends on the page."""
        left = self.left + (year - self.first) * self.year_width
        return left, left + self.year_width

    def year_name(self, year: int) -> str:
        """ "2026", or "2026/27" where the growing year runs over two."""
        start, end = self._year(year)
        return str(year) if start.year == end.year else f"{year}/{end.year % 100:02}"

    def seasons(self) -> Iterator[Season]:
        """The quarters on the axis in order; none in the tropics, where the year has no such seasons."""
        if in_tropics(self.latitude):
            return
        found = []
        for year in range(self.first - 1, self.last + 2):
            for word in QUARTERS:
                window = season_window(year, word, self.latitude)
                if window.touches(*self.window):
                    found.append((window.start, Season(word, self.x(window.start), self.after(window.end))))
        yield from (season for _, season in sorted(found))

    def _year(self, year: int) -> Window:
        return growing_year_window(year, self.latitude)
