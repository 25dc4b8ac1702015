"""Words in and out: lengths as people write them, and how a refusal is worded."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from datetime import date
from functools import lru_cache
from typing import Any

from marshmallow import Schema

from rules.knowledge.shapes import nearest

LONGEST_NAME = 80
SHOWN = 40

LENGTH = re.compile(
    r"^ *([0-9]{1,7}(?:\.[0-9]{1,4})?) *(mm|cm|m|metres?|meters?|in|inch|inches|\"|ft|foot|feet|')"
    r"(?: *([0-9]{1,4}(?:\.[0-9]{1,4})?) *(?:in|inch|inches|\"))? *$",
    re.IGNORECASE | re.ASCII,
)
_CM = {
    "mm": 0.1,
    "cm": 1.0,
    "m": 100.0,
    "in": 2.54,
    '"': 2.54,
    "ft": 30.48,
    "fo": 30.48,
    "fe": 30.48,
    "'": 30.48,
}


@lru_cache(maxsize=1024)
def length_from_text(text: str) -> float | None:
    """Centimetres of a text such as "3 m" or "4 ft 6 in"; None for anything else.

    >>> length_from_text("4 ft 6 in")
    137.16
    """
    found = LENGTH.fullmatch(text) if len(text) <= SHOWN else None
    if not found:
        return None
    number, unit, inches = found.groups()
    unit = unit.lower()
    factor = _CM["m" if unit.startswith("m") and unit != "mm" else unit[:2]]
    if inches and factor != _CM["ft"]:
        return None
    return round(float(number) * factor + float(inches or 0) * 2.54, 3)


#: How many more words of this document may get a suggestion; None outside a document.
_suggestions_left: ContextVar[list[int] | None] = ContextVar("suggestions_left", default=None)

NOT_ON_ONE_LINE = re.compile("[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")


@contextmanager
def suggestions(most: int) -> Iterator[None]:
    """Within the block at most ``most`` words are compared with the known ones."""
    token = _suggestions_left.set([most])
    try:
        yield
    finally:
        _suggestions_left.reset(token)


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """``"; did you mean 'length'?"``, or nothing where no known word is near."""
    left = _suggestions_left.get()
    if left is not None:
        if left[0] <= 0:
            return ""
        left[0] -= 1
    close = nearest(word[:LONGEST_NAME].casefold(), list(known), 1)
    return f"; did you mean '{close[0]}'?" if close else ""


_DAY = re.compile(r"([0-9]{1,4})([-/.])([0-9]{1,2})\2([0-9]{1,4})(?:[ T]00:00(?::00)?)?", re.ASCII)
_QUARTER = r"(spring|summer|autumn|fall|winter)"
_YEARS = r"((?:19|20|21)[0-9]{2})(?:[/-]([0-9]{2,4}))?"
_SEASON = re.compile(rf"(?:{_QUARTER}[ ,-]*)?{_YEARS}(?:[ ,/-]*{_QUARTER})?", re.ASCII)


def days_meant(text: str) -> list[str]:
    """The days that a date in another form may stand for; with slashes some put the day first, some the month.

    >>> days_meant("20.4.2027"), days_meant("04/05/2027"), days_meant("31/02/2027")
    (['2027-04-20'], ['2027-05-04', '2027-04-05'], [])
    """
    found = _DAY.fullmatch(text)
    if not found or 4 not in (len(found[1]), len(found[4])):
        return []
    first, mark, middle, last = found.groups()
    if len(first) == 4:
        orders = [(first, middle, last)]
    else:
        orders = [(last, middle, first), (last, first, middle)][: 1 if mark == "." else 2]
    days = []
    for year, month, day in orders:
        with suppress(ValueError):
            days.append(date(int(year), int(month), int(day)).isoformat())
    return list(dict.fromkeys(days))


def seasons_meant(text: str) -> list[str]:
    """The seasons that other words may stand for.

    >>> seasons_meant("Spring 2027"), seasons_meant("2026/27"), seasons_meant("next")
    (['2027-spring'], ['2026', '2027'], [])
    """
    found = _SEASON.fullmatch(text.strip().lower())
    if not found or (found[1] and found[4]):
        return []
    quarter = (found[1] or found[4] or "").replace("fall", "autumn")
    years = [found[2]]
    if found[3] and str(int(found[2]) + 1).endswith(found[3]):
        years.append(str(int(found[2]) + 1))
    return [f"{year}-{quarter}" if quarter else year for year in years]


def or_did_you_mean(meant: Sequence[str]) -> str:
    """``"; did you mean 2026 or 2027?"``, or nothing."""
    return f"; did you mean {' or '.join(meant)}?" if meant else ""


def shown(value: Any) -> str:
    """A value as a message may quote it: short, one line, no control characters."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{clean(value)}'"
    if isinstance(value, int | float):
        return clean(f"{value:,}" if isinstance(value, int) and abs(value) >= 10_000 else repr(value))
    return "a list" if isinstance(value, list | tuple) else "a group of keys"


def clean(text: str) -> str:
    """Text cut to a length that fits a message, control characters replaced."""
    text = NOT_ON_ONE_LINE.sub("?", text)
    return text if len(text) <= SHOWN else text[: SHOWN - 3] + "..."


def number_text(value: float) -> str:
    """A number with commas between thousands and no idle ".0"."""
    return f"{value:,}" if isinstance(value, int) or not float(value).is_integer() else f"{int(value):,}"


def bounds(least: float, most: float, above: bool) -> str:
    """Two bounds in words; ``above`` excludes the lower one."""
    if least == most:
        return number_text(least)
    low, high = number_text(least), number_text(most)
    return f"more than {low} and at most {high}" if above else f"from {low} to {high}"


def schema_messages(schema: Schema, name: str, field: Any) -> None:
    """Give a field of a schema its wording for an absent, empty or wrongly shaped value."""
    label = field.data_key or name
    words = {
        "required": f"{label} is missing",
        "null": f"{label} must not be empty",
        "invalid": f"{label} must be a list",
    }
    field.error_messages = {**field.error_messages, **words}
    inner = getattr(field, "inner", None)
    if inner is not None:
        inner.error_messages = {**inner.error_messages, "null": f"an entry of {label} is empty"}
