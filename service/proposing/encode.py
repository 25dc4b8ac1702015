"""A proposal as plain values, in the order that ``service.schemas.proposal`` documents."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from service.encode import report_dict
from service.proposing.compare import differences, told
from service.proposing.document import planting_row, proposed_document
from service.words import capital

if TYPE_CHECKING:
    from rules.planning.propose import Placed, Proposal, Unplaced
    from service.proposing.question import Question

FORMAT = 1


def proposal_dict(question: Question, proposal: Proposal) -> dict[str, Any]:
    """The answer to a question: how good it is, what found its place and what did not, the plan and its report."""
    horizon = question.wishes.horizon
    return {
        "format": FORMAT,
        "garden": question.plan.garden.name,
        "years": {"from": horizon[0], "to": horizon[-1]},
        **_judged(proposal),
        "counting": list(proposal.counting),
        "notes": [*question.notes, *proposal.notes],
        "alternatives": [_alternative(question, proposal, other) for other in proposal.alternatives],
        "plan": proposed_document(question, proposal),
        "report": report_dict(proposal.report),
    }


def _judged(proposal: Proposal) -> dict[str, Any]:
    return {
        "verdict": proposal.report.verdict,
        "stopped": proposal.stopped,
        "value": round(proposal.value, 2),
        "bound": round(proposal.bound, 2),
        "gap": round(proposal.gap, 4),
        "placed": [_placed(one) for one in proposal.placed],
        "unplaced": [_unplaced(one) for one in proposal.unplaced],
    }


def _placed(one: Placed) -> dict[str, Any]:
    return {"crop": one.wish.crop.id, "year": one.year, "amount": one.amount, "beds": list(one.beds)}


def _unplaced(one: Unplaced) -> dict[str, Any]:
    helps = one.relaxation
    return {
        "crop": one.wish.crop.id,
        "year": one.year,
        "amount": one.amount,
        "reason": one.reason,
        "relaxation": None if helps is None else {"kind": helps.kind, "text": helps.text},
    }


def _alternative(question: Question, proposal: Proposal, other: Proposal) -> dict[str, Any]:
    differs = capital(told(differences(proposal, other, question.wishes.horizon), question.plan))
    return {**_judged(other), "differs": differs, "plantings": [planting_row(one) for one in other.plantings]}
