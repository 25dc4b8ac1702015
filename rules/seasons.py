"""Season words and growing years, in either hemisphere.

A growing year runs from the middle of winter: it begins on 1 January in the north and on
1 July in the south, and is named after the year in which it begins.  Quarters are the
meteorological ones and take the year of their first day.
"""

from __future__ import annotations

import re
from calendar import isleap, monthrange
from collections.abc import Callable
from datetime import date, timedelta
from operator import attrgetter

from rules.model import FrostDate, Window

#: Within this latitude the year has no winter: seasons are read as calendar years.
TROPICS_DEG = 23.5
QUARTERS = ("winter", "spring", "summer", "autumn")
FIRST_YEAR, LAST_YEAR = 1900, 2199

_NORTH_FIRST_MONTH = {"spring": 3, "summer": 6, "autumn": 9, "winter": 12}
_SOUTH_FIRST_MONTH = {"autumn": 3, "winter": 6, "spring": 9, "summer": 12}
_WORD = re.compile(r"([0-9]{4})(?:-(spring|summer|autumn|fall|winter))?\Z")

#: Where no frost date is known the main season is taken to end with its last month
#: (judgement): 31 October in the north, 30 April in the south.
_MAIN_SEASON_ENDS = {False: (10, 31), True: (4, 30)}
#: The end of the cold season for crops that stand through it (judgement, design of the plan format).
_WINTER_ENDS = {False: (4, 30), True: (10, 31)}


def is_south(latitude: float | None) -> bool:
    """True south of the equator; an unknown latitude is read as northern."""
    return latitude is not None and latitude < 0


def in_tropics(latitude: float | None) -> bool:
    """True where a bare year means the calendar year."""
    return latitude is not None and abs(latitude) <= TROPICS_DEG


def parse_season(word: str) -> tuple[int, str | None] | None:
    """``"2027"`` or ``"2027-spring"`` as (year, quarter or None); None for anything else.

    >>> parse_season("2027-Fall")
    (2027, 'autumn')
    """
    match = _WORD.match(word.strip().lower())
    if not match or not FIRST_YEAR <= int(match[1]) <= LAST_YEAR:
        return None
    return int(match[1]), "autumn" if match[2] == "fall" else match[2]


def season_window(year: int, quarter: str | None, latitude: float | None) -> Window:
    """The days a season word stands for.

    >>> season_window(2026, "winter", 46.2)
    Window(start=datetime.date(2026, 12, 1), end=datetime.date(2027, 2, 28))
    >>> season_window(2026, None, -37.8)
    Window(start=datetime.date(2026, 10, 1), end=datetime.date(2027, 4, 30))
    """
    south = is_south(latitude)
    if quarter is None:
        if in_tropics(latitude):
            return Window(date(year, 1, 1), date(year, 12, 31))
        if south:
            return Window(date(year, 10, 1), date(year + 1, 4, 30))
        return Window(date(year, 4, 1), date(year, 10, 31))
    first = (_SOUTH_FIRST_MONTH if south else _NORTH_FIRST_MONTH)[quarter]
    last_month = (first + 1) % 12 + 1
    last_year = year + 1 if last_month < first else year
    return Window(date(year, first, 1), date(last_year, last_month, monthrange(last_year, last_month)[1]))


def growing_year(day: date, latitude: float | None) -> int:
    """The growing year that a day belongs to."""
    if is_south(latitude) and not in_tropics(latitude):
        return day.year if day.month >= 7 else day.year - 1
    return day.year


def year_reader(latitude: float | None) -> Callable[[date], int]:
    """``growing_year`` for one latitude, for long lists of days."""
    if growing_year(date(2000, 1, 1), latitude) == 2000:
        return attrgetter("year")
    return lambda day: day.year if day.month >= 7 else day.year - 1


def growing_year_window(year: int, latitude: float | None) -> Window:
    """All days of a growing year."""
    if is_south(latitude) and not in_tropics(latitude):
        return Window(date(year, 7, 1), date(year + 1, 6, 30))
    return Window(date(year, 1, 1), date(year, 12, 31))


def add_years(day: date, years: int) -> date:
    """The same day some years on; 29 February becomes 28 February in a common year."""
    year = day.year + years
    if day.month == 2 and day.day == 29 and not isleap(year):
        return date(year, 2, 28)
    return day.replace(year=year)


def next_on(day: date, month_day: tuple[int, int]) -> date:
    """The first ``month_day`` on or after ``day``."""
    for year in (day.year, day.year + 1):
        month, number = month_day
        found = date(year, month, min(number, monthrange(year, month)[1]))
        if found >= day:
            return found
    raise AssertionError("a month and day comes round every year")


def first_frost(after: date, frost: FrostDate | None, latitude: float | None) -> date:
    """The median first autumn frost on or after a day, or the end of the main season."""
    return next_on(after, frost.p50 if frost else _MAIN_SEASON_ENDS[is_south(latitude)])


def winter_end(after: date, latitude: float | None) -> date:
    """The end of the first cold season that begins to matter at least 60 days after a day."""
    return next_on(after + timedelta(days=60), _WINTER_ENDS[is_south(latitude)])
