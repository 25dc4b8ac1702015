"""The application keeps what its document promises, for whatever schemathesis thinks of."""

from __future__ import annotations

from typing import Any

import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import CheckContext
from schemathesis.core.transport import Response

from service.app import build
from service.config import Config
from service.negotiate import YAML_TYPES
from service.openapi_doc import document


def _small(value: Any) -> Any:
    """The document without what costs minutes to try: lists of 20,000 rows, and YAML beside JSON.

    Both are tried by hand in test_problems.
    """
    if isinstance(value, list):
        return [_small(part) for part in value]
    if not isinstance(value, dict):
        return value
    left_out = {name for name in value if name in YAML_TYPES or (name == "maxItems" and value[name] > 10)}
    return {name: _small(part) for name, part in value.items() if name not in left_out}


# schemathesis reads the document when tests are collected, before any fixture.
app = build(Config(checks_per_minute=0))
schema = schemathesis.openapi.from_wsgi("/openapi.json", app)
# A plan that fits its schema may still name a bed or crop that does not exist: no JSON schema
# can say so, and the answer is then 422.
plans = schemathesis.openapi.from_dict(_small(document(app)))
plans.app = app
plans.config.checks.positive_data_acceptance.expected_statuses += ["422"]
plans.config.checks.negative_data_rejection.expected_statuses += ["413"]

#: The blueprints whose routes the document describes.
PARTS = ("answers", "checks", "knowledge", "pairs", "planning", "system")
#: What takes a plan.
TAKE_PLANS = ("/v1/checks", "/v1/answers", "/v1/netting", "/v1/protection", "/v1/calendar")
QUIET = {"deadline": None, "derandomize": True, "suppress_health_check": list(HealthCheck)}


def never_html_for_an_error(ctx: CheckContext, response: Response, case: schemathesis.Case) -> None:
    """Errors are problem details, apart from the health document of a service that is not ready."""
    if response.status_code >= 400 and case.path != "/readyz":
        assert response.headers["content-type"] == ["application/problem+json"]


def names_the_request(ctx: CheckContext, response: Response, case: schemathesis.Case) -> None:
    """Every answer carries the id of its request."""
    assert response.headers.get("x-request-id")


@schema.exclude(path=list(TAKE_PLANS)).parametrize()
@settings(max_examples=12, **QUIET)
def test_knowledge_and_system_keep_the_document(case: schemathesis.Case) -> None:
    case.call_and_validate(additional_checks=[never_html_for_an_error, names_the_request])


@plans.include(path=list(TAKE_PLANS)).parametrize()
@settings(max_examples=16, **QUIET)
def test_what_takes_a_plan_keeps_the_document(case: schemathesis.Case) -> None:
    case.call_and_validate(additional_checks=[never_html_for_an_error, names_the_request])


def test_every_operation_is_covered() -> None:
    rules = [rule for rule in app.url_map.iter_rules() if rule.endpoint.split(".")[0] in PARTS]
    routes = {rule.rule.replace("<", "{").replace(">", "}") for rule in rules}
    # schemathesis leaves out the address that it has the document from.
    assert {result.ok().path for result in schema.get_all_operations()} == routes - {"/openapi.json"}
