"""The record over HTTP on bad days: many at once, keys that come again, odd bytes, a database that is away."""

from __future__ import annotations

import io
import json
import os
import shutil
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime, timedelta
from threading import Barrier
from typing import Any

import pytest
from club import NOW, World, make_world
from databases import run_alone, url_text
from sqlalchemy import text, update
from werkzeug.test import TestResponse

from service.app import build
from service.config import Config
from service.resources import recorded
from service.state import KEY
from service.store.session import Store
from service.store.tables import Answered
from service.store.tokens import create_token, revoke_token

AT_ONCE = 6
FORM = "application/x-www-form-urlencoded"
JSON = "application/json"
PAGE = "https://plots.example"


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def world(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """An application on a database of its own, of each kind."""
    if request.param == "sqlite":
        path = tmp_path_factory.mktemp("hard") / "record.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        world = make_world(f"sqlite:///{path}", cors_origins=(PAGE,))
        yield world
        _close(world)
        return
    server, name = request.getfixturevalue("postgres"), f"hard_{uuid.uuid4().hex[:12]}"
    run_alone(server, f"CREATE DATABASE {name} TEMPLATE {request.getfixturevalue('postgres_template')}")
    world = make_world(url_text(server.set(database=name)), cors_origins=(PAGE,))
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


# -- what happens while a request is under way


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


def token_for(world: World, garden: str, scope: str) -> tuple[str, dict[str, str]]:
    with world.store.write() as session:
        token, secret = create_token(session, world.ours.club, scope, garden_id=garden, now=NOW)
        return token.id, {"Authorization": f"Bearer {secret}"}


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


# -- what is remembered


def test_another_worker_tells_what_this_one_wrote(world: World, door: Door) -> None:
    other = build(Config(checks_per_minute=0, database_url=_url(world))).test_client()
    path = f"/v1/gardens/{door.garden}/check?season=2027"
    before = other.get(path, headers=door.headers)
    assert before.headers["ETag"] == door("GET", "/check?season=2027").headers["ETag"]
    door("POST", "/plantings", {"id": "again", "bed": "kiln", "crop": "cabbage", "season": "2027"})
    after = other.get(path, headers={**door.headers, "If-None-Match": before.headers["ETag"]})
    assert after.status_code == 200
    assert after.get_data() == door("GET", "/check?season=2027").get_data() != before.get_data()
    other.application.extensions[KEY].store.close()


def test_a_new_day_is_a_new_answer(door: Door, monkeypatch: pytest.MonkeyPatch) -> None:
    tags = []
    for day in (date(2026, 11, 20), date(2026, 11, 21)):
        monkeypatch.setattr(recorded, "today", lambda zone, day=day: day)
        answer = door("GET", "/check")
        assert answer.get_json()["as_of"] == day.isoformat()
        tags.append(answer.headers["ETag"])
    assert tags[0] != tags[1]


def test_a_tag_that_a_proxy_made_weak_still_saves_the_answer(door: Door) -> None:
    for path in ("/beds", "/check", "/map.svg", "/export"):
        tag = door("GET", path).headers["ETag"]
        again = door("GET", path, If_None_Match=f'"other", W/{tag}')
        assert (again.status_code, again.get_data()) == (304, b""), path
        assert "Content-Type" not in again.headers


def test_no_tag_of_one_scope_is_good_for_another(world: World, door: Door) -> None:
    readers = [
        Door(world, door.garden, token_for(world, door.garden, s)[1]) for s in ("publishable_read", "garden_read")
    ]
    for path in ("/beds", "/plantings", "/check", "/map.svg"):
        tag = readers[1]("GET", path).headers["ETag"]
        assert readers[0]("GET", path, If_None_Match=tag).status_code == 200, path


def test_a_publishable_token_is_told_what_a_page_shows_and_no_more(world: World) -> None:
    admin = world.ours.headers("club_admin")
    garden = world.client.post("/v1/gardens", json={}, headers=admin).get_json()["id"]
    owner = Door(world, garden, admin)
    private = {"site": "SECRET-site", "latitude": 46.2345, "longitude": 6.6789, "x-owner": "SECRET-owner"}
    plan = {
        "x-plan": "SECRET-plan",
        "garden": {"name": "Plot 9", **private},
        "beds": [{"id": "kiln", "x-bed": "SECRET-bed"}],
        "plantings": [{"id": "kale", "bed": "kiln", "crop": "kale", "season": "2027", "x-mine": "SECRET-mine"}],
    }
    assert owner("POST", "/import", plan).status_code == 201
    assert owner("POST", "/journal", {"did": "note", "bed": "kiln", "note": "SECRET-note"}).status_code == 201
    shown = Door(world, garden, token_for(world, garden, "publishable_read")[1])
    paths = (
        "",
        "/beds",
        "/beds/kiln",
        "/plantings",
        "/plantings/kale",
        "/check",
        "/board",
        "/map.svg",
        "/timeline.svg",
    )
    for path in paths:
        answer = shown("GET", path)
        assert answer.status_code == 200, path
        assert not [word for word in ("SECRET", "46.23", "6.678") if word in answer.get_data(as_text=True)], path
    for path in ("/journal", "/export", "/plantings.csv", "/answers?ask=due", "/calendar.ics"):
        assert shown("GET", path).status_code == 403, path


# -- bad days


def _url(world: World) -> str:
    return url_text(world.store.url)


@pytest.fixture
def bad_day(new_url: Callable[[], str]) -> Iterator[tuple[World, Door]]:
    """A world that may be broken."""
    world = make_world(new_url())
    yield world, Door(world, world.ours.garden, world.ours.headers("club_admin"))
    _close(world)


def unavailable(answer: TestResponse, kind: str = "record-unavailable") -> None:
    assert (answer.status_code, answer.get_json()["type"]) == (503, f"/problems/{kind}")
    assert int(answer.headers["Retry-After"]) >= 1


def test_a_table_that_is_gone_is_no_fault_of_the_request(bad_day: tuple[World, Door]) -> None:
    world, door = bad_day
    with world.store.write() as session:
        session.execute(text("ALTER TABLE grounds RENAME TO elsewhere"))
    unavailable(door("GET", "/export"))
    unavailable(door("POST", "/beds", {"id": "kiln"}))


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
@pytest.mark.parametrize("happens", ["removed", "replaced", "broken"])
def test_a_file_that_is_taken_away_takes_no_writes(bad_day: tuple[World, Door], happens: str) -> None:
    world, door = bad_day
    assert door("POST", "/beds", {"id": "before"}).status_code == 201
    path = str(world.store.url.database)
    _close(world)
    if happens == "broken":
        with open(path, "r+b") as file:
            file.seek(4096)
            file.write(b"\xff" * 4096 * 20)
    else:
        assert door("GET", "/beds/before").status_code == 200  # it has the file open
        copy = shutil.copy(path, f"{path}.copy")
        os.remove(path)
        if happens == "replaced":
            os.replace(copy, path)
    late = door("POST", "/beds", {"id": "late"})
    if happens == "replaced":
        assert late.status_code == 201
        _close(world)
        assert door("GET", "/beds/late").status_code == 200
    else:
        unavailable(late)


#: What PostgreSQL says, and what we make of it.
TOLD = {
    "57014": "busy",  # query_canceled: statement_timeout
    "40001": "busy",  # serialization_failure
    "40P01": "busy",  # deadlock_detected
    "25006": "record-unavailable",  # read_only_sql_transaction
    "0A000": "record-unavailable",  # feature_not_supported: a standby is asked to write
    "42501": "record-unavailable",  # insufficient_privilege
}


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_a_server_that_cannot_write_now_asks_to_come_again(bad_day: tuple[World, Door]) -> None:
    world, door = bad_day
    raises = (
        "CREATE OR REPLACE FUNCTION fails() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'no' USING ERRCODE = '{}'; END $$"
    )
    with world.store.write() as session:
        session.execute(text(raises.format("57014")))
        session.execute(text("CREATE TRIGGER bad_day BEFORE INSERT ON beds FOR EACH ROW EXECUTE FUNCTION fails()"))
    for code, kind in TOLD.items():
        with world.store.write() as session:
            session.execute(text(raises.format(code)))
        unavailable(door("POST", "/beds", {"id": "late"}), kind)


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_a_server_that_was_restarted_is_found_again(bad_day: tuple[World, Door]) -> None:
    world, door = bad_day
    assert door("GET", "/beds").status_code == 200
    world.store.close()
    ended = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{}' AND pid <> pg_backend_pid()"
    run_alone(_record(world).url, ended.format(world.store.url.database))
    assert door("POST", "/beds", {"id": "after"}).status_code == 201
