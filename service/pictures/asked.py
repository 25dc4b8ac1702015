"""What is asked of a picture: the day of a map."""

from __future__ import annotations

from datetime import date

from rules.model import Plan
from rules.seasons import LAST_YEAR
from service.asked import FIRST_YEAR, Fault, day_asked
from service.schemas.words import clean


def map_day(plan: Plan, word: str | None, season: str | None) -> tuple[date, list[Fault]]:
    """The day that a map shows, and what is wrong with the one that is asked for.

    Without one it is the plan's own; where a season is asked for that the plan's day is no part of, the middle of it.
    """
    if word is not None:
        day = day_asked(word)
        said = f"write a day that exists as YYYY-MM-DD, {FIRST_YEAR} to {LAST_YEAR}, not '{clean(word)}'"
        return (day, []) if day is not None else (plan.as_of, [("day", said)])
    judged = plan.judge
    if season is None or judged.start <= plan.as_of <= judged.end:
        return plan.as_of, []
    return judged.start + (judged.end - judged.start) / 2, []
