"""Days in rows: seasons, starts, assumed ends and status."""

from datetime import date, timedelta

import pytest
from tiny_plans import TODAY, document, grew, plan_of
from typed_rows import KNOWLEDGE, SOUTH, one, only

from rules import build_plan
from rules.knowledge.facts import Crop, Maturity
from rules.model import FrostDate, Garden, Window
from rules.reading import assumed_end

# -- dates and seasons


def test_the_end_may_not_lie_before_the_start():
    path, words = only(grew("a", "kale", "2026-05-01", "2026-04-30"))
    assert path == ("plantings", 0, "end")
    assert "the end 2026-04-30 lies before the start 2026-05-01" in words
    assert one(grew("a", "kale", "2026-05-01", "2026-05-01")).end == date(2026, 5, 1)


@pytest.mark.parametrize(
    ("season", "start", "garden", "agrees"),
    [
        ("2027-spring", "2027-03-01", {}, True),
        ("2027-spring", "2027-05-31", {}, True),
        ("2027-spring", "2027-06-01", {}, False),
        ("2027", "2027-01-02", {}, True),
        ("2027", "2027-12-30", {}, True),
        ("2027", "2026-12-31", {}, False),
        ("2027", "2028-01-01", {}, False),
        ("2026-winter", "2027-02-28", {}, True),
        ("2026-winter", "2026-02-28", {}, False),
        ("2026-spring", "2026-09-01", SOUTH, True),
        ("2026-spring", "2026-04-20", SOUTH, False),
        ("2026", "2026-07-01", SOUTH, True),
        ("2026", "2027-06-30", SOUTH, True),
        ("2026", "2026-06-30", SOUTH, False),
    ],
)
def test_a_start_must_lie_in_its_season(season, start, garden, agrees):
    row = {**grew("a", "kale", start), "season": season}
    if agrees:
        assert (one(row, garden=garden).start.isoformat(), one(row, garden=garden).exact) == (start, "day")
    else:
        path, words = only(row, garden=garden)
        assert path == ("plantings", 0, "start")
        assert f"not in the season {season}" in words


def test_neither_season_nor_start():
    path, words = only({"bed": "a", "crop": "kale"})
    assert path == ("plantings", 0)
    assert "give a season or a start" in words


def test_a_word_that_is_no_season():
    assert only(grew("a", "kale", "2027-monsoon"))[0] == ("plantings", 0, "season")
    assert only(beds=["a"], season="next year")[0] == ("judge", "season")


def test_the_first_harvest_lies_while_it_stands():
    assert only(grew("a", "kale", "2026-05-01", "2026-09-01", first_harvest="2026-09-02"))[0] == (
        "plantings",
        0,
        "first_harvest",
    )


@pytest.mark.parametrize(
    ("row", "exact", "start", "end", "assumed"),
    [
        (grew("a", "kale", "2026"), "year", "2026-04-01", "2026-10-31", True),
        (grew("a", "cabbage", "2026-spring"), "quarter", "2026-03-01", "2026-06-03", True),
        (grew("a", "cabbage", "2026-spring", "2026-05-20"), "quarter", "2026-03-01", "2026-05-20", False),
        (grew("a", "cabbage", "2026-04-20", "2026-09-30"), "day", "2026-04-20", "2026-09-30", False),
        (grew("a", "strawberry", "2026"), "year", "2026-04-01", "2199-12-31", True),
    ],
)
def test_how_exact_a_row_is(row, exact, start, end, assumed):
    planting = one(row)
    assert (planting.exact, planting.start.isoformat(), planting.end.isoformat(), planting.assumed_end) == (
        exact,
        start,
        end,
        assumed,
    )


def test_the_seasons_read_are_echoed():
    plan = plan_of(grew("a", "kale", "2026"), grew("a", "pea", "2027-spring"), garden=SOUTH)
    assert plan.seasons_read == {
        "2026": Window(date(2026, 10, 1), date(2027, 4, 30)),
        "2027-spring": Window(date(2027, 9, 1), date(2027, 11, 30)),
    }
    assert plan.notes == ()
    assert "latitude" in plan_of(grew("a", "kale", "2026")).notes[0]


