"""The phone's door over HTTP: which methods it takes, what it does with languages, and what its errors say."""

from __future__ import annotations

import pytest
from club import World, make_world


@pytest.fixture(scope="module")
def world() -> World:
    there = make_world()
    bed = {"id": "kiln", "name": "Kiln bed"}
    made = there.client.post(
        f"/v1/gardens/{there.ours.garden}/beds", json=bed, headers=there.ours.headers("garden_write")
    )
    assert made.status_code == 201
    return there


def ask(world: World, query: str, method: str = "GET", **headers: str):  # type: ignore[no-untyped-def]
    return world.client.open(
        f"/v1/gardens/{world.ours.garden}/answers?{query}",
        method=method,
        headers=world.ours.headers("garden_read", **headers),
    )


QUESTION = "ask=may&crop=a+cabbage&bed=the+kiln+bed&date=25%2F3%2F2030"
SENTENCE = "Yes, as far as is known, cabbages may go in Kiln bed on 25 March 2030, but Kiln bed has no record for"


def test_words_of_people_come_through_the_address(world: World) -> None:
    got = ask(world, QUESTION)
    assert (got.status_code, got.mimetype) == (200, "text/plain")
    assert got.get_data(as_text=True).startswith(SENTENCE)
    assert ask(world, QUESTION, Accept="application/json").get_json()["ok"] is True


def test_a_day_in_words_is_counted_in_the_gardens_zone(world: World) -> None:
    for word in ("tomorrow", "1+March", "next+week", "in+10+days"):
        said = ask(world, f"ask=may&crop=garlic&bed=kiln&date={word}").get_data(as_text=True)
        assert said.startswith("Yes, "), said
    assert ask(world, "ask=due&date=1%2F3").get_data(as_text=True).startswith("1 3 can be 1 March or 3 January")


def test_a_language_asked_for_changes_nothing(world: World) -> None:
    plain = ask(world, QUESTION)
    for language in ("fr", "*", "de-DE,de;q=0.9", "nonsense;;q"):
        got = ask(world, QUESTION, **{"Accept-Language": language})
        assert (got.status_code, got.data) == (200, plain.data)


def test_head_is_an_answer_without_its_body(world: World) -> None:
    got = ask(world, QUESTION, "HEAD")
    assert (got.status_code, got.data, got.mimetype) == (200, b"", "text/plain")


@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE"])
def test_another_method_is_refused_in_a_sentence_and_told_which_work(world: World, method: str) -> None:
    got = ask(world, QUESTION, method)
    assert got.status_code == 405
    assert got.get_json()["detail"].endswith(".")
    assert {"GET", "HEAD"} <= set(got.headers["Allow"].split(", "))


@pytest.mark.parametrize(
    ("query", "parameter", "detail"),
    [
        (f"ask=may&bed=kiln&crop={'x' * 81}", "crop", "At most 80 characters."),
        (f"ask=due&date={'9' * 41}", "date", "At most 40 characters."),
        ("ask=may&crop=a&crop=b&bed=kiln", "crop", "It stands twice; once is enough."),
    ],
)
def test_a_bad_parameter_is_named_in_plain_words(world: World, query: str, parameter: str, detail: str) -> None:
    got = ask(world, query)
    assert got.status_code == 400
    assert [(one["parameter"], one["detail"]) for one in got.get_json()["errors"]] == [(parameter, detail)]
