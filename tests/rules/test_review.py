"""What a grower's reading of reports found: each case was once told wrong, twice or not at all."""

from datetime import date

import pytest
from tiny_plans import grew, plan_of, told

from rules import check

NORTH, NAIROBI = {"latitude": 52}, {"latitude": -1.3}


def report_of(*plantings, **parts):
    return check(plan_of(*plantings, **parts))


def end_of(crop, start, garden):
    return plan_of(grew("a", crop, start), garden=garden).plantings[0].end


@pytest.mark.parametrize(
    ("crop", "start", "garden", "end"),
    [
        ("onions", "2025-03-20", NORTH, date(2025, 8, 1)),  # spring onions are not the ten-month kind
        ("sweet peas", "2025-10-15", NORTH, date(2026, 10, 31)),  # set in autumn to flower next year
        ("sweet peas", "2026-04-15", NORTH, date(2026, 10, 31)),
        ("hollyhocks", "2025-06-01", NORTH, date(2026, 10, 31)),  # flowers in its second year
        ("phacelia", "2026-09-20", NORTH, date(2026, 10, 31)),  # a green manure that frost kills
        ("tomatoes", "2025-11-10", NAIROBI, date(2026, 4, 9)),  # no frost ends it there
        ("tomatoes", "2026-05-20", NORTH, date(2026, 10, 31)),
    ],
)
def test_assumed_ends(crop, start, garden, end):
    assert end_of(crop, start, garden) == end


def test_garlic_after_spring_onions_keeps_the_least_break():
    report = report_of(grew("a", "onions", "2025-03-20"), grew("a", "garlic", "2027-10-20"), garden=NORTH)
    assert [f.rule for f in report.findings] == ["rotation.break-cut-short"]


def test_why_reads_well_without_shared_diseases_and_for_one_year():
    own = report_of(grew("a", "oca", "2026"), grew("a", "ocas", "2027"), crops=[{"id": "oca", "family": "Oxalidaceae"}])
    assert "same troubles of soil and leavings. The least" in own.findings[0].why
    corn = report_of(grew("a", "sweetcorn", "2026"), grew("a", "sweetcorn", "2027"))
    assert "a break of 1 year without a host is better" in corn.findings[0].why


def test_a_standing_crop_is_not_told_to_go_elsewhere():
    report = report_of(
        grew("a", "tomatoes", "2026"),
        grew("a", "aubergines", "2027-05-15", status="growing"),
        grew("b", "lettuce", "2025"),
        as_of=date(2027, 7, 1),
    )
    assert report.findings[0].fix.text.startswith("It stands already")
    assert report.findings[0].fix.actions == ()


def test_a_bed_first_planted_this_season_has_no_record_before_it():
    report = report_of(grew("a", "cabbage", "2026"), grew("a", "kale", "2027-06-01"), grew("b", "peas", "2027-03-01"))
    fix = next(f.fix.text for f in report.findings if f.rule == "rotation.family-too-soon")
    assert "which has nothing on record before this season" in fix
    assert "since 2027" not in fix


def test_a_bed_that_may_have_held_the_family_is_not_offered():
    rows = (grew("a", "beans", "2026"), grew("a", "beans", "2027"))
    assert "bed b" not in report_of(*rows, grew("b", "flowers", "2026")).findings[0].fix.text
    assert "bed b" in report_of(*rows, grew("b", "carrots", "2026")).findings[0].fix.text


def test_an_annual_is_not_swapped_with_a_perennial():
    report = report_of(
        grew("a", "strawberries", "2023-08-15", "2026-10-15"),
        grew("a", "potatoes", "2027-04-10"),
        grew("b", "carrots", "2022"),
        grew("b", "asparagus", "2027-04-10"),
    )
    assert all(action.op != "swap" for finding in report.findings for action in finding.fix.actions)


def test_a_resowing_after_clubroot_is_told_once():
    report = report_of(
        grew("a", "calabrese", "2027-04-10", "2027-05-05", id="k1", status="lost", cause="clubroot"),
        grew("a", "calabrese", "2027-05-12", id="k2", replaces="k1"),
    )
    assert told(report) == [("disease.host-too-soon", ("k2",))]


def test_missing_years_are_told_once_a_bed():
    report = report_of(grew("a", "peas", "2027-03-10"), grew("a", "kale", "2027-07-20"))
    assert [(n.why, n.count) for n in report.not_checked] == [("bed a has no record for 2024, 2025, 2026", 2)]


def test_words_of_allotment_sheets():
    plan = plan_of(grew("a", "early peas", "2027"), grew("b", "phacelia", "2027"))
    assert [p.crop.id for p in plan.plantings] == ["pea", "phacelia"]


def test_a_pot_may_be_refilled_instead_of_waiting():
    rows = (grew("a", "peppers", "2026"), grew("a", "tomatoes", "2027"))
    assert "new soil" in report_of(*rows, beds=[{"id": "a", "kind": "container"}]).findings[0].fix.text
    assert "new soil" not in report_of(*rows, beds=["a"]).findings[0].fix.text


@pytest.mark.parametrize(
    ("crop", "start", "latitude", "end"),
    [
        ("broad beans", "2026-11-05", 46.2, date(2027, 7, 31)),  # 240 days, then 28: cleared in July
        ("broad beans", "2026-03-01", 46.2, date(2026, 7, 7)),  # 100 days, then 28
        ("onions", "2026-09-01", 46.2, date(2027, 7, 12)),  # 300 days, then 14
        ("onions", "2026-03-20", 46.2, date(2026, 8, 1)),
        ("broad beans", "2026-05-05", -37.8, date(2027, 1, 28)),  # the southern autumn
        ("broad beans", "2026-11-05", -1.3, date(2027, 3, 13)),  # no winter to stand over
    ],
)
def test_what_is_set_in_autumn_stands_over_winter(crop, start, latitude, end):
    assert end_of(crop, start, {"latitude": latitude}) == end


def test_a_cereal_turned_in_before_sweetcorn_is_ordinary_practice():
    rows = [grew("a", "rye", "2026-09-01", "2027-04-10"), grew("a", "sweetcorn", "2027-05-10")]
    assert told(check(plan_of(*rows))) == []
    assert told(check(plan_of(grew("a", "sweetcorn", "2026"), grew("a", "sweetcorn", "2027")))) != []
