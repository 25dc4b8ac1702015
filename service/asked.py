"""What is asked of a plan beside the plan: measures of hoops and nets, and a span of days, as people write them.

Every fault is a pair: the parameter and a sentence.  All of them are found, so that all can be told at once.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from rules.model import Bed, Plan, Window
from rules.planning.netting import HoopWork, beds_to_cover, unknown_beds, work_faults
from rules.seasons import LAST_YEAR
from service.schemas.words import SHOWN, clean, length_from_text

Fault = tuple[str, str]

#: Measures of a hoop and its net that may be asked for; those that have no usual value last.
LENGTHS = ("height", "spacing", "leg", "edge", "net_width", "pipe")
FIRST_YEAR = 1900
#: Days in the longest span: a year, with the day that closes it.
MOST_DAYS = 366
_NUMBER = re.compile(r" *[0-9]{1,7}(?:\.[0-9]{1,4})? *", re.ASCII)
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)


def length_asked(text: str) -> float | None:
    """Centimetres of a length with its unit, or of a plain number of centimetres; None for anything else.

    >>> length_asked("2 ft"), length_asked("0.6 m"), length_asked("60"), length_asked("sixty")
    (60.96, 60.0, 60.0, None)
    """
    if len(text) <= SHOWN and _NUMBER.fullmatch(text):
        return float(text)
    return length_from_text(text)


def hoop_work(words: Mapping[str, str | None]) -> tuple[HoopWork, list[Fault]]:
    """The work that some measures ask for, those left out being usual, and what is wrong with them."""
    read: dict[str, float] = {}
    faults: list[Fault] = []
    for name in LENGTHS:
        word = words.get(name)
        if word is None:
            continue
        cm = length_asked(word)
        if cm is None:
            faults.append((name, f'write a length such as 60, "60 cm", "0.6 m" or "2 ft", not \'{clean(word)}\''))
        else:
            read[name] = cm
    work = HoopWork(**read)  # type: ignore[arg-type]
    for line in work_faults(work):
        name, _, said = line.partition(": ")
        faults.append((name, said))
    return work, faults


def beds_asked(plan: Plan, names: Sequence[str]) -> tuple[list[Bed], list[Fault]]:
    """The beds that are named (all that stand in the open where none is), and the names that are no bed."""
    return beds_to_cover(plan, names), [("bed", line) for line in unknown_beds(plan, names)]


def window_asked(plan: Plan, since: str | None, until: str | None) -> tuple[Window | None, list[Fault]]:
    """The span of days that is asked for, and what is wrong with it.

    Without a first day it begins on the plan's own day, or with the judged window where that is
    over; without a last one it goes on to the end of the judged window, a year at most.
    """
    faults: list[Fault] = []
    days: dict[str, date | None] = {}
    for name, word in (("from", since), ("to", until)):
        days[name] = None if word is None else day_asked(word)
        if word is not None and days[name] is None:
            said = f"write a day that exists as YYYY-MM-DD, {FIRST_YEAR} to {LAST_YEAR}, not '{clean(word)}'"
            faults.append((name, said))
    if faults:
        return None, faults
    judged = plan.judge
    longest = timedelta(days=MOST_DAYS - 1)
    start = days["from"] or min(plan.as_of if plan.as_of <= judged.end else judged.start, days["to"] or date.max)
    end = days["to"]
    if end is None:
        last = start.toordinal() + longest.days
        end = date.fromordinal(min(last, date(LAST_YEAR, 12, 31).toordinal()))
        if start <= judged.end:
            end = min(end, judged.end)
    if days["from"] is None and end - start > longest:
        start = end - longest
    if end < start:
        return None, [("to", f"it lies before the first day, {start.isoformat()}")]
    if end - start > longest:
        return None, [("to", f"a year at most: {(start + longest).isoformat()} or earlier")]
    return Window(start, end), []


def day_asked(word: str) -> date | None:
    """The day that a word names as YYYY-MM-DD; None where it is no day of the years that are kept.

    >>> day_asked("2027-04-20"), day_asked("2027-02-30"), day_asked("20 April")
    (datetime.date(2027, 4, 20), None, None)
    """
    if not _DAY.fullmatch(word):
        return None
    try:
        day = date.fromisoformat(word)
    except ValueError:
        return None
    return day if FIRST_YEAR <= day.year <= LAST_YEAR else None
