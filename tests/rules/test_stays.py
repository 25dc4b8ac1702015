"""Stays of hosts in one ground, and the breaks between them, at the days where they change."""

from datetime import date, timedelta

import pytest
from tiny_plans import grew, plan_of, told

from rules import check
from rules.graphs.stays import (
    free_after,
    free_years,
    has_break,
    is_host,
    linked,
    overwintered,
    segments,
    stays,
    whole_years_between,
)

SOON, SHORT = "rotation.family-too-soon", "rotation.break-cut-short"
BESIDE, PARTS, TWICE = "rotation.beside-standing-relative", "rotation.parts-share-soil", "rotation.twice-in-season"
NORTH = 46.2


def rotation(*rows, judge, **parts):
    """The rotation findings about the break, by rule."""
    return [rule for rule, _ in told(check(plan_of(*rows, judge=judge, **parts))) if rule in (SOON, SHORT)]


def runs(*rows):
    plan = plan_of(*rows)
    return [[p.id for p in stay.plantings] for stay in stays("a", "Brassicaceae", list(plan.plantings))]


def after(day, days):
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


@pytest.mark.parametrize(("days", "expected"), [(200, [["one", "two"]]), (201, [["one"], ["two"]])])
def test_hosts_merge_when_they_start_within_200_days(days, expected):
    first = grew("a", "radish", "2027-03-01", "2027-04-15", id="one")
    second = grew("a", "cabbage", after("2027-03-01", days), after("2027-03-01", days + 60), id="two")
    assert runs(first, second) == expected


def test_merging_counts_from_the_first_start_not_from_the_latest():
    rows = [
        grew("a", "radish", after("2027-01-01", days), after("2027-01-01", days + 30), id=f"d{days}")
        for days in (0, 150, 300)
    ]
    assert runs(*rows) == [["d0", "d150"], ["d300"]]


def test_a_stay_ends_with_the_host_that_stood_longest():
    plan = plan_of(
        grew("a", "kale", "2026-04-01", "2026-12-20", id="long"),
        grew("a", "radish", "2026-05-01", "2026-06-10", id="quick"),
    )
    (stay,) = stays("a", "Brassicaceae", list(plan.plantings))
    assert (stay.start, stay.end, stay.last.id) == (date(2026, 4, 1), date(2026, 12, 20), "long")


@pytest.mark.parametrize(("start", "found"), [("2026-09-16", [SHORT]), ("2026-09-15", [SOON])])
def test_the_grace_is_45_days(start, found):
    assert rotation(grew("a", "kale", "2024-05-01", "2024-10-31"), grew("a", "cabbage", start), judge="2026") == found


@pytest.mark.parametrize(("start", "found"), [("2027-01-28", [SHORT]), ("2027-01-27", [SOON])])
def test_the_grace_is_92_days_after_an_overwintered_host(start, found):
    rows = grew("a", "leek", "2024-06-15", "2025-04-30"), grew("a", "garlic", start)
    assert rotation(*rows, judge="2027") == found


@pytest.mark.parametrize(
    ("latitude", "start", "end", "expected"),
    [
        (NORTH, "2024-06-15", "2025-04-30", True),
        (NORTH, "2024-06-15", "2025-07-02", True),
        (NORTH, "2024-06-15", "2025-07-03", False),
        (NORTH, "2024-06-15", "2024-12-31", False),
        (NORTH, "2025-01-01", "2025-04-30", False),
        (-37.8, "2025-01-15", "2025-10-31", True),
        (-37.8, "2025-07-01", "2025-10-31", False),
        (-37.8, "2024-11-15", "2025-04-30", False),
    ],
)
def test_overwintered_is_over_the_middle_of_winter_and_gone_in_the_half_year_after(latitude, start, end, expected):
    plan = plan_of(grew("a", "leek", start, end), garden={"latitude": latitude})
    (stay,) = stays("a", "Amaryllidaceae", list(plan.plantings))
    assert overwintered(stay, latitude) is expected


