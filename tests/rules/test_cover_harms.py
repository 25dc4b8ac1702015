"""What a cover may harm: flowers, animals, and crops in the heat."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from covered import KNOWLEDGE, NORTH, SOUTH, SOWN, context_of, over, row, told
from tiny_plans import plan_of

from rules.checks.context import Context
from rules.checks.cover_faults import first_flower

# -- flowers


def test_flower_from_the_users_first_harvest() -> None:
    context = context_of(row("zucchini", first_harvest=date(2027, 7, 20)))
    assert first_flower(context.plantings["p"], 30) == date(2027, 6, 20)


def test_flower_is_never_before_the_planting() -> None:
    context = context_of(row("zucchini", first_harvest=SOWN + timedelta(10)))
    assert first_flower(context.plantings["p"], 30) == SOWN


def test_flower_is_not_known_for_a_bare_year() -> None:
    plan = plan_of({"bed": "a", "id": "p", "crop": "zucchini", "season": "2027"}, garden=NORTH, knowledge=KNOWLEDGE)
    assert first_flower(Context(plan, KNOWLEDGE).plantings["p"], 30) is None


COURGETTES = row("zucchini", first_harvest=date(2027, 7, 20))


@pytest.mark.parametrize(
    ("given_cover", "told_of"),
    [
        (over(), True),
        (over(open_by_day_from=date(2027, 6, 20)), False),
        (over(open_by_day_from=date(2027, 6, 21)), True),
        (over(end=date(2027, 6, 20)), False),
        (over(end=date(2027, 6, 21)), True),
        (over(open_by_day_from=date(2027, 8, 1), end=date(2027, 6, 1)), False),
        (over("fleece", None), True),
        (over("fence", 1.0), False),
        (over("cage", 20), False),
        (over(mesh=20), False),
        (over(mesh=5), True),
    ],
)
def test_open_by_the_first_flower(given_cover: dict[str, Any], told_of: bool) -> None:
    assert ("flowers-shut-in" in told(COURGETTES, covers=[given_cover])) is told_of


def test_fleece_against_autumn_frost_is_not_told() -> None:
    assert "flowers-shut-in" not in told(COURGETTES, covers=[over("fleece", None, date(2027, 9, 15))])


def test_strawberries_flower_again_each_year() -> None:
    old = row("strawberry", date(2025, 8, 20), date(2029, 10, 1), first_harvest=date(2026, 6, 10))
    shut = told(old, covers=[over(start=date(2027, 4, 1), end=date(2027, 7, 20))])
    assert shut["flowers-shut-in"].because["flower_about"] == date(2027, 5, 11)
    at_fruit = told(old, covers=[over(start=date(2027, 5, 25), end=date(2027, 7, 20))])
    assert "flowers-shut-in" not in at_fruit


# -- animals


def test_a_wide_net_over_old_strawberries_is_told_as_well() -> None:
    old = row("strawberry", date(2024, 4, 1), date(2029, 10, 1))
    wide = over(mesh=15, start=date(2027, 9, 20), end=date(2028, 1, 20))
    assert "net-catches-animals" in told(old, covers=[wide], garden=NORTH)
    victoria = told(old, covers=[wide], garden=SOUTH | {"country": "AU-VIC"})
    assert set(victoria) & {"net-catches-animals", "net-unlawful-here"} == {"net-unlawful-here"}
    assert "Victoria" in victoria["net-unlawful-here"].title


def test_a_net_of_unknown_mesh_is_not_told_to_catch_animals() -> None:
    assert "net-catches-animals" not in told(row("cabbage"), covers=[over(mesh=None)])


# -- heat


@pytest.mark.parametrize(
    ("garden", "start", "end", "hot"),
    [
        (NORTH, date(2027, 5, 1), date(2027, 6, 20), False),
        (NORTH, date(2027, 5, 1), date(2027, 6, 21), True),
        (NORTH, date(2027, 5, 1), date(2027, 9, 1), True),
        (SOUTH, date(2027, 10, 1), date(2027, 12, 20), False),
        (SOUTH, date(2027, 10, 1), date(2027, 12, 21), True),
        (SOUTH, date(2028, 2, 1), date(2028, 2, 28), True),
        (SOUTH, date(2028, 3, 1), date(2028, 5, 30), False),
    ],
)
def test_three_weeks_of_the_hot_months(garden: dict[str, Any], start: date, end: date, hot: bool) -> None:
    found = told(row("kale", start, end), covers=[over("fleece", None, start)], garden=garden)
    assert ("cover-too-hot" in found) is hot


def test_the_hot_months_of_one_half_of_the_world_are_cool_in_the_other() -> None:
    summer = row("kale", date(2027, 7, 1), date(2027, 8, 31))
    fleece = over("fleece", None, date(2027, 7, 1))
    assert "cover-too-hot" in told(summer, covers=[fleece], garden=NORTH)
    assert "cover-too-hot" not in told(summer, covers=[fleece], garden=SOUTH)


def test_fleece_from_autumn_through_the_next_summer() -> None:
    garlic = row("garlic", date(2026, 10, 10), date(2027, 7, 31))
    found = told(garlic, covers=[over("fleece", None, date(2026, 10, 10))], judge="2027")
    assert found["cover-too-hot"].because["hot_days"] == 61
