"""The check: a plan in, a report or one short answer out."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from flask import Response
from flask_smorest import Blueprint

import rules
from rules.model import Plan
from service.encode import report_dict, to_bytes
from service.examples import PLAN, PLAN_YAML
from service.faults import refused, unreadable
from service.negotiate import JSON, TEXT, YAML_TYPES, answer_type, body_bytes, body_kind
from service.openapi_doc import describe, problems
from service.reading import PlanRejected, Unreadable, read_plan
from service.schemas.plan import PlanSchema
from service.schemas.query import CheckQuery, QueryParser
from service.schemas.report import ReportSchema
from service.state import knowledge
from service.text import speak


class CheckBlueprint(Blueprint):
    """A blueprint that reads query parameters strictly."""

    ARGUMENTS_PARSER = QueryParser()


checks = CheckBlueprint("checks", __name__, description="Check a plan.")

#: How a plan is sent, for the document.
PLAN_BODY = {
    "required": True,
    "description": "A plan, format 1, in JSON (4 MB at most) or YAML (256 KB at most).",
    "content": {
        JSON: {"schema": PlanSchema, "example": PLAN},
        **{kind: {"schema": PlanSchema, "example": PLAN_YAML} for kind in YAML_TYPES},
    },
}
_ANSWER = "The report; as text the verdict and the three worst findings with their fix."
_SAID = {"type": "string", "maxLength": 599}


@checks.route("/v1/checks", methods=["POST"])
@checks.doc(operationId="checkPlan", requestBody=PLAN_BODY)
@checks.arguments(CheckQuery(), location="query")
@describe(
    checks.alt_response(200, schema=ReportSchema, description=_ANSWER, success=True),
    checks.alt_response(200, schema=_SAID, content_type=TEXT, description=_ANSWER, success=True),
    *problems(checks, 400, 413, 415, 422, 429, 500, 503),
)
def check(query: dict[str, Any]) -> Response:
    """Check a plan

    Judges a plan against rotation, disease, pests, neighbours, sequence and covers. Findings are
    a result: the status is 200 whatever the verdict. With `Accept: text/plain` or `format=text` the answer is short and
    can be read aloud.
    """
    facts = knowledge()
    kind = body_kind()
    plan = read(body_bytes(), kind, query.get("season"))
    report = rules.check(plan, facts, history="include" in query)
    if answer_type((JSON, TEXT), query.get("format")) == TEXT:
        body, media_type = speak(report, plan, facts).encode(), f"{TEXT}; charset=utf-8"
    else:
        body, media_type = to_bytes(report_dict(report.at_least(query["severity"]))), JSON
    return Response(body, headers={"Vary": "Accept", "Cache-Control": "no-store"}, content_type=media_type)


def read(body: bytes, kind: Any, season: str | None) -> Plan:
    """The plan in a body; what is wrong with it becomes a ``Problem``."""
    try:
        return read_plan(body, kind, today=today, season=season, knowledge=knowledge())
    except PlanRejected as rejected:
        raise refused(rejected, "plan-rejected") from None
    except Unreadable as error:
        raise unreadable(error) from None


def today(zone: str | None) -> date:
    """The date in a garden's zone, which the reader has found to exist; without one that of UTC."""
    return datetime.now(ZoneInfo(zone) if zone else UTC).date()
