"""One garden's proposal for a job: bytes in, plain values out."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from service.planfile import today
from service.proposing.encode import proposal_dict
from service.proposing.question import Options, read_question
from service.proposing.run import proposal_of
from service.state import load_knowledge

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rules.knowledge.known import Knowledge
    from service.reading import Kind


@cache
def _knowledge(overlay: str | None) -> Knowledge:
    return load_knowledge(overlay)


def propose_document(body: bytes, kind: Kind, options: Mapping[str, Any], overlay: str | None = None) -> dict[str, Any]:
    """The proposal for the plan in ``body``, as ``POST /v1/proposals`` answers it.

    Parameters
    ----------
    options
        Keys of ``service.proposing.question.Options``; those left out as there.
    overlay
        Path of a rule overlay.

    Raises
    ------
    service.reading.Unreadable, service.reading.PlanRejected, service.proposing.question.NotAsked
        for input that cannot be planned, with every fault.
    service.proposing.run.NoProposal
        where no proposal was found in the time.
    """
    knowledge = _knowledge(overlay)
    asked = Options(**options)
    question = read_question(body, kind, asked, knowledge, today)
    return proposal_dict(question, proposal_of(question, knowledge, asked.seconds))
