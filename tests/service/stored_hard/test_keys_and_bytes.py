"""Keys that come again, and odd bytes."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from club import World
from hard_door import FORM, PAGE, Door, token_for
from sqlalchemy import update

from service.store.tables import Answered

# -- keys


def test_a_key_is_a_tokens_own(world: World, door: Door) -> None:
    other = Door(world, door.garden, token_for(world, door.garden, "garden_write")[1])
    answers = [one("POST", "/journal", {"did": "note", "note": "rain"}, Idempotency_Key="k") for one in (door, other)]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert len(door.lines()) == 2


def test_a_form_with_the_key_of_another_form_is_told_apart(door: Door) -> None:
    first = door.form(b"did=note&note=one", Idempotency_Key="f")
    assert first.status_code == 201
    assert door.form(b"did=note&note=one", Idempotency_Key="f").get_data() == first.get_data()
    other = door.form(b"did=note&note=two", Idempotency_Key="f")
    assert (other.status_code, other.get_json()["type"]) == (422, "/problems/key-reused")
    assert [line["note"] for line in door.lines()] == ["one"]


@pytest.mark.parametrize("path", ["/plantings/kale", "/beds/quay", ""])
def test_what_was_taken_away_with_a_key_is_so_when_asked_again(door: Door, path: str) -> None:
    for _ in range(2):
        gone = door("DELETE", path, If_Match="*", Idempotency_Key=f"away{path}")
        assert (gone.status_code, gone.get_data()) == (204, b"")
    assert door("DELETE", path, If_Match="*").status_code == 404


def test_a_stale_change_leaves_its_key_free_and_a_done_one_is_remembered(door: Door) -> None:
    assert door("PATCH", "/beds/kiln", {"width": 90}, If_Match='"7"', Idempotency_Key="p").status_code == 412
    done = door("PATCH", "/beds/kiln", {"width": 90}, If_Match='"1"', Idempotency_Key="p")
    assert (done.status_code, done.headers["ETag"]) == (200, '"2"')
    door("PATCH", "/beds/kiln", {"width": 80}, If_Match='"2"')
    again = door("PATCH", "/beds/kiln", {"width": 90}, If_Match='"1"', Idempotency_Key="p")
    assert (again.status_code, again.get_data()) == (200, done.get_data())
    assert door("GET", "/beds/kiln").get_json()["width"] == 80


def test_a_key_is_kept_for_a_day(world: World, door: Door) -> None:
    line = {"did": "note", "note": "rain"}

    def send(age: timedelta) -> int:
        with world.store.write() as session:
            session.execute(update(Answered).values(created_at=datetime.now(UTC) - age))
        assert door("POST", "/journal", line, Idempotency_Key="day").status_code == 201
        return len(door.lines())

    assert [send(age) for age in (timedelta(), timedelta(hours=23, minutes=59), timedelta(hours=24))] == [1, 1, 2]


# -- odd bytes


@pytest.mark.parametrize(
    "name", ["%00", "a%00b", "%0Aevil", "%E2%80%AEevil", "%FF", "%20", "kiln%20", "Kiln", "x" * 2000]
)
def test_a_name_that_no_row_has_is_not_on_record(door: Door, name: str) -> None:
    answers = [
        door.world.client.get(f"/v1/gardens/{name}", headers=door.headers),
        door("GET", f"/beds/{name}"),
        door("PATCH", f"/beds/{name}", {"width": 9}, If_Match="*"),
        door("DELETE", f"/plantings/{name}", If_Match="*"),
        door("DELETE", f"/crops/{name}", If_Match="*"),
    ]
    for answer in answers:
        assert (answer.status_code, answer.get_json()["type"]) == (404, "/problems/not-on-record")
        assert answer.get_json()["detail"].isprintable()
        assert len(answer.get_json()["detail"]) < 100


@pytest.mark.parametrize("path", ["/journal", "/plantings"])
def test_lists_say_when_there_is_no_such_bed(door: Door, path: str) -> None:
    for query in ("bed=kilm", "bed=%00", "bed=%FF"):
        answer = door("GET", f"{path}?{query}")
        assert (answer.status_code, answer.get_json()["type"]) == (404, "/problems/not-on-record"), query
    assert door("GET", f"{path}?bed=quay").get_json() == {"items": [], "next": None}
    assert door("GET", f"{path}?cursor=999999999").get_json() == {"items": [], "next": None}
    assert door("GET", f"{path}?cursor=9999999999").status_code == 400


@pytest.mark.parametrize(
    "body",
    [
        b"did=note&note=a&note=b",
        b"did=note&note=%FF",
        b"\xff",
        b"did=note&" + b"&".join(b"x-%d=1" % i for i in range(100)),
    ],
    ids=["twice", "no utf-8", "no text", "too many"],
)
def test_a_form_that_cannot_be_read_as_meant_is_refused(door: Door, body: bytes) -> None:
    refused = door.form(body)
    assert (refused.status_code, refused.get_json()["type"]) == (400, "/problems/unreadable")
    assert door.lines() == []


def test_a_form_is_read_as_phones_send_it(door: Door) -> None:
    kind = f"{FORM}; charset=UTF-8"
    body = b"did=note&note=caf%C3%A9+ol%C3%A9&bed=&date=today"
    assert door.raw("POST", "/journal", data=body, content_type=kind).status_code == 201
    assert door.lines()[0]["note"] == "café olé"
    latin = door.raw("POST", "/journal", data=b"did=note&note=caf%E9", content_type=f"{FORM}; charset=iso-8859-1")
    assert latin.status_code == 415


def test_the_version_of_a_crop_is_any(door: Door) -> None:
    assert door("POST", "/crops", {"id": "oca", "family": "Oxalidaceae"}).status_code == 201
    assert door("DELETE", "/crops/oca", If_Match='"1"').status_code == 412
    assert door("DELETE", "/crops/oca", If_Match="*").status_code == 204


@pytest.mark.parametrize(
    "header", ["", "Bearer", "Bearer\t{}", "Bearer {} {}", "Basic {}", "{}", "Bearer {},Bearer {}"]
)
def test_what_is_no_token_opens_nothing(world: World, header: str) -> None:
    secret = world.ours.secrets["garden_read"]
    answer = world.client.get(
        f"/v1/gardens/{world.ours.garden}", headers={"Authorization": header.replace("{}", secret)}
    )
    assert answer.status_code == 401
    assert secret not in answer.get_data(as_text=True)


@pytest.mark.parametrize("header", ["bearer {}", "BEARER   {}  "])
def test_a_token_is_taken_in_any_case_and_with_blanks_around(world: World, header: str) -> None:
    headers = {"Authorization": header.format(world.ours.secrets["garden_read"])}
    assert world.client.get(f"/v1/gardens/{world.ours.garden}", headers=headers).status_code == 200


@pytest.mark.parametrize(("origin", "shared"), [(PAGE, PAGE), ("https://other.example", None), ("null", None)])
def test_a_page_of_the_club_may_write_and_no_other(door: Door, origin: str, shared: str | None) -> None:
    wanted = {"authorization", "content-type", "idempotency-key", "if-match"}
    asked = door.world.client.options(
        f"/v1/gardens/{door.garden}/beds/kiln",
        headers={
            "Origin": origin,
            "Access-Control-Request-Method": "PATCH",
            "Access-Control-Request-Headers": ", ".join(sorted(wanted)),
        },
    )
    assert (asked.status_code, asked.headers.get("Access-Control-Allow-Origin")) == (200, shared)
    if shared:
        assert {word.strip() for word in asked.headers["Access-Control-Allow-Headers"].split(",")} == wanted
        assert "PATCH" in asked.headers["Access-Control-Allow-Methods"]
    for answer in (door("GET", "/beds", Origin=origin), door("GET", "/beds", Origin=origin, Authorization="")):
        assert answer.headers.get("Access-Control-Allow-Origin") == shared
        assert "Origin" in answer.headers["Vary"]
        assert ("ETag" in answer.headers.get("Access-Control-Expose-Headers", "")) == (shared is not None)
