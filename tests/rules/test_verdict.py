"""Verdict, filters and score of a report."""

import pytest
from judged_rows import FILLED, SOON, judged, seen
from tiny_plans import grew, told

from rules.report import SEVERITIES

# -- verdict


def test_a_breach_goes_before_a_caution():
    rows = [
        grew("a", "kale", "2026"),
        grew("a", "cabbage", "2027"),
        grew("b", "kale", "2024"),
        grew("b", "cabbage", "2027"),
    ]
    report = judged(*rows)
    assert [f.severity for f in report.findings] == ["breach", "caution"]
    assert report.verdict == "breach"


def test_a_caution_goes_before_what_is_unknown():
    report = judged(grew("a", "kale", "2024"), grew("a", "cabbage", "2027"))
    assert report.not_checked
    assert report.verdict == "caution"


def test_nothing_found_without_the_needed_years_is_unknown():
    report = judged(grew("a", "kale", "2027"))
    assert (report.findings, report.verdict) == ((), "unknown")


def test_nothing_found_with_the_needed_years_is_clear():
    report = judged(*FILLED, grew("a", "kale", "2027"))
    assert (report.findings, report.verdict, report.not_checked) == ((), "clear", ())


@pytest.mark.parametrize(("first", "verdict"), [(2024, "clear"), (2025, "unknown")])
def test_the_needed_years_are_those_of_the_better_break(first, verdict):
    assert (
        judged(
            *(grew("a", "pea" if y == 2024 else "fallow", str(y)) for y in range(first, 2027)),
            grew("a", "kale", "2027"),
        ).verdict
        == verdict
    )


def test_a_family_outside_the_rotation_needs_no_years():
    assert judged(grew("a", "mint", "2027-04-01")).verdict == "clear"


def test_new_soil_needs_no_years_before_it():
    rows = grew("a", "kale", "2027")
    assert judged(rows, amendments=[{"bed": "a", "date": "2027-01-15", "kind": "new_soil"}]).verdict == "clear"
    assert judged(rows, amendments=[{"bed": "a", "date": "2027-01-15", "kind": "compost"}]).verdict == "unknown"


@pytest.mark.parametrize("rows", [[], [grew("a", "kale", "2025")], [grew("a", "kale", "2029")]])
def test_nothing_in_the_window_is_unknown_and_says_so(rows):
    report = judged(*rows, beds=["a"])
    assert (report.verdict, report.findings, report.not_checked) == ("unknown", (), ())
    assert any("nothing to judge" in note for note in report.notes)
    assert not any("nothing to judge" in note for note in judged(grew("a", "fallow", "2027")).notes)


# -- filters


def test_faults_before_the_window_are_listed_only_when_asked_for():
    rows = [
        grew("a", "kale", "2023", id="one"),
        grew("a", "cabbage", "2024", id="two"),
        grew("a", "pea", "2027", id="three"),
    ]
    quiet, full = judged(*rows), judged(*rows, how={"history": True})
    assert told(quiet) == []
    assert told(full) == [(SOON, ("two",))]
    assert not full.findings[0].in_window
    assert full.verdict == quiet.verdict == "unknown"


def test_faults_after_the_window_are_no_part_of_it():
    rows = [grew("a", "kale", "2026"), grew("a", "cabbage", "2028", id="later")]
    assert told(judged(*rows)) == []
    assert told(judged(*rows, year="2028")) == [(SOON, ("later",))]


@pytest.mark.parametrize(("start", "listed"), [("2026-07-01", True), ("2026-06-30", False)])
def test_a_crop_set_in_the_half_year_before_and_standing_into_the_window_belongs_to_it(start, listed):
    rows = [grew("a", "kale", "2025"), grew("a", "cabbage", start, "2027-02-01")]
    assert bool(judged(*rows).findings) is listed


@pytest.mark.parametrize("least", SEVERITIES)
def test_the_least_severity_filters_the_list_and_keeps_the_verdict(least):
    rows = [
        grew("a", "kale", "2026"),
        grew("a", "cabbage", "2027"),
        grew("b", "kale", "2024"),
        grew("b", "cabbage", "2027"),
        grew("c", "radish", "2027-03-01", "2027-04-15"),
        grew("c", "cabbage", "2027-05-01"),
        grew("d", "lettuce", "2026"),
        grew("d", "broccoli", "2027"),
    ]
    parts = {"sightings": [seen("d", "2026-07-01", "lettuce_drop")]}
    full = judged(*rows, **parts)
    cut = full.at_least(least)
    assert {f.severity for f in full.findings} == set(SEVERITIES)
    assert [f for f in full.findings if SEVERITIES.index(f.severity) <= SEVERITIES.index(least)] == list(cut.findings)
    assert (cut.verdict, cut.score, cut.not_checked) == (full.verdict, full.score, full.not_checked)


def test_the_score_adds_points_by_what_they_count_towards():
    report = judged(
        grew("a", "lettuce", "2026"), grew("a", "broccoli", "2027"), sightings=[seen("a", "2026-07-01", "lettuce_drop")]
    )
    assert report.score == {"pest": 1, "yield": 0, "sequence": 0}
