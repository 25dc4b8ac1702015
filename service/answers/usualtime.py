"""The usual time of a crop, in words: told where a day lies outside it, and never a reason for a no."""

from __future__ import annotations

from datetime import date

from rules.model import Bed
from rules.planning.timing import Span, usual_times
from service.answers.question import Question
from service.answers.spoken import either, verb
from service.words import MONTHS

#: Times of a year that are told at most.
_MOST_TIMES = 2


def is_unusual(question: Question, bed: Bed) -> bool:
    """True where the day lies outside the usual time of the crop in the bed, as far as that is known."""
    spans = _spans(question, bed)
    return spans is not None and not any(span.first <= question.day <= span.last for span in spans)


def time_clauses(question: Question, bed: Bed, place: str = "here") -> tuple[str, ...]:
    """What to add to a yes where the day is unusual, the fuller way first; nothing where it is not."""
    if not is_unusual(question, bed):
        return ()
    crop = [question.crop]
    they, their = verb(crop, "it", "they"), verb(crop, "its", "their")
    spans = _spans(question, bed)
    if not spans:
        return f", though the season {place} is usually too short for {verb(crop, 'it', 'them')}", ", in a short season"
    if bed.kind == "greenhouse":
        place = "under glass here"
    when = either(_times(spans, question.day))
    return f", though {they} usually {verb(crop, 'goes', 'go')} in {when} {place}", f", out of {their} usual time"


def _spans(question: Question, bed: Bed) -> tuple[Span, ...] | None:
    glass = bed.kind == "greenhouse"
    return usual_times(question.crop, question.day, question.plan.garden, question.knowledge, glass=glass)


def _times(spans: tuple[Span, ...], day: date) -> list[str]:
    """The times of a year, the next to come first."""
    coming = sorted(spans, key=lambda span: (span.last < day, span.first))
    return list(dict.fromkeys(in_thirds(span) for span in coming))[:_MOST_TIMES]


def in_thirds(span: Span) -> str:
    """Days as parts of months.

    >>> in_thirds(Span(date(2027, 9, 11), date(2027, 11, 30), None))
    'from mid September to November'
    >>> in_thirds(Span(date(2027, 5, 1), date(2027, 5, 31), None))
    'in May'
    """
    first, last = span.first, span.last
    one, other = _third(first), _third(last)
    if (first.year, first.month) == (last.year, last.month):
        if one == other:
            return f"in {one} {MONTHS[first.month - 1]}"
        if (one, other) == ("early", "late"):
            return f"in {MONTHS[first.month - 1]}"
        return f"from {one} to {other} {MONTHS[last.month - 1]}"
    begins = MONTHS[first.month - 1] if one == "early" else f"{one} {MONTHS[first.month - 1]}"
    ends = MONTHS[last.month - 1] if other == "late" else f"{other} {MONTHS[last.month - 1]}"
    return f"from {begins} to {ends}"


def _third(day: date) -> str:
    return "early" if day.day <= 10 else "mid" if day.day <= 20 else "late"