def grown(stands, most=80, lifecycle="annual"):
    maturity = Maturity(most - 10, most, "sowing") if most else None
    return Crop("x", "x", "x", "Xaceae", "vegetable", lifecycle=lifecycle, maturity=maturity, stands=stands)


NORTH_GARDEN, SOUTH_GARDEN = Garden(latitude=46.2), Garden(latitude=-37.8)


# -- assumed ends


@pytest.mark.parametrize(
    ("crop", "start", "garden", "end"),
    [
        (grown(14), "2027-04-20", NORTH_GARDEN, "2027-07-23"),
        (grown(14), "2027-11-20", SOUTH_GARDEN, "2028-02-22"),
        (grown(0), "2027-04-20", NORTH_GARDEN, "2027-07-09"),
        (grown("first_frost"), "2027-05-15", NORTH_GARDEN, "2027-10-31"),
        (
            grown("first_frost"),
            "2027-05-15",
            Garden(latitude=46.2, first_autumn_frost=FrostDate((10, 2))),
            "2027-10-02",
        ),
        (grown("first_frost"), "2027-11-15", SOUTH_GARDEN, "2028-04-30"),
        (
            grown("first_frost"),
            "2027-11-15",
            Garden(latitude=-37.8, first_autumn_frost=FrostDate((5, 20))),
            "2028-05-20",
        ),
        (grown("winter_end", 150), "2027-06-01", NORTH_GARDEN, "2028-04-30"),
        (grown("winter_end", 150), "2027-12-01", SOUTH_GARDEN, "2028-10-31"),
        (grown(None, 400, "perennial"), "2027-04-01", NORTH_GARDEN, "2199-12-31"),
        (grown(None, 400, "perennial"), "2027-10-01", SOUTH_GARDEN, "2199-12-31"),
        (grown(None, None), "2027-05-01", NORTH_GARDEN, "2027-10-31"),
        (grown(None, None), "2027-11-01", SOUTH_GARDEN, "2028-04-30"),
    ],
)
def test_assumed_ends(crop, start, garden, end):
    assert assumed_end(crop, date.fromisoformat(start), garden) == date.fromisoformat(end)


@pytest.mark.parametrize("garden", [NORTH_GARDEN, SOUTH_GARDEN])
def test_no_assumed_end_lies_before_the_crop_can_be_picked(garden):
    for crop in [*KNOWLEDGE.crops.values(), *KNOWLEDGE.groups.values()]:
        for days in range(0, 366, 30):
            start = date(2026, 1, 1) + timedelta(days=days)
            assert assumed_end(crop, start, garden) > start, (crop.id, start)


def test_an_end_at_the_last_day_there_is():
    assert one(grew("a", "leek", "2199-12-01")).end == date(2199, 12, 31)


# -- status


@pytest.mark.parametrize(
    ("start", "end", "status"),
    [
        ("2026-11-21", "2027-03-01", "planned"),
        ("2026-11-20", "2027-03-01", "planned"),
        ("2026-11-19", "2027-03-01", "growing"),
        ("2026-05-01", "2026-11-20", "growing"),
        ("2026-05-01", "2026-11-19", "done"),
    ],
)
def test_the_status_follows_from_today(start, end, status):
    assert one(grew("a", "kale", start, end)).status == status


def test_a_written_status_counts():
    assert one(grew("a", "kale", "2026-05-01", "2026-06-01", status="planned")).status == "planned"


def test_what_grows_never_ends_before_today():
    assert one(grew("a", "cabbage", "2026-03-01", status="growing")).end == TODAY
    assert one(grew("a", "cabbage", "2026-03-01", "2026-07-01", status="growing")).end == date(2026, 7, 1)
    assert one(grew("a", "cabbage", "2026-03-01")).status == "done"
    assert one(grew("a", "leek", "2026-06-01", status="growing")).end == date(2027, 4, 30)


def test_the_document_says_what_today_is():
    assert plan_of(grew("a", "kale", "2026")).as_of == TODAY
    data = {**document(grew("a", "kale", "2026-05-01", "2026-06-01")), "as_of": date(2026, 5, 20)}
    plan = build_plan(data, KNOWLEDGE, as_of=TODAY)
    assert (plan.as_of, plan.plantings[0].status) == (date(2026, 5, 20), "growing")
