"""The tasks of a plan: their days, their keys, and what they leave out."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from tiny_plans import grew, plan_of

from rules import load_knowledge
from rules.model import Window
from rules.planning.tasks import Task, tasks

KNOWN = load_knowledge()
SEASON = Window(date(2026, 11, 20), date(2027, 10, 31))
CABBAGE = grew("kiln", "cabbage", "2027-04-20", "2027-09-30", id="c", method="transplant", first_harvest="2027-07-20")
NET = {"bed": "kiln", "kind": "net", "mesh": 0.8, "start": "2027-04-20", "end": "2027-07-15", "edges": "shut"}


def made(*plantings: Any, window: Window = SEASON, **parts: Any) -> list[Task]:
    parts.setdefault("beds", ["kiln", "quay"])
    return tasks(plan_of(*plantings, judge="2027", **parts), window, KNOWN)


def days(found: list[Task], kind: str) -> list[date]:
    return [task.day for task in found if task.kind == kind]


def test_a_planting_is_set_picked_and_cleared() -> None:
    found = made(CABBAGE)
    assert days(found, "plant") == [date(2027, 4, 20)]
    assert days(found, "pick") == [date(2027, 7, 20)]
    assert days(found, "clear") == [date(2027, 9, 30)]
    assert next(task.title for task in found if task.kind == "plant") == "Plant out cabbages in bed kiln"


def test_a_cover_goes_on_is_looked_under_and_comes_off() -> None:
    found = made(CABBAGE, covers=[NET])
    assert days(found, "cover-on") == [date(2027, 4, 20)]
    under = next(task for task in found if task.kind == "look-under")
    assert (under.day, under.every) == (date(2027, 4, 27), 7)
    assert days(found, "cover-off") == [under.until]
    assert days(found, "cover-open") == []  # cabbages need no insects


def test_a_cover_over_flowers_is_opened() -> None:
    squash = grew("kiln", "winter_squash", "2027-05-20", "2027-09-30", first_harvest="2027-08-20", id="s")
    net = {"bed": "kiln", "kind": "net", "mesh": 1, "start": "2027-05-20"}
    assert days(made(squash, covers=[net]), "cover-open") == [date(2027, 7, 21)]
    known = {**net, "open_by_day_from": "2027-07-01"}
    assert days(made(squash, covers=[known]), "cover-open") == [date(2027, 7, 1)]


def test_looks_are_weekly_from_the_first_week() -> None:
    look = next(task for task in made(CABBAGE) if task.kind == "look")
    assert (look.day, look.every, look.until) == (date(2027, 4, 27), 7, date(2027, 6, 15))
    assert "cabbage aphid" in look.title


def test_a_spray_is_looked_at_again_and_its_wait_ends_by_the_label() -> None:
    spray = {"bed": "kiln", "date": "2027-06-01", "active": "azadirachtin", "harvest_interval": 3}
    found = made(CABBAGE, treatments=[spray])
    assert days(found, "renew") == [date(2027, 6, 8)]
    assert days(found, "wait-over") == [date(2027, 6, 4)]
    del spray["harvest_interval"]
    assert days(made(CABBAGE, treatments=[spray]), "wait-over") == []


def test_no_task_falls_on_a_made_up_day() -> None:
    strawberries = grew("kiln", "strawberry", "2024-04-05", status="growing", id="s")
    by_year = grew("quay", "onion_bulb", "2027", id="o")
    done = grew("quay", "kale", "2026-05-10", "2026-10-31", status="done")
    found = made(strawberries, by_year, done)
    assert [task for task in found if task.kind in ("plant", "clear", "pick")] == []


def test_only_the_window_counts_and_the_order_is_by_day() -> None:
    july = Window(date(2027, 7, 1), date(2027, 7, 31))
    found = made(CABBAGE, covers=[NET], window=july)
    assert {task.kind for task in found} == {"pick", "cover-off", "look-under"}
    assert [task.day for task in found] == sorted(task.day for task in found)


SPRAY = {"bed": "kiln", "date": "2027-06-01", "active": "azadirachtin"}


@pytest.mark.parametrize(
    "more",
    [
        {"plantings": [grew("quay", "leek", "2027-02-01", "2027-09-01", id="a")]},
        {"covers": [{"bed": "quay", "kind": "net", "mesh": 1, "start": "2027-01-01"}]},
        {"treatments": [{"bed": "quay", "date": "2027-05-01", "active": "spinosad"}]},
    ],
    ids=["planting", "cover", "treatment"],
)
def test_what_is_added_elsewhere_changes_no_key(more: dict[str, list[Any]]) -> None:
    onions = grew("quay", "onion_bulb", "2027-03-01", "2027-08-01", id="o")
    before = {t.key for t in made(CABBAGE, onions, covers=[NET], treatments=[SPRAY])}
    after = {
        task.key
        for task in made(
            *more.get("plantings", []),
            CABBAGE,
            onions,
            covers=[*more.get("covers", []), NET],
            treatments=[*more.get("treatments", []), SPRAY],
        )
    }
    assert before < after


def test_keys_are_told_apart() -> None:
    twice = [SPRAY, {**SPRAY, "active": "spinosad"}]
    nets = [NET, {**NET, "mesh": 0.6}]
    keys = [task.key for task in made(CABBAGE, covers=nets, treatments=twice)]
    assert len(keys) == len(set(keys))


def test_a_treatment_told_twice_is_one_task() -> None:
    assert len(days(made(CABBAGE, treatments=[SPRAY, dict(SPRAY)]), "renew")) == 1
