"""Season words, growing years and dates that come round."""

import itertools
from datetime import date, timedelta

import pytest

from rules.model import FrostDate, Window
from rules.seasons import (
    add_years,
    first_frost,
    growing_year,
    growing_year_window,
    in_tropics,
    is_south,
    next_on,
    parse_season,
    season_window,
    winter_end,
)

NORTH, SOUTH, TROPIC_NORTH, TROPIC_SOUTH = 46.2, -37.8, 12.0, -12.0


@pytest.mark.parametrize(
    ("word", "read"),
    [
        ("2027", (2027, None)),
        ("2027-spring", (2027, "spring")),
        (" 2027-Autumn ", (2027, "autumn")),
        ("2027-fall", (2027, "autumn")),
        ("1900", (1900, None)),
        ("2199-winter", (2199, "winter")),
        ("1899", None),
        ("2200", None),
        ("27", None),
        ("2027-", None),
        ("2027-monsoon", None),
        ("2027-spring-x", None),
        ("2027-04-20", None),
        ("", None),
        ("2027\n2028", None),
        ("٢٠٢٧", None),
    ],
)
def test_season_words(word, read):
    assert parse_season(word) == read


@pytest.mark.parametrize(
    ("latitude", "quarter", "start", "end"),
    [
        (NORTH, "spring", "2026-03-01", "2026-05-31"),
        (NORTH, "summer", "2026-06-01", "2026-08-31"),
        (NORTH, "autumn", "2026-09-01", "2026-11-30"),
        (NORTH, "winter", "2026-12-01", "2027-02-28"),
        (SOUTH, "autumn", "2026-03-01", "2026-05-31"),
        (SOUTH, "winter", "2026-06-01", "2026-08-31"),
        (SOUTH, "spring", "2026-09-01", "2026-11-30"),
        (SOUTH, "summer", "2026-12-01", "2027-02-28"),
        (None, "winter", "2026-12-01", "2027-02-28"),
        (TROPIC_SOUTH, "winter", "2026-06-01", "2026-08-31"),
    ],
)
def test_quarters_take_the_year_of_their_first_day(latitude, quarter, start, end):
    assert season_window(2026, quarter, latitude) == Window(date.fromisoformat(start), date.fromisoformat(end))


@pytest.mark.parametrize(("year", "latitude", "quarter"), [(2027, NORTH, "winter"), (2027, SOUTH, "summer")])
def test_a_quarter_over_a_leap_day_ends_on_it(year, latitude, quarter):
    assert season_window(year, quarter, latitude).end == date(2028, 2, 29)


@pytest.mark.parametrize("latitude", [NORTH, SOUTH])
def test_quarters_follow_each_other_without_gap_or_overlap(latitude):
    order = ["spring", "summer", "autumn", "winter"] if latitude > 0 else ["autumn", "winter", "spring", "summer"]
    windows = [season_window(year, quarter, latitude) for year in range(2020, 2032) for quarter in order]
    for before, after in itertools.pairwise(windows):
        assert after.start - before.end == timedelta(days=1)


@pytest.mark.parametrize(
    ("latitude", "start", "end"),
    [
        (NORTH, "2026-04-01", "2026-10-31"),
        (None, "2026-04-01", "2026-10-31"),
        (SOUTH, "2026-10-01", "2027-04-30"),
        (TROPIC_NORTH, "2026-01-01", "2026-12-31"),
        (TROPIC_SOUTH, "2026-01-01", "2026-12-31"),
        (0.0, "2026-01-01", "2026-12-31"),
        (23.5, "2026-01-01", "2026-12-31"),
        (-23.5, "2026-01-01", "2026-12-31"),
        (23.6, "2026-04-01", "2026-10-31"),
        (-23.6, "2026-10-01", "2027-04-30"),
    ],
)
def test_a_bare_year_is_the_main_season(latitude, start, end):
    assert season_window(2026, None, latitude) == Window(date.fromisoformat(start), date.fromisoformat(end))


