"""Questions that a grower asks a phone at the bed, each answered in one sentence that can be read aloud.

``answer`` never fails: what is wrong with a question is said as well, with ``ok`` False.  Doors that have
an error of their own for a wrong question call ``answered``.  All of it is what the engine says: the check,
the outlook of a bed, pairs, tasks, protection; only the words are made here.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date as Day

from rules.knowledge.known import Knowledge
from rules.model import Plan
from service.answers.chores import cover_off, due, may_pick
from service.answers.question import Ask, Question, Said, Unanswerable, ask_named, resolved
from service.answers.record import free, goes_with, was
from service.answers.room import may, now, where
from service.answers.spoken import say

__all__ = ["ASKS", "Ask", "Said", "Unanswerable", "answer", "answered"]

_ANSWERS: dict[str, Callable[[Question], Said]] = {
    "may": may,
    "was": was,
    "free": free,
    "where": where,
    "now": now,
    "with": goes_with,
    "due": due,
    "pick": may_pick,
    "cover": cover_off,
}
#: The questions by name; ``question.ASKS`` says what each needs.
ASKS: tuple[str, ...] = tuple(_ANSWERS)


def answer(
    ask: str,
    plan: Plan,
    knowledge: Knowledge,
    *,
    crop: str | None = None,
    bed: str | None = None,
    date: Day | str | None = None,
) -> Said:
    """The answer to a question about a plan, in under 200 characters.

    Parameters
    ----------
    ask
        One of ``ASKS``.
    crop, bed
        By any name, as people say them; ``free`` takes a family as crop.
    date
        A day, or one in words (``daymeant``), counted from the plan's ``as_of``; that day itself where None.

    Returns
    -------
    Said
        ``ok`` is False where the answer is no, where the record does not tell, and where the question is at fault.
        It stays True where a crop may go in but usually goes in at another time: the sentence says so, and the
        verdict is that of the check.
    """
    try:
        return answered(ask, plan, knowledge, crop=crop, bed=bed, date=date)
    except Unanswerable as fault:
        return Said(say(str(fault)), False)


def answered(
    ask: str,
    plan: Plan,
    knowledge: Knowledge,
    *,
    crop: str | None = None,
    bed: str | None = None,
    date: Day | str | None = None,
) -> Said:
    """As ``answer``.

    Raises
    ------
    Unanswerable
        where a name is unknown, something is missing, or the question is none.
    """
    wanted = ask_named(ask)
    said = _ANSWERS[wanted.name](resolved(wanted, plan, knowledge, crop=crop, bed=bed, date=date))
    return Said(say(said.say), said.ok)
