"""Questions of a phone at the bed: one sentence that can be read aloud."""

from __future__ import annotations

from typing import Any

from flask import Response
from flask_smorest import Blueprint

from service.answers import Said, answer
from service.answers.spoken import MOST
from service.encode import to_bytes
from service.negotiate import JSON, TEXT, answer_type, body_bytes, body_kind
from service.openapi_doc import describe, problems
from service.resources.checks import PLAN_BODY, read
from service.schemas.answers import AnswerQuery, SaidSchema
from service.schemas.query import QueryParser
from service.state import knowledge


class AnswersBlueprint(Blueprint):
    """A blueprint that reads query parameters strictly."""

    ARGUMENTS_PARSER = QueryParser()


answers = AnswersBlueprint("answers", __name__, description="Questions answered in one sentence.")

_ANSWER = {"description": "The sentence; as JSON also whether it is a yes.", "success": True}
_SENTENCE = {"type": "string", "maxLength": MOST}


@answers.route("/v1/answers", methods=["POST"])
@answers.doc(operationId="askPlan", requestBody=PLAN_BODY)
@answers.arguments(AnswerQuery(), location="query")
@describe(
    answers.alt_response(200, schema=SaidSchema, **_ANSWER),
    answers.alt_response(200, schema=_SENTENCE, content_type=TEXT, **_ANSWER),
    *problems(answers, 400, 413, 415, 422, 429, 500, 503),
)
def ask_plan(query: dict[str, Any]) -> Response:
    """Ask about a plan

    One sentence that a phone can read aloud. A bed or crop that is unknown or missing is told in the
    same way, with the nearest name, so that whoever asked hears what to say instead; `ok` is then false.
    """
    plan = read(body_bytes(), body_kind(), None)
    words = {name: query.get(name) for name in ("crop", "bed", "date")}
    return spoken(answer(query["ask"], plan, knowledge(), **words), query.get("format"))


def spoken(said: Said, form: str | None) -> Response:
    """An answer in the form that is asked for: the sentence alone, or ``{say, ok}``."""
    if answer_type((TEXT, JSON), form) == TEXT:
        body, kind = said.say.encode(), f"{TEXT}; charset=utf-8"
    else:
        body, kind = to_bytes(said._asdict()), JSON
    return Response(body, headers={"Vary": "Accept", "Cache-Control": "no-store"}, content_type=kind)
