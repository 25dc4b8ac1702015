"""A grower wishes for "beans": read, planned as one of them, and told."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

from service.app import build
from service.config import Config
from service.proposing import guard

PLAN: dict[str, Any] = {
    "as_of": "2026-11-20",
    "garden": {"latitude": 52, "country": "GB", "last_spring_frost": "05-01", "first_autumn_frost": "10-15"},
    "beds": [{"id": "a", "length": 300, "width": 120}, {"id": "b", "length": 300, "width": 120}],
}


@pytest.fixture(autouse=True)
def patient_guard(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a busy machine takes to start a child is no matter here."""
    monkeypatch.setattr(guard, "GRACE", 120.0)


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return build(Config()).test_client()


def answer(client: FlaskClient, *crops: dict[str, Any], past: list[dict[str, Any]] | None = None) -> Any:
    body = {**PLAN, "plantings": past or [], "wishes": {"years": 1, "crops": list(crops)}}
    return client.post("/v1/proposals?seconds=0", json=body).get_json()


def test_a_word_for_several_crops_is_planned_as_one_and_told(client: FlaskClient) -> None:
    body = answer(client, {"crop": "beans", "beds": 0.5}, {"crop": "onions", "plants": 100})
    assert {one["crop"] for one in body["placed"]} == {"bush_bean", "onion_sets"}
    assert any(note.startswith("Beans: planned as dwarf French beans") for note in body["notes"])
    assert body["plan"]["wishes"]["crops"][0]["crop"] == "beans"


def test_what_was_grown_before_is_planned_again(client: FlaskClient) -> None:
    past = [{"bed": "a", "crop": "runner beans", "start": "2024-05-20", "end": "2024-10-01"}]
    body = answer(client, {"crop": "beans"}, past=past)
    assert [one["crop"] for one in body["placed"]] == ["runner_bean"]
    assert any("as you grew them before" in note for note in body["notes"])


def test_a_word_for_several_families_leaves_too_much_open(client: FlaskClient) -> None:
    body = answer(client, {"crop": "herbs"})
    assert body["status"] == 422
    (fault,) = body["errors"]
    assert fault["pointer"] == "/wishes/crops/0/crop"
    assert "crops of several families; name the one to grow: basil" in fault["detail"]
