"""Many writers at once, and what happens while a request is under way."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from club import NOW, World
from hard_door import Door, token_for
from werkzeug.test import TestResponse

from service.store.tokens import revoke_token

AT_ONCE = 6
JSON = "application/json"


def together(work: Callable[[int], TestResponse], times: int = AT_ONCE) -> list[TestResponse]:
    """Do it in as many threads, all beginning at the same moment."""
    begin = Barrier(times)

    def one(number: int) -> TestResponse:
        begin.wait()
        return work(number)

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


# -- many at once


@pytest.mark.parametrize("path", ["", "/beds/kiln", "/plantings/kale"])
def test_of_changes_to_one_version_one_stands(door: Door, path: str) -> None:
    version = door("GET", path).headers["ETag"]
    key = "count" if path.startswith("/plant") else "name"
    values = [f"Plot {number}" if key == "name" else 10 + number for number in range(AT_ONCE)]
    answers = together(lambda number: door("PATCH", path, {key: values[number]}, If_Match=version))
    assert sorted(answer.status_code for answer in answers) == [200] + [412] * (AT_ONCE - 1)
    won = next(number for number, answer in enumerate(answers) if answer.status_code == 200)
    assert door("GET", path).get_json()[key] == values[won]


@pytest.mark.parametrize("path", ["", "/beds/kiln"])
def test_changes_to_any_version_follow_each_other_and_lose_nothing(door: Door, path: str) -> None:
    soils = [{"ph": 6.1}, {"texture": "loam"}, {"drainage": "good"}]
    answers = together(lambda number: door("PATCH", path, {"soil": soils[number]}, If_Match="*"), len(soils))
    assert [answer.status_code for answer in answers] == [200] * len(soils), [one.get_json() for one in answers]
    assert door("GET", path).get_json()["soil"] == {"ph": 6.1, "texture": "loam", "drainage": "good"}
    assert sorted(answer.headers["ETag"] for answer in answers)[-1] == door("GET", path).headers["ETag"]


def test_of_rows_with_one_id_one_stands(door: Door) -> None:
    answers = together(lambda number: door("POST", "/beds", {"id": "vat", "width": 10 + number}))
    assert sorted(answer.status_code for answer in answers) == [201] + [409] * (AT_ONCE - 1)
    won = next(answer for answer in answers if answer.status_code == 201)
    assert door("GET", "/beds/vat").get_json() == won.get_json()


def test_plantings_without_an_id_are_each_named(door: Door) -> None:
    row = {"bed": "quay", "crop": "leek", "season": "2027"}
    answers = together(lambda number: door("POST", "/plantings", row))
    assert [answer.status_code for answer in answers] == [201] * AT_ONCE
    assert len({answer.get_json()["id"] for answer in answers}) == AT_ONCE


def test_of_imports_into_one_garden_one_is_taken(world: World) -> None:
    admin = world.ours.headers("club_admin")
    garden = world.client.post("/v1/gardens", json={}, headers=admin).get_json()["id"]
    door = Door(world, garden, admin)
    answers = together(lambda number: door("POST", "/import", {"beds": [{"id": f"bed{number}"}]}), 3)
    assert sorted(answer.status_code for answer in answers) == [201, 409, 409]
    assert len(door("GET", "/beds").get_json()["items"]) == 1


def test_each_undo_takes_back_a_line_of_its_own(door: Door) -> None:
    for number in range(AT_ONCE):
        assert door("POST", "/journal", {"did": "note", "note": f"line {number}"}).status_code == 201
    answers = together(lambda number: door("POST", "/journal", {"did": "undo"}))
    assert [answer.status_code for answer in answers] == [201] * AT_ONCE, [one.get_json() for one in answers]
    assert len({answer.get_json()["line"]["corrects"] for answer in answers}) == AT_ONCE


def test_twins_with_one_key_are_one_line(door: Door) -> None:
    line = {"did": "note", "note": "the gate sticks"}
    answers = together(lambda number: door("POST", "/journal", line, Idempotency_Key="twin"))
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.get_data() for answer in answers}) == 1
    assert len(door.lines()) == 1


def test_a_page_after_page_misses_nothing_that_is_added_meanwhile(door: Door) -> None:
    seen: list[int] = []
    path = "/journal?limit=2"
    for number in range(5):
        assert door("POST", "/journal", {"did": "note", "note": f"before {number}"}).status_code == 201
    added = 0
    while path:
        page = door("GET", path).get_json()
        seen += [line["id"] for line in page["items"]]
        if added < 4:
            together(lambda number: door("POST", "/journal", {"did": "note", "note": "meanwhile"}), 2)
            added += 2
        path = page["next"] and page["next"].partition(door.garden)[2]
    assert seen == [line["id"] for line in door.lines()]
    assert len(seen) == 9


class Slow(io.BytesIO):
    """A body that takes so long to come that something happens before its end."""

    def __init__(self, body: bytes, meanwhile: Callable[[], object]) -> None:
        super().__init__(body)
        self.meanwhile: Callable[[], object] | None = meanwhile

    def readinto(self, buffer: Any) -> int:
        happens, self.meanwhile = self.meanwhile, None
        if happens is not None:
            with ThreadPoolExecutor(1) as other:  # a request of its own, beside this one
                other.submit(happens).result()
        return super().readinto(buffer)


def slowly(door: Door, path: str, row: Any, meanwhile: Callable[[], object], **headers: str) -> TestResponse:
    body = json.dumps(row).encode()
    words = {name.replace("_", "-"): value for name, value in headers.items()}
    stream = Slow(body, meanwhile)
    return door.raw("POST", path, words, input_stream=stream, content_length=len(body), content_type=JSON)


# -- what happens while a request is under way


@pytest.mark.parametrize("headers", [{}, {"Idempotency_Key": "late"}], ids=["plain", "with key"])
def test_a_token_that_is_revoked_meanwhile_writes_nothing(world: World, door: Door, headers: dict[str, str]) -> None:
    token, bearer = token_for(world, door.garden, "garden_write")

    def revoke() -> None:
        with world.store.write() as session:
            revoke_token(session, token, now=NOW)

    answer = slowly(Door(world, door.garden, bearer), "/beds", {"id": "late"}, revoke, **headers)
    assert (answer.status_code, answer.get_json()["type"]) == (401, "/problems/token-needed")
    assert door("GET", "/beds/late").status_code == 404


@pytest.mark.parametrize("headers", [{}, {"Idempotency_Key": "late"}], ids=["plain", "with key"])
@pytest.mark.parametrize(("scope", "status"), [("garden_write", 401), ("club_admin", 404)])
def test_a_garden_that_is_taken_away_meanwhile(
    world: World, door: Door, headers: dict[str, str], scope: str, status: int
) -> None:
    bearer = token_for(world, door.garden, scope)[1] if scope == "garden_write" else door.headers
    answer = slowly(
        Door(world, door.garden, bearer), "/journal", {"did": "note", "note": "rain"},
        lambda: door("DELETE", If_Match="*"), **headers,
    )  # fmt: skip
    assert answer.status_code == status, answer.get_json()
    assert door("GET").status_code == 404


def test_who_writes_and_who_takes_the_garden_away_do_not_wait_in_a_circle(world: World, door: Door) -> None:
    doors = [Door(world, door.garden, token_for(world, door.garden, "garden_write")[1]) for _ in range(AT_ONCE)]

    def work(number: int) -> TestResponse:
        if number == 0:
            return door("DELETE", If_Match="*")
        line = {"did": "note", "note": f"line {number}"}
        return doors[number]("POST", "/journal", line, Idempotency_Key="k")

    taken, *others = together(work)
    assert taken.status_code == 204
    assert {answer.status_code for answer in others} <= {201, 401, 404}
    assert door("GET").status_code == 404


def test_a_garden_goes_with_all_that_hangs_on_it(world: World, door: Door) -> None:
    _, calendar = token_for(world, door.garden, "calendar")
    link = f"/calendar.ics?key={calendar['Authorization'].removeprefix('Bearer ')}"
    writer = Door(world, door.garden, token_for(world, door.garden, "garden_write")[1])
    for line in (
        {"did": "sown", "bed": "quay", "crop": "leek"},
        {"did": "lost", "bed": "quay", "crop": "leek", "cause": "slugs"},
        {"did": "resown", "bed": "quay", "crop": "leek"},
        {"did": "undo"},
    ):
        assert writer("POST", "/journal", line, Idempotency_Key=f"{line['did']}").status_code == 201
    assert door("POST", "/beds", {"id": "yard", "replaces": ["quay"]}).status_code == 201
    assert door.raw("GET", link, {"Authorization": ""}).status_code == 200
    assert door("DELETE", If_Match="*").status_code == 204
    assert door.raw("GET", link, {"Authorization": ""}).status_code == 404
    assert writer("GET").status_code == 401
