"""The pictures of a stored garden over HTTP: who may see them, and what is sent only once."""

from __future__ import annotations

from datetime import date

import pytest
from club import make_world
from drawn import SVG, parsed

import rules
from service.pictures import map_svg, style_source, timeline_svg
from service.planfile import DEMO
from service.reading import read_plan
from service.resources import recorded, writing

TODAY = date(2026, 11, 20)
PATHS = ("map.svg", "timeline.svg")


@pytest.fixture(scope="module")
def world():
    return make_world()


@pytest.fixture(autouse=True)
def _one_day(monkeypatch):
    for module in (recorded, writing):
        monkeypatch.setattr(module, "today", lambda zone: TODAY)


@pytest.fixture(scope="module")
def get(world):
    """Asks for a picture of a garden that holds the demo, as its club's website would."""
    admin = world.ours.headers("club_admin")
    sent = world.client.post(
        f"/v1/gardens/{world.ours.garden}/import",
        data=DEMO.read_bytes(),
        headers={**admin, "Content-Type": "text/yaml"},
    )
    assert sent.status_code == 201, sent.text

    def asked(path, scope="publishable_read", **headers):
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        where = f"/v1/gardens/{world.ours.garden}/{path}"
        return world.client.get(where, headers={**world.ours.headers(scope), **words})

    return asked


def test_they_are_the_ordinary_pictures_of_the_ordinary_check(get):
    knowledge = rules.load_knowledge()
    plan = read_plan(DEMO.read_bytes(), "yaml", today=lambda _: TODAY, season=None, knowledge=knowledge)
    report = rules.check(plan, knowledge)
    answer = get("map.svg?day=2027-07-01")
    assert answer.status_code == 200
    assert answer.content_type == "image/svg+xml; charset=utf-8"
    assert parsed(answer.text).find(f"{SVG}desc").text == _desc(map_svg(plan, report, knowledge, day=date(2027, 7, 1)))
    answer = get("timeline.svg?years=5&season=2027")
    assert parsed(answer.text).find(f"{SVG}desc").text == _desc(timeline_svg(plan, report, knowledge, years=5))


def _desc(svg):
    return parsed(svg).find(f"{SVG}desc").text


@pytest.mark.parametrize("path", PATHS)
def test_what_the_client_has_is_not_sent_again(get, path):
    first = get(path)
    tag = first.headers["ETag"]
    again = get(path, If_None_Match=tag)
    assert (first.status_code, again.status_code, again.data) == (200, 304, b"")
    assert get(f"{path}?season=2026", If_None_Match=tag).status_code == 200
    assert f"style-src {style_source()}" in first.headers["Content-Security-Policy"]
    assert "script" not in first.headers["Content-Security-Policy"]


@pytest.mark.parametrize("path", PATHS)
def test_who_may_see_them(world, get, path):
    where = f"/v1/gardens/{world.ours.garden}/{path}"
    assert world.client.get(where).status_code == 401
    assert world.client.get(where, headers=world.theirs.headers("club_admin")).status_code == 404
    assert get(path, "garden_read").status_code == 200


@pytest.mark.parametrize(("path", "status", "parameter"), [
    ("map.svg?day=2027-02-30", 422, "day"), ("map.svg?day=today", 400, "day"), ("map.svg?years=3", 400, "years"),
    ("timeline.svg?years=21", 400, "years"), ("timeline.svg?years=0", 400, "years"),
    ("timeline.svg?day=2027-07-01", 400, "day"), ("map.svg?season=some", 400, "season"),
])  # fmt: skip
def test_what_is_asked_wrongly_is_named(get, path, status, parameter):
    answer = get(path)
    assert answer.status_code == status
    assert [error["parameter"] for error in answer.get_json()["errors"]] == [parameter]


def test_a_garden_without_beds_has_no_picture(world):
    admin = world.ours.headers("club_admin")
    for path in PATHS:
        answer = world.client.get(f"/v1/gardens/{world.ours.second}/{path}", headers=admin)
        assert answer.status_code == 409
        assert "no beds" in answer.get_json()["detail"]
