"""The application keeps what its document promises, for whatever schemathesis thinks of."""

from __future__ import annotations

from typing import Any

import schemathesis
from club import make_world
from hypothesis import HealthCheck, settings
from schemathesis.checks import CheckContext
from schemathesis.core.transport import Response

from service.app import BLUEPRINTS
from service.negotiate import NDJSON, YAML_TYPES
from service.openapi_doc import document


def _small(value: Any, sent: bool = False) -> Any:
    """The document without what costs minutes to try, or schemathesis cannot send.

    Lists of 20,000 rows and YAML beside JSON are tried by hand in test_problems, plans a line in tests/batch.
    """
    if isinstance(value, list):
        return [_small(part, sent) for part in value]
    if not isinstance(value, dict):
        return value
    left_out = {name for name in value if name in YAML_TYPES or (name == "maxItems" and value[name] > 10)}
    left_out |= {NDJSON} if sent else set()
    return {name: _small(part, sent or name == "requestBody") for name, part in value.items() if name not in left_out}


# schemathesis reads the document when tests are collected, before any fixture.
world = make_world(proposal_seconds=1)
app = world.app
schema = schemathesis.openapi.from_wsgi("/openapi.json", app)
# A plan that fits its schema may still name a bed or crop that does not exist: no JSON schema
# can say so, and the answer is then 422.
plans = schemathesis.openapi.from_dict(_small(document(app)))
plans.app = app
plans.config.checks.positive_data_acceptance.expected_statuses += ["422"]
plans.config.checks.negative_data_rejection.expected_statuses += ["413"]

# A row that fits its schema may name a bed that is not there, take an id twice, or come too late.
record = schemathesis.openapi.from_dict(_small(document(app)))
record.app = app
record.config.checks.positive_data_acceptance.expected_statuses += ["404", "409", "412", "422", "428"]
record.config.checks.negative_data_rejection.expected_statuses += ["401", "404", "409", "412", "428"]
for _path, _row in (
    ("beds", {"id": "kiln", "name": "Kiln bed"}),
    ("plantings", {"id": "kale", "bed": "kiln", "crop": "kale", "season": "2025"}),
):
    world.client.post(f"/v1/gardens/{world.ours.garden}/{_path}", json=_row, headers=world.ours.headers("club_admin"))
# What is asked of a job depends on its kind, which no schema of parameters can say.
kinds = schemathesis.openapi.from_dict(_small(document(app)))
kinds.app = app
kinds.config.checks.positive_data_acceptance.expected_statuses += ["400", "422"]
kinds.config.checks.negative_data_rejection.expected_statuses += ["401", "413"]
TOKEN = world.ours.headers("club_admin")
#: What stands in an address, so that most requests find a garden and a row in it.
THERE = {"club": world.ours.club, "garden": world.ours.garden, "bed": "kiln", "planting": "kale", "crop": "oca"}
#: What needs a token.
RECORDED = r"^/v1/(clubs|gardens|jobs|checks/batch)"

#: The blueprints whose routes the document describes.
PARTS = tuple(blueprint.name for blueprint in BLUEPRINTS)
#: What takes a plan.
TAKE_PLANS = ("/v1/checks", "/v1/answers", "/v1/netting", "/v1/protection", "/v1/calendar", "/v1/proposals")
QUIET = {"deadline": None, "derandomize": True, "suppress_health_check": list(HealthCheck)}


def never_html_for_an_error(ctx: CheckContext, response: Response, case: schemathesis.Case) -> None:
    """Errors are problem details, apart from the health document of a service that is not ready."""
    if response.status_code >= 400 and case.path != "/readyz":
        assert response.headers["content-type"] == ["application/problem+json"]


def names_the_request(ctx: CheckContext, response: Response, case: schemathesis.Case) -> None:
    """Every answer carries the id of its request."""
    assert response.headers.get("x-request-id")


@schema.exclude(path=list(TAKE_PLANS)).exclude(path_regex=RECORDED).parametrize()
@settings(max_examples=12, **QUIET)
def test_knowledge_and_system_keep_the_document(case: schemathesis.Case) -> None:
    case.call_and_validate(additional_checks=[never_html_for_an_error, names_the_request])


@plans.include(path=list(TAKE_PLANS)).parametrize()
@settings(max_examples=16, **QUIET)
def test_what_takes_a_plan_keeps_the_document(case: schemathesis.Case) -> None:
    case.call_and_validate(additional_checks=[never_html_for_an_error, names_the_request])


@record.include(path_regex=RECORDED).exclude(path="/v1/jobs").parametrize()
@settings(max_examples=12, **QUIET)
def test_the_record_keeps_the_document(case: schemathesis.Case) -> None:
    if case.method != "DELETE":
        case.path_parameters.update({name: THERE[name] for name in case.path_parameters if name in THERE})
    case.call_and_validate(headers=TOKEN, additional_checks=[never_html_for_an_error, names_the_request])


@kinds.include(path="/v1/jobs").parametrize()
@settings(max_examples=12, **QUIET)
def test_a_new_job_keeps_the_document(case: schemathesis.Case) -> None:
    case.call_and_validate(headers=TOKEN, additional_checks=[never_html_for_an_error, names_the_request])


def test_every_operation_is_covered() -> None:
    rules = [rule for rule in app.url_map.iter_rules() if rule.endpoint.split(".")[0] in PARTS]
    routes = {rule.rule.replace("<", "{").replace(">", "}") for rule in rules}
    assert len(routes) > 40
    # schemathesis leaves out the address that it has the document from.
    assert {result.ok().path for result in schema.get_all_operations()} == routes - {"/openapi.json"}
