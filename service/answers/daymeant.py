"""A day as people say it when they ask: what lies ahead, and what could be two days."""

from __future__ import annotations

import re
from datetime import date, timedelta

from service.answers.spoken import either, heard
from service.asked import day_asked
from service.phonevalues import NUMBERS, day_said
from service.words import MONTHS, as_date, capital

_WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_FIGURES = re.compile(r"([0-9]{4})(?:([-/.])([0-9]{1,2})\2([0-9]{1,2})|([0-9]{2})([0-9]{2}))", re.ASCII)
_SLASHED = re.compile(r"([0-9]{1,2})[-/.]([0-9]{1,2})(?:[-/.]([0-9]{4}))?", re.ASCII)
_AHEAD = re.compile(r"in (\S{1,8}) (day|week)s?|(\S{1,8}) (day|week)s? from (?:now|today)")
_LONGEST = 40


class NoDay(ValueError):
    """A word that names no day, or two; the message can be spoken."""


def day_meant(word: str, today: date, *, ahead: bool) -> date:
    """The day that is meant; one without its year is the next such day, or the last where it lies behind.

    >>> day = date(2027, 4, 22)
    >>> str(day_meant("tomorrow", day, ahead=True)), str(day_meant("Tuesday", day, ahead=True))
    ('2027-04-23', '2027-04-27')
    >>> str(day_meant("1 March", day, ahead=True)), str(day_meant("in two weeks", day, ahead=True))
    ('2028-03-01', '2027-05-06')
    >>> day_meant("1/3", day, ahead=True)
    Traceback (most recent call last):
    service.answers.daymeant.NoDay: 1 3 can be 1 March or 3 January, say the month by its name.

    Raises
    ------
    NoDay
    """
    plain = " ".join(word[:_LONGEST].casefold().split()).removeprefix("on ")
    try:
        found = _figures(plain) or _slashed(plain, today, ahead) or _coming(plain, today, ahead)
    except OverflowError:
        found = None
    if found is None:
        found = day_asked(day_said(" ".join(word.split()), today, ahead=ahead))
    if found is None:
        months = [name for name in MONTHS if plain == name.casefold()]
        if months:
            raise NoDay(f"{months[0]} is a whole month, say a day of it, such as 1 {months[0]}.")
        told = heard(re.sub("[-/]", " ", word[:_LONGEST]))
        raise NoDay(f"{capital(told)} is no date, say a day such as 20 April, tomorrow or Tuesday.")
    return found


def _figures(plain: str) -> date | None:
    """A day in figures with its year first, with or without hyphens."""
    found = _FIGURES.fullmatch(plain)
    if found is None:
        return None
    year, month, day = int(found[1]), int(found[3] or found[5]), int(found[4] or found[6])
    try:
        return date(year, month, day)
    except ValueError:
        named = f"{day} {MONTHS[month - 1]}" if 1 <= month <= 12 else f"day {day} of month {month}"
        raise NoDay(f"There is no {named} {year}, say another day.") from None


def _slashed(plain: str, today: date, ahead: bool) -> date | None:
    """A day and a month in figures, where it can be one day only."""
    found = _SLASHED.fullmatch(plain)
    if found is None:
        return None
    one, other = int(found[1]), int(found[2])
    ways = {(day, month) for day, month in ((one, other), (other, one)) if 1 <= month <= 12 and 1 <= day <= 31}
    if len(ways) > 1:
        said = either(f"{day} {MONTHS[month - 1]}" for day, month in ((one, other), (other, one)))
        raise NoDay(f"{one} {other} can be {said}, say the month by its name.")
    year = f" {found[3]}" if found[3] else ""
    return next(
        (day_asked(day_said(f"{day} {MONTHS[month - 1]}{year}", today, ahead=ahead)) for day, month in ways), None
    )


def _coming(plain: str, today: date, ahead: bool) -> date | None:
    """A day counted from today on: a day of the week, or some days or weeks from now."""
    if plain.removeprefix("the ") == "day after tomorrow":
        return today + timedelta(days=2)
    if plain == "next week":
        return today + timedelta(days=7)
    if counted := _AHEAD.fullmatch(plain):
        many, unit = counted[1] or counted[3], counted[2] or counted[4]
        number = NUMBERS.get(many) or (int(many) if many.isascii() and many.isdigit() else None)
        return today + timedelta(days=number * (7 if unit == "week" else 1)) if isinstance(number, int) else None
    name = plain.removeprefix("this ").removeprefix("next ").removeprefix("coming ").removeprefix("this coming ")
    if name not in _WEEK or not (ahead or name != plain):
        return None
    coming = today + timedelta(days=(_WEEK.index(name) - today.weekday()) % 7)
    if plain.startswith("next "):
        later = coming + timedelta(days=7)
        if coming == today:
            return later
        if coming.weekday() > today.weekday():
            raise NoDay(f"Next {name.capitalize()} can be {either((as_date(coming), as_date(later)))}, say the date.")
    return coming
