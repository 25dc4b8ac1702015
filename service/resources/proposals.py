"""Proposals: a plan with its wishes in, a plan for the years to come out."""

from __future__ import annotations

from threading import BoundedSemaphore
from typing import Any

from flask import Response
from flask_smorest import Blueprint

from rules.planning.propose import Proposal
from service.encode import to_bytes
from service.errors import Problem
from service.examples import WISHED
from service.faults import refused, unreadable
from service.negotiate import JSON, TEXT, answer_type, body_bytes, body_kind
from service.openapi_doc import describe, problems
from service.proposing.encode import proposal_dict
from service.proposing.limits import MOST_BED_YEARS
from service.proposing.question import NotAsked, Options, Question, read_question
from service.proposing.run import NoProposal, proposal_of
from service.proposing.text import proposal_text
from service.reading import PlanRejected, Unreadable
from service.resources.checks import PLAN_BODY, today
from service.resources.planning import refuse
from service.schemas.proposal import ProposalQuery, ProposalSchema
from service.schemas.query import QueryParser
from service.state import current, knowledge

#: Proposals that one worker searches at the same time: each takes a processor for itself.
_SEARCHING = BoundedSemaphore(2)
#: Seconds to wait before asking again, where all are busy.
_WAIT = 5
_ABOUT = "The proposal, with the plan and its report; as text a page to print."


class ProposalBlueprint(Blueprint):
    """A blueprint that reads query parameters strictly."""

    ARGUMENTS_PARSER = QueryParser()


_BODY = {**PLAN_BODY, "content": {**PLAN_BODY["content"], JSON: {**PLAN_BODY["content"][JSON], "example": WISHED}}}

proposals = ProposalBlueprint("proposals", __name__, description="Propose what to grow where.")


@proposals.route("/v1/proposals", methods=["POST"])
@proposals.doc(operationId="propose", requestBody=_BODY)
@proposals.arguments(ProposalQuery(), location="query")
@describe(
    proposals.alt_response(200, schema=ProposalSchema, description=_ABOUT, success=True),
    proposals.alt_response(200, schema={"type": "string"}, content_type=TEXT, description=_ABOUT, success=True),
    *problems(proposals, 400, 413, 415, 422, 429, 500, 503),
)
def propose(query: dict[str, Any]) -> Response:
    """Propose what to grow where

    For the beds of a plan and what is wanted (its `wishes`, or else what grew in the last years on record), which crop
    stands in which bed in each of some years: without a breach, as much of it as fits, and the reason for
    what does not. What the plan has for those years stays. The answer's `plan` can be checked, changed and sent again.
    """
    options = _options(query)
    question = _question(options)
    proposal = _found(question, options.seconds)
    if answer_type((JSON, TEXT), query.get("format")) == TEXT:
        return _answer(proposal_text(question, proposal).encode(), f"{TEXT}; charset=utf-8")
    return _answer(to_bytes(proposal_dict(question, proposal)), JSON)


def _options(query: dict[str, Any]) -> Options:
    most = current().config.proposal_seconds
    seconds = query.get("seconds", most)
    if seconds > most:
        refuse([("seconds", f"at most {most} here; the command line and jobs may search longer")])
    keep = tuple(query["keep"].split(",")) if "keep" in query else ()
    return Options(query.get("since"), query.get("years"), float(seconds), query["alternatives"], keep)


def _question(options: Options) -> Question:
    """The question of this request; what is wrong with it becomes a ``Problem``."""
    kind = body_kind()
    try:
        question = read_question(body_bytes(), kind, options, knowledge(), today)
    except PlanRejected as rejected:
        raise refused(rejected, "plan-rejected") from None
    except Unreadable as error:
        raise unreadable(error) from None
    except NotAsked as error:
        refuse(error.faults)
        raise
    size = len(question.plan.beds) * question.wishes.years
    if size > MOST_BED_YEARS:
        said = f"{size} beds times years are too many for one request, {MOST_BED_YEARS} at most; send a job instead"
        refuse([("years", said)])
    return question


def _found(question: Question, seconds: float) -> Proposal:
    if not _SEARCHING.acquire(blocking=False):
        detail = f"Other proposals are being worked out. Try again in {_WAIT} seconds."
        raise Problem("no-proposal", detail, {"Retry-After": str(_WAIT)})
    try:
        return proposal_of(question, knowledge(), seconds)
    except NoProposal as error:
        raise Problem("no-proposal", str(error)) from None
    finally:
        _SEARCHING.release()


def _answer(body: bytes, media_type: str) -> Response:
    return Response(body, headers={"Vary": "Accept", "Cache-Control": "no-store"}, content_type=media_type)
