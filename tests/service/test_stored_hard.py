"""The record over HTTP on bad days: many at once, keys that come again, odd bytes, a database that is away."""

from __future__ import annotations

import json
import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from club import World, make_world
from databases import run_alone, url_text
from sqlalchemy import text
from werkzeug.test import TestResponse

from service.state import KEY
from service.store.session import Store
from service.store.tokens import create_token, revoke_token

AT_ONCE = 6
FORM = "application/x-www-form-urlencoded"
JSON = "application/json"


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def world(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """An application on a database of its own, of each kind."""
    if request.param == "sqlite":
        path = tmp_path_factory.mktemp("hard") / "record.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        world = make_world(f"sqlite:///{path}")
        yield world
        _close(world)
        return
    server, name = request.getfixturevalue("postgres"), f"hard_{uuid.uuid4().hex[:12]}"
    run_alone(server, f"CREATE DATABASE {name} TEMPLATE {request.getfixturevalue('postgres_template')}")
    world = make_world(url_text(server.set(database=name)))
    yield world
    _close(world)
    run_alone(server, f"DROP DATABASE {name} WITH (FORCE)")


def _close(world: World) -> None:
    world.store.close()
    _record(world).close()


def _record(world: World) -> Store:
    """The store of the application itself."""
    store: Store = world.app.extensions[KEY].store
    return store


class Door:
    """A garden and a token, to speak to it shortly."""

    def __init__(self, world: World, garden: str, headers: dict[str, str]) -> None:
        self.world, self.garden, self.headers = world, garden, headers

    def __call__(self, method: str, path: str = "", body: Any = None, **headers: str) -> TestResponse:
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        sent: dict[str, Any] = {} if body is None else {"json": body}
        return self.raw(method, path, words, **sent)

    def raw(self, method: str, path: str, headers: dict[str, str] | None = None, **sent: Any) -> TestResponse:
        return self.world.client.open(
            f"/v1/gardens/{self.garden}{path}", method=method, headers={**self.headers, **(headers or {})}, **sent
        )

    def form(self, body: bytes, **headers: str) -> TestResponse:
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.raw("POST", "/journal", words, data=body, content_type=FORM)

    def lines(self) -> list[dict[str, Any]]:
        items: list[dict[str, Any]] = self("GET", "/journal?limit=200").get_json()["items"]
        return items


@pytest.fixture
def door(world: World) -> Door:
    """A new garden with two beds and a planting."""
    admin = world.ours.headers("club_admin")
    made = world.client.post("/v1/gardens", json={"name": "Tannery Row Plots"}, headers=admin)
    door = Door(world, made.get_json()["id"], admin)
    for path, row in (
        ("/beds", {"id": "kiln", "name": "Kiln bed", "width": 120}),
        ("/beds", {"id": "quay"}),
        ("/plantings", {"id": "kale", "bed": "kiln", "crop": "kale", "season": "2025"}),
    ):
        assert door("POST", path, row).status_code == 201
    return door


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
