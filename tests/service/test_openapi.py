"""The document: true to the application, valid, and with examples that still hold.

``python tests/service/test_openapi.py`` writes the answers of ``openapi/examples`` anew.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml
from openapi_schema_validator import OAS31Validator
from openapi_spec_validator import validate
from werkzeug.test import TestResponse

import rules
from rules.model import Window
from rules.report import Action, BedOutlook, Closure, Finding, Fix, Free, Grounds, NotChecked, Report
from service import encode
from service.app import build
from service.config import Config
from service.examples import PLAN, PLAN_YAML
from service.openapi_doc import document
from service.openapi_file import FILE, openapi_yaml

EXAMPLES = sorted((FILE.parent / "examples").glob("*.yaml"))
app = build(Config(checks_per_minute=0))
DOCUMENT = document(app)


def test_the_file_is_what_the_application_says() -> None:
    written = FILE.read_text(encoding="utf-8")
    assert written == openapi_yaml(), "run: python -m service.openapi_file --write"
    assert yaml.safe_load(written) == json.loads(app.test_client().get("/openapi.json").data)


def test_the_document_is_valid_openapi() -> None:
    assert DOCUMENT["openapi"] == "3.1.1"
    validate(DOCUMENT)


def operations() -> list[tuple[str, dict[str, Any]]]:
    return [
        (f"{method} {path}", operation)
        for path, item in DOCUMENT["paths"].items()
        for method, operation in item.items()
        if method != "parameters"
    ]


def test_every_operation_is_named_described_and_says_how_it_fails() -> None:
    ids = [operation["operationId"] for _, operation in operations()]
    assert len(ids) == len(set(ids))
    for name, operation in operations():
        assert operation["summary"], name
        assert "500" in operation["responses"], name
        assert all(parameter.get("description") for parameter in operation.get("parameters", [])), name


def test_errors_are_documented_as_problem_details() -> None:
    for name, response in DOCUMENT["components"]["responses"].items():
        if name != "NOT_MODIFIED":
            assert list(response["content"]) == ["application/problem+json"], name
            schema = response["content"]["application/problem+json"]["schema"]
            assert schema == {"$ref": "#/components/schemas/Problem"}


def test_every_reference_leads_somewhere_and_every_schema_is_used() -> None:
    used: set[str] = set()

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            if isinstance(value.get("$ref"), str):
                used.add(value["$ref"])
            if isinstance(value.get("security"), list):
                used.update(f"#/components/securitySchemes/{name}" for one in value["security"] for name in one)
            for part in value.values():
                walk(part)
        elif isinstance(value, list):
            for part in value:
                walk(part)

    walk(DOCUMENT)
    parts = DOCUMENT["components"]
    known = {f"#/components/{part}/{name}" for part, entries in parts.items() for name in entries}
    assert used == known


def test_every_part_of_a_plan_is_documented_as_closed() -> None:
    def parts(name: str) -> None:
        schema = DOCUMENT["components"]["schemas"][name]
        if name not in seen:
            seen.add(name)
            assert schema["additionalProperties"] is False, name
            assert schema["patternProperties"] == {"^x-": {}}, name
            for found in re.findall(r"#/components/schemas/(\w+)", json.dumps(schema)):
                parts(found)

    seen: set[str] = set()
    parts("Plan")
    assert {"Garden", "Soil", "Bed", "Irrigation", "Planting", "Variety", "Judge"} <= seen


def test_an_excluded_bound_is_documented_as_excluded() -> None:
    flow = DOCUMENT["components"]["schemas"]["Irrigation"]["properties"]["emitter_flow"]
    assert flow["exclusiveMinimum"] == 0
    assert "minimum" not in flow


def fits(value: Any, name: str) -> list[str]:
    """What in a value does not fit a named schema of the document."""
    schema = {"$ref": f"#/components/schemas/{name}", "components": DOCUMENT["components"]}
    return [f"{list(error.path)}: {error.message}" for error in OAS31Validator(schema).iter_errors(value)]


# -- the report that encode writes is the report that is documented

DAY = date(2027, 11, 1)
FULL = Report(
    rules_version="2026.1",
    rules_digest="0123",
    overlay="quay allotments",
    as_of=date(2026, 11, 20),
    judged=Window(date(2027, 1, 1), date(2027, 12, 31)),
    judged_season="2027",
    verdict="breach",
    score={"pest": 2, "yield": -1},
    findings=tuple(
        Finding(
            id=f"f{number}",
            rule="rotation.family-too-soon",
            severity=severity,  # type: ignore[arg-type]
            beds=("kiln",),
            plantings=("p1", "p2"),
            title="Cabbage returns too soon – again",
            why="Its roots meet what was left behind.",
            because={"ended": DAY, "least": 2, "free": 1.5, "for": ("clubroot",), "sure": True, "seen": None},
            fix=Fix(
                "Move it.",
                (
                    Action("move", "p1", bed="quay"),
                    Action("shift", "p1", start=DAY),
                    Action("swap", "p1", with_planting="p2"),
                    Action("drop", "p1"),
                ),
            ),
            points=-1,
            effect="yield",
            evidence=Grounds("guidance", ("iowa_rotation",), ("other",)),
            cautions=("label",),
        )
        for number, severity in enumerate(("breach", "caution", "advice", "benefit"), 1)
    ),
    not_checked=(NotChecked("space.overcrowded", "no width", 2),),
    beds=(
        BedOutlook(
            "kiln",
            2022,
            (2024,),
            {"Brassicaceae": Free(DAY, DAY), "Poaceae": "open", "Apiaceae": "never", "Lamiaceae": "unknown"},
            (Closure(("cabbage",), DAY, "clubroot"), Closure(("leek",), None, "white_rot")),
        ),
        BedOutlook("quay", None, (), {}, ()),
    ),
    seasons_read={"2027": Window(date(2027, 4, 1), date(2027, 10, 31))},
    notes=("No latitude is given.",),
)


def test_the_report_is_written_as_documented() -> None:
    plain = encode.report_dict(FULL)
    assert fits(plain, "Report") == []
    finding = plain["findings"][0]
    assert finding["because"] == {
        **{"ended": "2027-11-01", "least": 2, "free": 1.5, "for": ["clubroot"], "sure": True, "seen": None}
    }
    assert finding["fix"]["actions"] == [
        {"op": "move", "planting": "p1", "bed": "quay"},
        {"op": "shift", "planting": "p1", "start": "2027-11-01"},
        {"op": "swap", "planting": "p1", "with": "p2"},
        {"op": "drop", "planting": "p1"},
    ]
    assert plain["beds"][0]["free_from"]["Brassicaceae"] == {"least": "2027-11-01", "better": "2027-11-01"}
    assert plain["beds"][0]["closed_to"][1]["until"] is None
    assert plain["seasons_read"] == {"2027": {"from": "2027-04-01", "to": "2027-10-31"}}


def test_the_document_would_notice_another_report() -> None:
    plain = encode.report_dict(FULL)
    assert fits({**plain, "extra": 1}, "Report")
    assert fits({key: value for key, value in plain.items() if key != "notes"}, "Report")
    assert fits({**plain, "verdict": "fine"}, "Report")


@pytest.mark.parametrize(("least", "listed"), [("breach", 1), ("caution", 2), ("advice", 3), ("benefit", 4)])
def test_the_least_severity_cuts_the_list(least: str, listed: int) -> None:
    assert len(encode.report_dict(FULL.at_least(least))["findings"]) == listed


def test_both_writers_of_json_give_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    plain = encode.report_dict(FULL)
    assert encode.orjson is not None
    quick = encode.to_bytes(plain)
    monkeypatch.setattr(encode, "orjson", None)
    assert encode.to_bytes(plain) == quick
    assert json.loads(quick) == plain


def test_equal_reports_give_equal_bytes() -> None:
    copy = replace(FULL, notes=tuple(FULL.notes))
    assert encode.to_bytes(encode.report_dict(copy)) == encode.to_bytes(encode.report_dict(FULL))


# -- examples

NETTING = "beds:\n  - {id: kiln, length: 3 m, width: 120}\n  - {id: quay, length: 10 ft, width: 90}\n"
CALLS = {
    "check-json": ("POST", "/v1/checks", {"Content-Type": "application/json"}, json.dumps(PLAN, indent=2)),
    "check-yaml": ("POST", "/v1/checks?severity=breach", {"Content-Type": "application/yaml"}, PLAN_YAML),
    "check-text": (
        *("POST", "/v1/checks"),
        {"Content-Type": "application/yaml", "Accept": "text/plain"},
        PLAN_YAML,
    ),
    "check-rejected": (
        *("POST", "/v1/checks", {"Content-Type": "application/yaml"}),
        "beds:\n  - {id: kiln}\nplantings:\n  - {bed: kiln, crop: cabage, season: 2027}\n",
    ),
    "crop": ("GET", "/v1/crops/courgette", {}, None),
    "crop-unknown": ("GET", "/v1/crops/cabage", {}, None),
    "crops-search": ("GET", "/v1/crops?q=brassica&limit=2", {}, None),
    "family": ("GET", "/v1/families/Brassicaceae", {}, None),
    "pair": ("GET", "/v1/pairs?a=onion&b=cabbage", {}, None),
    "pair-text": ("GET", "/v1/pairs?a=onion&b=cabbage", {"Accept": "text/plain"}, None),
    "pair-unknown": ("GET", "/v1/pairs?a=oniom&b=cabage", {}, None),
    "proposal-text": (
        *("POST", "/v1/proposals?seconds=0&years=2"),
        {"Content-Type": "application/json", "Accept": "text/plain"},
        json.dumps(PLAN, indent=2),
    ),
    "token-needed": ("GET", "/v1/gardens", {}, None),
    "netting": (
        *("POST", "/v1/netting?bed=kiln,quay&height=2%20ft&net_width=3%20m", {"Content-Type": "application/yaml"}),
        NETTING,
    ),
    "netting-rejected": (
        *("POST", "/v1/netting?bed=kilm&height=9%20m", {"Content-Type": "application/yaml"}),
        NETTING,
    ),
    "protection-text": (
        *("POST", "/v1/protection", {"Content-Type": "application/yaml", "Accept": "text/plain"}),
        PLAN_YAML,
    ),
    "protection": (
        *("POST", "/v1/protection?from=2027-04-01&to=2027-10-31", {"Content-Type": "application/yaml"}),
        PLAN_YAML,
    ),
    "calendar": ("POST", "/v1/calendar", {"Content-Type": "application/yaml"}, PLAN_YAML),
    "answer-text": (
        *("POST", "/v1/answers?ask=may&crop=cabbage&bed=kiln&date=2027-04-20"),
        {"Content-Type": "application/yaml"},
        PLAN_YAML,
    ),
    "answer-json": (
        *("POST", "/v1/answers?ask=free&crop=cabbage&bed=kiln"),
        {"Content-Type": "application/yaml", "Accept": "application/json"},
        PLAN_YAML,
    ),
    "answer-unknown": (
        *("POST", "/v1/answers?ask=may&crop=cabage&bed=kiln"),
        {"Content-Type": "application/yaml"},
        PLAN_YAML,
    ),
    "bad-query": ("POST", "/v1/checks?sesaon=2027", {"Content-Type": "application/json"}, "{}"),
}
#: What an example keeps of the headers.
SHOWN = ("Content-Type", "Content-Disposition", "Content-Location", "Link", "Vary")


def ask(method: str, path: str, headers: dict[str, str], body: str | None) -> TestResponse:
    given = {"X-Request-ID": "example", **headers}
    return app.test_client().open(path, method=method, headers=given, data=body)


def shown(answer: TestResponse) -> dict[str, Any]:
    """An answer as an example keeps it; the digest changes with every fact, so it is left out."""
    body = answer.get_json() if answer.is_json else answer.get_data(as_text=True)
    if isinstance(body, dict) and "digest" in body.get("rules", {}):
        body["rules"]["digest"] = "..."
    headers = {name: answer.headers[name] for name in SHOWN if name in answer.headers}
    return {"status": answer.status_code, "headers": headers, "body": body}


def test_every_example_is_there() -> None:
    assert {path.stem for path in EXAMPLES} == set(CALLS)


@pytest.mark.parametrize("path", EXAMPLES, ids=[path.stem for path in EXAMPLES])
def test_an_example_is_answered_as_it_says(path: Path) -> None:
    example = yaml.safe_load(path.read_text(encoding="utf-8"))
    request = example["request"]
    answer = ask(request["method"], request["path"], request["headers"], request.get("body"))
    assert shown(answer) == example["answer"]


def test_the_example_of_the_document_is_the_one_that_is_sent() -> None:
    content = DOCUMENT["paths"]["/v1/checks"]["post"]["requestBody"]["content"]
    assert content["application/json"]["example"] == PLAN
    assert fits(PLAN, "Plan") == []
    assert fits(yaml.load(PLAN_YAML, Loader=yaml.BaseLoader) | {"garden": {}}, "Plan") == []
    report = ask(*CALLS["check-json"]).get_json()
    assert fits(report, "Report") == []
    assert report["rules"]["digest"] == rules.load_knowledge().digest


def _write() -> None:
    folder = FILE.parent / "examples"
    folder.mkdir(exist_ok=True)
    for name, (method, path, headers, body) in CALLS.items():
        request = {"method": method, "path": path, "headers": headers} | ({"body": body} if body else {})
        example = {"request": request, "answer": shown(ask(method, path, headers, body))}
        text = yaml.safe_dump(example, sort_keys=False, allow_unicode=True, width=100)
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    _write()