@pytest.mark.parametrize(("season", "found"), [("2026", [SOON]), ("2027", [SHORT]), ("2028", [])])
def test_year_only_rows_count_whole_host_free_years(season, found):
    assert rotation(grew("a", "kale", "2024"), grew("a", "cabbage", season), judge=season) == found


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        (grew("a", "kale", "2024"), grew("a", "cabbage", "2026-12-30"), [SOON]),
        (grew("a", "kale", "2024"), grew("a", "cabbage", "2027-01-02"), [SHORT]),
        (grew("a", "kale", "2024-05-01", "2024-05-30"), grew("a", "cabbage", "2026"), [SOON]),
        (grew("a", "kale", "2024-05-01", "2024-12-20"), grew("a", "cabbage", "2027"), [SHORT]),
    ],
)
def test_one_year_only_side_is_enough_to_count_whole_years(first, second, found):
    judge = second.get("season") or second["start"][:4]
    assert rotation(first, second, judge=judge) == found


def test_year_only_in_the_south_counts_southern_growing_years():
    garden = {"latitude": -37.8}
    assert rotation(grew("a", "kale", "2024"), grew("a", "cabbage", "2026"), judge="2026", garden=garden) == [SOON]
    assert rotation(grew("a", "kale", "2024"), grew("a", "cabbage", "2027"), judge="2027", garden=garden) == [SHORT]
    assert whole_years_between(date(2025, 4, 30), date(2027, 10, 1), -37.8) == 2
    assert whole_years_between(date(2025, 4, 30), date(2027, 10, 1), NORTH) == 1


def test_a_season_row_with_an_end_is_no_longer_year_only():
    plan = plan_of(grew("a", "kale", "2024", "2024-08-31"))
    assert plan.plantings[0].exact == "quarter"


def test_the_same_growing_year_by_year_only_is_one_stay():
    assert rotation(grew("a", "kale", "2027"), grew("a", "cabbage", "2027"), judge="2027") == []


@pytest.mark.parametrize(
    ("new_part", "found"),
    [
        ([0.5, 1], []),
        ([0.4, 1], [SOON]),
        ([0, 0.5], [SOON]),
        ([0, 1], [SOON]),
    ],
)
def test_disjoint_parts_rotate_separately(new_part, found):
    rows = grew("a", "kale", "2026", part=[0, 0.5]), grew("a", "cabbage", "2027", part=new_part)
    assert rotation(*rows, judge="2027") == found


def test_parts_give_one_advice_a_bed_that_soil_mixes():
    rows = [
        grew("a", "kale", "2026", part=[0, 0.3]),
        grew("a", "cabbage", "2027", part=[0.3, 0.6], id="x"),
        grew("a", "radish", "2027", part=[0.6, 1], id="y"),
    ]
    assert [rule for rule, _ in told(check(plan_of(*rows, judge="2027")))].count(PARTS) == 1


def test_a_return_to_several_parts_is_told_once():
    rows = [
        grew("a", "kale", "2026", part=[0, 0.5]),
        grew("a", "kale", "2026", part=[0.5, 1]),
        grew("a", "cabbage", "2027", id="new"),
    ]
    assert told(check(plan_of(*rows, judge="2027"))) == [(SOON, ("new",))]


def test_segments_give_every_stretch_of_ground_its_own_plantings():
    plan = plan_of(
        grew("a", "kale", "2025", part=[0, 0.5], id="left"),
        grew("a", "kale", "2026", id="whole"),
        grew("a", "kale", "2027", part=[0.25, 0.75], id="middle"),
    )
    found = [[p.id for p in here] for here in segments(list(plan.plantings))]
    assert found == [["left", "whole"], ["left", "whole", "middle"], ["whole", "middle"], ["whole"]]


def test_segments_without_parts_are_the_bed_itself():
    plan = plan_of(grew("a", "kale", "2025"), grew("a", "kale", "2026"))
    assert [len(here) for here in segments(list(plan.plantings))] == [2]


def test_a_relative_beside_a_standing_perennial_is_advice():
    rows = grew("a", "chives", "2024-04-01"), grew("a", "onion", "2027-03-20", id="new")
    assert told(check(plan_of(*rows, judge="2027"))) == [(BESIDE, ("new",))]


def test_after_a_perennial_is_cleared_its_break_counts():
    rows = grew("a", "chives", "2022-04-01", "2026-09-30"), grew("a", "onion", "2027-03-20")
    assert rotation(*rows, judge="2027") == [SOON]


def test_a_perennial_replanted_after_a_perennial_is_a_return():
    rows = grew("a", "strawberry", "2022-04-01", "2026-08-31"), grew("a", "strawberry", "2027-04-01")
    assert rotation(*rows, judge="2027") == [SOON]