def test_hemispheres_and_tropics():
    assert [is_south(x) for x in (NORTH, 0.0, -0.1, SOUTH, None)] == [False, False, True, True, False]
    assert [in_tropics(x) for x in (NORTH, 23.5, -23.5, SOUTH, None)] == [False, True, True, False, False]


@pytest.mark.parametrize(
    ("latitude", "day", "year"),
    [
        (NORTH, "2026-01-01", 2026),
        (NORTH, "2026-12-31", 2026),
        (None, "2026-12-31", 2026),
        (SOUTH, "2026-06-30", 2025),
        (SOUTH, "2026-07-01", 2026),
        (SOUTH, "2027-06-30", 2026),
        (TROPIC_SOUTH, "2026-06-30", 2026),
        (TROPIC_SOUTH, "2026-07-01", 2026),
    ],
)
def test_growing_years_turn_in_mid_winter(latitude, day, year):
    assert growing_year(date.fromisoformat(day), latitude) == year


@pytest.mark.parametrize("latitude", [NORTH, SOUTH, TROPIC_SOUTH, None])
def test_every_day_lies_in_the_window_of_its_growing_year(latitude):
    day = date(2023, 1, 1)
    while day < date(2029, 1, 1):
        window = growing_year_window(growing_year(day, latitude), latitude)
        assert window.start <= day <= window.end
        day += timedelta(days=1)


@pytest.mark.parametrize("latitude", [NORTH, SOUTH, TROPIC_NORTH])
def test_the_main_season_begins_in_the_growing_year_of_its_name(latitude):
    for year in range(2020, 2030):
        window = season_window(year, None, latitude)
        assert growing_year(window.start, latitude) == growing_year(window.end, latitude) == year


@pytest.mark.parametrize(
    ("day", "years", "result"),
    [
        ("2024-02-29", 1, "2025-02-28"),
        ("2024-02-29", 4, "2028-02-29"),
        ("2024-02-29", -1, "2023-02-28"),
        ("2096-02-29", 4, "2100-02-28"),
        ("2025-02-28", 3, "2028-02-28"),
        ("2025-10-31", 2, "2027-10-31"),
    ],
)
def test_adding_years_keeps_the_day(day, years, result):
    assert add_years(date.fromisoformat(day), years) == date.fromisoformat(result)


@pytest.mark.parametrize(
    ("day", "month_day", "result"),
    [
        ("2026-10-02", (10, 2), "2026-10-02"),
        ("2026-10-03", (10, 2), "2027-10-02"),
        ("2026-01-01", (10, 2), "2026-10-02"),
        ("2026-03-01", (2, 29), "2027-02-28"),
        ("2027-12-01", (2, 29), "2028-02-29"),
    ],
)
def test_the_next_time_a_day_of_the_year_comes_round(day, month_day, result):
    assert next_on(date.fromisoformat(day), month_day) == date.fromisoformat(result)


@pytest.mark.parametrize(
    ("after", "frost", "latitude", "result"),
    [
        ("2026-05-15", FrostDate((10, 2)), NORTH, "2026-10-02"),
        ("2026-05-15", None, NORTH, "2026-10-31"),
        ("2026-11-15", None, NORTH, "2027-10-31"),
        ("2026-11-15", None, SOUTH, "2027-04-30"),
        ("2026-11-15", FrostDate((5, 10)), SOUTH, "2027-05-10"),
    ],
)
def test_first_frost(after, frost, latitude, result):
    assert first_frost(date.fromisoformat(after), frost, latitude) == date.fromisoformat(result)


@pytest.mark.parametrize(
    ("after", "latitude", "result"),
    [
        ("2026-09-01", NORTH, "2027-04-30"),
        ("2026-12-01", NORTH, "2027-04-30"),
        ("2027-03-01", NORTH, "2027-04-30"),
        ("2027-03-02", NORTH, "2028-04-30"),
        ("2027-03-01", SOUTH, "2027-10-31"),
        ("2027-09-01", SOUTH, "2027-10-31"),
        ("2027-09-02", SOUTH, "2028-10-31"),
    ],
)
def test_winter_end_leaves_at_least_sixty_days(after, latitude, result):
    assert winter_end(date.fromisoformat(after), latitude) == date.fromisoformat(result)
