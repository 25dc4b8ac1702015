"""A plan with covers and crops, asked about at the doors to nets, protection and tasks."""

from __future__ import annotations

import json
from typing import Any

import pytest
from flask.testing import FlaskClient

from service.cli import main

JSON, YAML = "application/json", "application/yaml"


PLAN: dict[str, Any] = {
    "as_of": "2026-11-20",
    "judge": {"season": "2027"},
    "garden": {"name": "Row", "latitude": 46.2, "country": "FR"},
    "beds": [
        {"id": "kiln", "name": "Kiln bed", "length": 300, "width": 120},
        {"id": "quay", "name": "Quay bed", "length": "10 ft", "width": 90},
        {"id": "bare", "name": "Bare bed"},
        {"id": "vat", "name": "Vat house", "kind": "greenhouse", "length": 400, "width": 180},
    ],
    "plantings": [
        {"id": "arti", "bed": "bare", "crop": "globe artichoke", "start": "2024-04-10", "status": "growing"},
        {"id": "p1", "bed": "quay", "crop": "potato", "start": "2026-04-05", "end": "2026-08-20", "status": "done"},
        {
            **{"id": "c", "bed": "kiln", "crop": "cabbage", "start": "2027-04-20", "end": "2027-09-30"},
            **{"method": "transplant", "first_harvest": "2027-07-20"},
        },
        {"id": "p2", "bed": "quay", "crop": "potato", "start": "2027-04-05", "end": "2027-08-20"},
    ],
    "covers": [
        {"bed": "kiln", "kind": "net", "mesh": 0.8, "start": "2027-04-20", "end": "2027-07-15", "edges": "shut"}
    ],
    "treatments": [
        {"bed": "kiln", "date": "2027-06-01", "active": "azadirachtin", "harvest_interval": 3},
        {"bed": "quay", "date": "2027-06-02", "active": "spinosad"},
    ],
}


def post(client: FlaskClient, address: str, plan: dict[str, Any] = PLAN, **headers: str) -> Any:
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.post(address, data=json.dumps(plan), content_type=JSON, headers=given)


def faults(answer: Any) -> dict[str, str]:
    assert (answer.status_code, answer.content_type) == (422, "application/problem+json"), answer.data[:300]
    body = answer.get_json()
    assert body["type"] == "/problems/question-rejected"
    assert {fault["in"] for fault in body["errors"]} == {"query"}
    return {fault["parameter"]: fault["detail"] for fault in body["errors"]}


def printed(capfdbinary: pytest.CaptureFixture[bytes], *words: str, status: int = 0) -> bytes:
    assert main(words) == status
    out = capfdbinary.readouterr()
    return out.err if status else out.out
