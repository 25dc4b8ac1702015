"""Rows over HTTP: versions, patches, keys."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stored_door import Door

from service.resources.writing import merged

# -- rows and their versions


def test_a_row_tells_its_version_and_its_address(door: Door) -> None:
    made = door("POST", "/beds", {"id": "vat", "position": {"x": 4, "y": 3}})
    assert (made.status_code, made.headers["ETag"]) == (201, '"1"')
    assert made.headers["Location"] == f"/v1/gardens/{door.garden}/beds/vat"
    assert made.get_json() == {"id": "vat", "position": {"x": 4.0, "y": 3.0}, "version": 1}
    read = door("GET", "/beds/vat")
    assert (read.get_json(), read.headers["ETag"]) == (made.get_json(), '"1"')


def test_a_change_needs_the_version_that_was_read(door: Door) -> None:
    assert door("PATCH", "/beds/kiln", {"width": 130}).status_code == 428
    for wrong in ('"7"', 'W/"1"', "1", '"x"'):
        refused = door("PATCH", "/beds/kiln", {"width": 130}, If_Match=wrong)
        assert (refused.status_code, refused.get_json()["type"]) == (412, "/problems/changed-meanwhile"), wrong
    changed = door("PATCH", "/beds/kiln", {"width": 130}, If_Match='"1"')
    assert (changed.status_code, changed.headers["ETag"], changed.get_json()["width"]) == (200, '"2"', 130)
    assert door("PATCH", "/beds/kiln", {"width": 140}, If_Match='"1"').status_code == 412
    assert door("PATCH", "/beds/kiln", {"width": 140}, If_Match="*").get_json()["width"] == 140


def test_two_writers_on_one_bed_lose_nothing(door: Door) -> None:
    one, other = (door("GET", "/beds/kiln") for _ in range(2))
    assert door("PATCH", "/beds/kiln", {"width": 90}, If_Match=one.headers["ETag"]).status_code == 200
    assert door("PATCH", "/beds/kiln", {"depth": 40}, If_Match=other.headers["ETag"]).status_code == 412
    again = door("GET", "/beds/kiln")
    assert door("PATCH", "/beds/kiln", {"depth": 40}, If_Match=again.headers["ETag"]).status_code == 200
    row = door("GET", "/beds/kiln").get_json()
    assert (row["width"], row["depth"]) == (90, 40)


def test_what_is_logged_about_a_planting_changes_its_version(door: Door) -> None:
    before = door("GET", "/plantings/cabbage").headers["ETag"]
    logged = door("POST", "/journal", {"did": "note", "bed": "kiln", "planting": "cabbage", "note": "sturdy"})
    assert logged.status_code == 201, logged.get_json()
    assert door("GET", "/plantings/cabbage").headers["ETag"] != before


@pytest.mark.parametrize(
    ("path", "patch", "shown"),
    [
        ("/beds/kiln", {"width": None}, {"width": None}),
        ("/beds/kiln", {"irrigation": {"method": "drip", "lines": 2}}, {"irrigation": {"method": "drip", "lines": 2}}),
        ("/beds/kiln", {"replaces": ["quay"]}, {"replaces": [{"bed": "quay"}]}),
        ("/beds/kiln", {"x-colour": "red"}, {"x-colour": None}),
        ("/plantings/cabbage", {"count": 12, "spacing": "18 in"}, {"count": 12, "spacing": 45.72}),
        ("/plantings/cabbage", {"variety": {"name": "our own", "resists": ["clubroot"]}},
         {"variety": {"name": "our own", "resists": ["clubroot"]}}),
        ("", {"last_spring_frost": "05-04", "soil": {"ph": 6.5}}, {"last_spring_frost": "05-04", "soil": {"ph": 6.5}}),
    ],
)  # fmt: skip
def test_a_merge_patch_sets_merges_and_takes_away(door: Door, path: str, patch: Any, shown: Any) -> None:
    changed = door("PATCH", path, patch, If_Match="*")
    assert changed.status_code == 200, changed.get_json()
    row = door("GET", path).get_json()
    assert {key: row.get(key) for key in shown} == shown
    assert {key: value for key, value in changed.get_json().items() if key != "journal"} == {
        key: value for key, value in row.items() if key != "journal"
    }


def test_a_patch_of_a_group_keeps_its_other_keys(door: Door) -> None:
    drip = {"method": "drip", "emitter_spacing": "30 cm", "lines": 2}
    door("PATCH", "/beds/kiln", {"irrigation": drip}, If_Match="*")
    row = door("PATCH", "/beds/kiln", {"irrigation": {"lines": 3, "emitter_spacing": None}}, If_Match="*").get_json()
    assert row["irrigation"] == {"method": "drip", "lines": 3}


JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.text("ab", max_size=2),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.sampled_from("abc"), inner, max_size=3),
    max_leaves=8,
)


@given(JSON_VALUES, JSON_VALUES)
def test_merge_patch_laws(target: Any, patch: Any) -> None:
    """RFC 7396: the result has no null that the patch brought, and merging it again changes nothing."""
    result = merged(target, patch)
    assert merged(result, patch) == result
    if isinstance(patch, dict):
        for key, value in patch.items():
            assert (key not in result) if value is None else (result[key] == merged(result[key], value))


#: The examples of RFC 7396, appendix A (source: memory; each follows from the text of section 2).
RFC_7396 = [
    ({"a": "b"}, {"a": "c"}, {"a": "c"}),
    ({"a": "b"}, {"b": "c"}, {"a": "b", "b": "c"}),
    ({"a": "b"}, {"a": None}, {}),
    ({"a": "b", "b": "c"}, {"a": None}, {"b": "c"}),
    ({"a": ["b"]}, {"a": "c"}, {"a": "c"}),
    ({"a": "c"}, {"a": ["b"]}, {"a": ["b"]}),
    ({"a": {"b": "c"}}, {"a": {"b": "d", "c": None}}, {"a": {"b": "d"}}),
    ({"a": [{"b": "c"}]}, {"a": [1]}, {"a": [1]}),
    (["a", "b"], ["c", "d"], ["c", "d"]),
    ({"a": "b"}, ["c"], ["c"]),
    ({"a": "foo"}, None, None),
    ({"e": None}, {"a": 1}, {"e": None, "a": 1}),
    ([1, 2], {"a": "b", "c": None}, {"a": "b"}),
    ({}, {"a": {"bb": {"ccc": None}}}, {"a": {"bb": {}}}),
]


@pytest.mark.parametrize(("target", "patch", "result"), RFC_7396)
def test_merge_patch_as_its_standard_shows_it(target: Any, patch: Any, result: Any) -> None:
    assert merged(target, patch) == result


BAD = [
    ("POST", "/beds", {"id": "vat", "lenght": 3, "kind": "rised"}, {"/lenght", "/kind"}),
    ("POST", "/beds", [], {""}),
    ("POST", "/plantings", {"bed": "kilm", "crop": "kalee", "season": "2027"}, {"/bed"}),
    ("POST", "/plantings", {"bed": "kiln", "crop": "kalee", "season": "2027"}, {"/crop"}),
    ("POST", "/plantings", {"bed": "kiln", "crop": "kale"}, {""}),
    ("POST", "/crops", {"id": "oca", "family": "Oxalidacea"}, {"/family"}),
    ("PATCH", "/beds/kiln", {"width": "wide", "turn": 999}, {"/width", "/turn"}),
    ("PATCH", "/beds/kiln", "wide", {""}),
    ("PATCH", "/plantings/cabbage", {"crop": None}, {"/crop"}),
    ("PATCH", "/plantings/cabbage", {"end": "2027-04-01"}, {"/end"}),
    ("PATCH", "", {"time_zone": "Europe/Pariss"}, {"/time_zone"}),
]


@pytest.mark.parametrize(("method", "path", "body", "pointers"), BAD)
def test_what_is_wrong_is_named_by_its_place_and_nothing_is_stored(
    door: Door, method: str, path: str, body: Any, pointers: set[str]
) -> None:
    before = door("GET", "/export").get_data()
    refused = door(method, path, body, If_Match="*")
    assert (refused.status_code, refused.get_json()["type"]) == (422, "/problems/not-written")
    assert {error["pointer"] for error in refused.get_json()["errors"]} == pointers
    assert door("GET", "/export").get_data() == before


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("POST", "/beds", {"id": "kiln"}, 409),
        ("PATCH", "/beds/kiln", {"id": "other"}, 409),
        ("PATCH", "/plantings/kale", {"bed": "quay"}, 409),
        ("DELETE", "/beds/kiln", None, 409),
        ("GET", "/beds/none", None, 404),
        ("PATCH", "/beds/none", {"width": 1}, 404),
        ("DELETE", "/plantings/none", None, 404),
        ("GET", "/plantings/none", None, 404),
        ("GET", "/plantings?cursor=none", None, 400),
        ("GET", "/journal?cursor=none", None, 400),
        ("GET", "/check?season=2140-mud", None, 400),
        ("GET", "/answers?ask=why", None, 400),
        ("GET", "/answers", None, 400),
        ("POST", "/import", {"beds": [{"id": "a"}]}, 409),
        ("PUT", "/beds/kiln", {}, 405),
    ],
)
def test_what_does_not_fit_is_a_problem_with_a_sentence(
    door: Door, method: str, path: str, body: Any, status: int
) -> None:
    refused = door(method, path, body, If_Match="*")
    assert (refused.status_code, refused.content_type) == (status, "application/problem+json")
    assert refused.get_json()["detail"].endswith((".", "?"))


@pytest.mark.parametrize(
    "body",
    [
        {"did": ["sown"]}, {"did": {}}, {"did": 3}, {"did": None}, {}, [], "sown", 3,
        {"did": "sown", "crop": []}, {"did": "sown", "bed": {"a": 1}, "crop": "kale"},
        {"did": "sown", "bed": "kiln", "crop": "kale", "count": 1e30},
        {"did": "note", "bed": "kiln", "note": ["a"]},
        {"did": "sown", "bed": "kiln", "crop": "kale", "date": 5},
    ],
)  # fmt: skip
def test_an_odd_line_is_refused_in_a_sentence_and_nothing_is_stored(door: Door, body: Any) -> None:
    before = door("GET", "/export").get_data()
    refused = door("POST", "/journal", body)
    assert (refused.status_code, refused.get_json()["type"]) == (422, "/problems/not-written")
    assert refused.get_json()["detail"].endswith((".", "?"))
    assert door("GET", "/export").get_data() == before


def test_only_json_is_read(door: Door) -> None:
    refused = door.client.post(f"/v1/gardens/{door.garden}/beds", data="id: vat", headers=door.headers)
    assert refused.status_code == 415
    assert refused.headers["Accept-Post"] == "application/json"
    broken = door.client.post(
        f"/v1/gardens/{door.garden}/beds", data="{", headers=door.headers, content_type="application/json"
    )
    assert (broken.status_code, broken.get_json()["type"]) == (400, "/problems/unreadable")


def test_rows_are_taken_away_when_nothing_hangs_on_them(door: Door) -> None:
    assert door("DELETE", "/plantings/cabbage", If_Match='"1"').status_code == 204
    assert door("GET", "/plantings/cabbage").status_code == 404
    assert door("DELETE", "/beds/quay", If_Match="*").status_code == 204
    assert door("DELETE", "", If_Match="*").status_code == 204
    assert door("GET", "").status_code == 404


def test_a_gardens_own_crop_can_be_planted_and_goes_when_unused(door: Door) -> None:
    assert door("POST", "/crops", {"id": "oca", "family": "Oxalidaceae"}).status_code == 201
    assert door("POST", "/plantings", {"id": "o", "bed": "quay", "crop": "oca", "season": "2027"}).status_code == 201
    assert door("DELETE", "/crops/oca", If_Match="*").status_code == 422
    assert door("DELETE", "/plantings/o", If_Match="*").status_code == 204
    assert door("DELETE", "/crops/oca", If_Match="*").status_code == 204
    assert door("GET", "/crops").get_json()["items"] == []


# -- keys


def test_a_request_that_comes_twice_is_done_once(door: Door) -> None:
    row = {"id": "vat", "name": "Vat house"}
    first, second = (door("POST", "/beds", row, Idempotency_Key='"a-1"') for _ in range(2))
    assert first.status_code == second.status_code == 201
    assert first.get_data() == second.get_data()
    assert first.headers["ETag"] == second.headers["ETag"]
    other = door("POST", "/beds", {"id": "bark"}, Idempotency_Key="a-1")
    assert (other.status_code, other.get_json()["type"]) == (422, "/problems/key-reused")
    assert [bed["id"] for bed in door("GET", "/beds").get_json()["items"]] == ["kiln", "quay", "vat"]


def test_a_request_that_was_refused_may_come_again_with_its_key(door: Door) -> None:
    assert door("POST", "/beds", {"id": "vat", "width": "wide"}, Idempotency_Key="b").status_code == 422
    assert door("POST", "/beds", {"id": "vat", "width": 90}, Idempotency_Key="b").status_code == 201


@pytest.mark.parametrize("key", ["", " ", "two words", "x" * 256, "é"])
def test_a_key_that_is_none_is_refused(door: Door, key: str) -> None:
    refused = door("POST", "/beds", {"id": "vat"}, Idempotency_Key=key)
    assert refused.status_code == 400
    assert "Idempotency-Key" in refused.get_json()["detail"]