def test_an_annual_before_a_perennial_needs_its_break_too():
    rows = grew("a", "onion", "2026"), grew("a", "chives", "2027-04-01")
    assert rotation(*rows, judge="2027") == [SOON]


def test_a_standing_perennial_does_not_hide_an_annual_that_came_too_soon():
    plan = plan_of(
        grew("a", "chives", "2020-04-01", id="perennial"),
        grew("a", "garlic", "2025-10-10", "2026-07-20", id="garlic"),
        grew("a", "leek", "2027-06-01", id="leek"),
    )
    graph = linked([stays("a", "Amaryllidaceae", list(plan.plantings))])
    edges = {(one.last.id, other.last.id): kind for one, other, kind in graph.edges(data="kind")}
    assert edges == {("perennial", "garlic"): "beside", ("perennial", "leek"): "beside", ("garlic", "leek"): "break"}
    assert {rule for rule, _ in told(check(plan))} == {SOON, BESIDE}


@pytest.mark.parametrize(("days", "host"), [(42, False), (43, True)])
def test_lost_young_is_no_host_up_to_42_days(days, host):
    lost = grew("a", "kale", "2026-05-01", after("2026-05-01", days), status="lost", cause="slugs")
    assert is_host(plan_of(lost).plantings[0]) is host
    found = rotation(lost, grew("a", "cabbage", "2027-05-01"), judge="2027")
    assert found == ([SOON] if host else [])


def test_lost_young_to_a_soil_disease_was_a_host():
    lost = grew("a", "kale", "2026-05-01", "2026-05-21", status="lost", cause="clubroot", id="lost")
    planting = plan_of(lost).plantings[0]
    assert is_host(planting, {"clubroot"})
    assert not is_host(planting, {"black_rot_crucifers"})
    report = check(plan_of(lost, grew("a", "cabbage", "2027-05-01", id="new"), judge="2027"))
    assert told(report) == [("disease.host-too-soon", ("new",))]
    assert report.findings[0].because["last_host"] == "lost"


def test_a_resowing_after_an_early_loss_is_no_repeat():
    lost = grew("a", "cabbage", "2027-04-01", "2027-04-20", id="lost", status="lost", cause="slugs")
    again = grew("a", "cabbage", "2027-04-25", "2027-08-30", replaces="lost")
    assert told(check(plan_of(lost, again, judge="2027"))) == []


def test_fallow_is_never_a_host_and_volunteers_are():
    assert not is_host(plan_of(grew("a", "fallow", "2026")).plantings[0])
    rows = grew("a", "potato", "2026", method="volunteer"), grew("a", "tomato", "2027")
    assert rotation(*rows, judge="2027") == [SOON]


def test_free_years_and_the_day_the_break_is_over():
    dated = plan_of(grew("a", "kale", "2024-05-01", "2024-10-31"), grew("a", "cabbage", "2027-04-30"))
    earlier, later = stays("a", "Brassicaceae", list(dated.plantings))
    assert free_years(earlier, later, NORTH) == 2.5
    assert free_after(earlier.last, 3, NORTH) == date(2027, 11, 1)
    by_year = plan_of(grew("a", "kale", "2024"), grew("a", "cabbage", "2027"))
    earlier, later = stays("a", "Brassicaceae", list(by_year.plantings))
    assert free_years(earlier, later, NORTH) == 2
    assert free_after(earlier.last, 2, NORTH) == date(2027, 1, 1)
    assert has_break(earlier, later, 0, NORTH)
    assert has_break(earlier, later, 2, NORTH)
    assert not has_break(earlier, later, 3, NORTH)


def test_a_break_from_a_leap_day_ends_at_the_end_of_february():
    plan = plan_of(grew("a", "kale", "2023-05-01", "2024-02-29"))
    assert free_after(plan.plantings[0], 2, NORTH) == date(2026, 3, 1)


def test_two_of_a_family_in_one_stay_are_advice_at_most():
    rows = (
        grew("a", "radish", "2027-03-20", "2027-04-30"),
        grew("a", "cabbage", "2027-05-10", "2027-09-30", id="second"),
    )
    report = check(plan_of(*rows, judge="2027"))
    assert told(report) == [(TWICE, ("second",))]
    assert report.findings[0].severity == "advice"
