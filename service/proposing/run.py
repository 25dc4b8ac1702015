"""A question to its proposal: the solver under guard, and what is left when it is cut off or dies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from time import monotonic
from typing import TYPE_CHECKING

from rules.planning.propose import Proposal, Wishes, propose
from service.proposing.guard import Watched, watch
from service.proposing.question import Question, owned_crops

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan

#: Seconds for the quick answer, where it is all that is left.
QUICK_SECONDS = 5.0


class NoProposal(RuntimeError):
    """Not even the quick answer came; the message says why, in words for a grower."""


def proposal_of(question: Question, knowledge: Knowledge, seconds: float) -> Proposal:
    """The best proposal that is found in ``seconds`` (0: the quick answer alone).

    Raises
    ------
    NoProposal
        where the solver and the quick answer both fail.
    """
    ended = _watched(question, knowledge, seconds)
    if ended.answer is None and seconds > 0:
        quick = _watched(question, knowledge, 0)
        ended = Watched(ended.how if quick.answer is not None else quick.how, quick.answer, ended.why)
    if ended.answer is None:
        raise NoProposal(_WHY[ended.how].format(why=ended.why or "no answer came"))
    return _told(ended)


_WHY = {
    "time": "There was no time for even a quick answer. Ask for fewer years, or for some beds at a time.",
    "died": "The search for a proposal failed ({why}). This is a fault of the program, not of your plan.",
}


def _watched(question: Question, knowledge: Knowledge, seconds: float) -> Watched:
    shared = tuple(owned_crops(question.plan, knowledge))
    given = (question.wishes, question.plan, knowledge, seconds)
    return watch(solve, given, shared, seconds or QUICK_SECONDS)


def solve(
    wishes: Wishes, plan: Plan, knowledge: Knowledge, seconds: float, tell: Callable[[Proposal], None]
) -> Proposal:
    """What the child does."""
    return propose(wishes, plan, knowledge, seconds=seconds, report_progress=tell, clock=monotonic)


def _told(ended: Watched) -> Proposal:
    """The answer; one that the solver did not finish says so."""
    answer: Proposal = ended.answer
    if ended.how == "done":
        return answer
    if ended.how == "time":
        return replace(answer, stopped="time")
    note = f"The search broke off ({ended.why}); this is the best plan that it had found."
    return replace(answer, stopped="time", notes=(*answer.notes, note))
