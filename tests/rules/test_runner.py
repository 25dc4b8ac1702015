"""The report: verdict, filters, order, what was not checked, and the outlook of each bed."""

from dataclasses import replace
from datetime import date

import pytest
from tiny_plans import grew, plan_of, told

from rules import check
from rules.model import Window
from rules.report import SEVERITIES, Free

SOON, SHORT = "rotation.family-too-soon", "rotation.break-cut-short"
HOST = "disease.host-too-soon"
FILLED = [grew("a", "fallow", str(year)) for year in range(2022, 2027)]


def judged(*rows, year="2027", how=None, **parts):
    return check(plan_of(*rows, judge=year, **parts), **(how or {}))


def seen(bed, day, of="clubroot"):
    return {"bed": bed, "date": day, "of": of}


def outlook(report, bed="a"):
    return next(found for found in report.beds if found.bed == bed)


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


# -- one thing said once


def test_a_diseases_finding_speaks_for_the_familys():
    rows = [grew("a", "kale", "2026", id="old"), grew("a", "cabbage", "2027", id="new")]
    assert told(judged(*rows)) == [(SOON, ("new",))]
    assert told(judged(*rows, sightings=[seen("a", "2026-09-01")])) == [(HOST, ("new",))]


def test_a_diseases_advice_does_not_hide_the_familys_breach():
    rows = [
        grew("a", "tomato", "2026"),
        grew("a", "tomato", "2027", id="new", variety={"resists": ["fusarium_wilt_tomato"]}),
    ]
    found = told(judged(*rows, sightings=[seen("a", "2026-09-01", "fusarium_wilt_tomato")]))
    assert found == [(SOON, ("new",)), ("disease.resistance-needed", ("new",))]


def test_a_diseases_finding_does_not_speak_for_other_beds():
    rows = [
        grew(bed, crop, year, id=f"{bed}{year}")
        for bed in "ab"
        for crop, year in (("kale", "2026"), ("cabbage", "2027"))
    ]
    found = told(judged(*rows, sightings=[seen("a", "2026-09-01")]))
    assert (HOST, ("a2027",)) in found
    assert (SOON, ("b2027",)) in found


# -- order


def test_findings_are_sorted_and_numbered():
    rows = [
        grew(bed, crop, year, id=f"{bed}{year}")
        for bed in ("z", "m", "a")
        for crop, year in (("kale", "2026"), ("cabbage", "2027"))
    ]
    rows += [grew("m", "onion", "2024", id="o1"), grew("m", "leek", "2027-03-15", id="o2")]
    by_list = judged(*rows, beds=["z", "m", "a"])
    assert told(by_list) == [(SOON, ("z2027",)), (SOON, ("m2027",)), (SOON, ("a2027",)), (SHORT, ("o2",))]
    assert [f.id for f in by_list.findings] == ["f1", "f2", "f3", "f4"]
    assert [found.bed for found in by_list.beds] == ["z", "m", "a"]


def test_beds_with_positions_are_told_by_position():
    rows = [
        grew(bed, crop, year, id=f"{bed}{year}")
        for bed in ("z", "m", "a")
        for crop, year in (("kale", "2026"), ("cabbage", "2027"))
    ]
    beds = [
        {"id": "z", "position": (5.0, 0.0)},
        {"id": "m", "position": (0.0, 3.0)},
        {"id": "a", "position": (1.0, 0.0)},
    ]
    report = judged(*rows, beds=beds)
    assert [f.beds for f in report.findings] == [("a",), ("z",), ("m",)]
    assert [found.bed for found in report.beds] == ["a", "z", "m"]


# -- what was not checked


def test_missing_years_are_named_and_counted():
    report = judged(
        grew("a", "kale", "2024"), grew("a", "pea", "2025"), grew("a", "onion", "2027"), grew("a", "carrot", "2027")
    )
    (line,) = [line for line in report.not_checked if line.rule.startswith("rotation.")]
    assert (line.rule, line.count) == (SOON, 2)
    assert line.why == "bed a has no record for 2026"


def test_a_year_to_come_inside_the_judged_window_is_empty_and_not_unrecorded():
    rows = [*FILLED, grew("a", "kale", "2028")]  # nothing is planned for 2027
    window = Window(date(2027, 1, 1), date(2028, 12, 31))

    def lacking(judge=None, **parts):
        plan = plan_of(*rows, judge="2028", **parts)
        return [line.why for line in check(replace(plan, judge=judge or plan.judge)).not_checked]

    assert lacking(window) == []
    # Before the window, and when it is over, a year without a row is not on record.
    assert lacking() == lacking(window, as_of=date(2028, 2, 1)) == ["bed a has no record for 2027"]


def test_a_word_for_several_families_is_not_checked():
    report = judged(*FILLED, grew("a", "herb", "2027"))
    assert [(line.why, line.count) for line in report.not_checked] == [
        ("herbs in bed a can be of several families; name the crop", 1)
    ]
    assert report.verdict == "unknown"


def test_an_earlier_word_for_several_families_leaves_the_question_open():
    report = judged(
        *(row for row in FILLED if row["season"] != "2025"), grew("a", "salad", "2025"), grew("a", "kale", "2027")
    )
    assert [line.why for line in report.not_checked] == [
        "salad leaves of 2025 in bed a may have been of the cabbage family"
    ]
    assert (
        judged(
            *(row for row in FILLED if row["season"] != "2025"), grew("a", "salad", "2025"), grew("a", "potato", "2027")
        ).not_checked
        == ()
    )


def test_a_word_for_crops_of_one_family_is_checked():
    assert told(judged(grew("a", "onion", "2026"), grew("a", "allium", "2027", id="new"))) == [(SOON, ("new",))]


# -- outlook


def test_the_outlook_knows_from_when_and_which_years_are_missing():
    found = outlook(judged(grew("a", "kale", "2022"), grew("a", "pea", "2024"), grew("a", "onion", "2027")))
    assert (found.known_from, found.years_missing) == (2022, (2023, 2025, 2026))
    empty = outlook(judged(grew("a", "onion", "2027")))
    assert (empty.known_from, empty.years_missing) == (None, ())


def test_a_dated_host_frees_its_family_on_a_day():
    found = outlook(judged(grew("a", "kale", "2025-05-01", "2025-10-31"), grew("a", "pea", "2027")))
    assert found.free_from["Brassicaceae"] == Free(date(2027, 11, 1), date(2028, 11, 1))


def test_a_year_only_host_frees_its_family_with_a_growing_year():
    found = outlook(judged(grew("a", "kale", "2025"), grew("a", "pea", "2027")))
    assert found.free_from["Brassicaceae"] == Free(date(2028, 1, 1), date(2029, 1, 1))


def test_open_needs_the_years_on_record():
    rows = [grew("b", "kale", "2026"), grew("a", "pea", "2027")]
    assert outlook(judged(*FILLED, *rows)).free_from["Brassicaceae"] == "open"
    assert outlook(judged(*FILLED[:-1], *rows)).free_from["Brassicaceae"] == "unknown"
    assert outlook(judged(*rows)).free_from["Brassicaceae"] == "unknown"


def test_the_outlook_leaves_out_what_the_window_itself_plans():
    assert outlook(judged(*FILLED, grew("a", "kale", "2027"))).free_from["Brassicaceae"] == "open"


def test_a_disease_for_good_closes_its_family():
    found = outlook(
        judged(
            grew("a", "onion", "2015"), grew("a", "carrot", "2027"), sightings=[seen("a", "2015-07-01", "white rot")]
        )
    )
    assert found.free_from["Amaryllidaceae"] == "never"
    (closure,) = found.closed_to
    assert (closure.until, closure.because) == (None, "allium_white_rot")
    assert {"leek", "garlic"} <= set(closure.crops)
    assert "carrot" not in closure.crops


def test_a_disease_closes_its_hosts_until_its_better_break():
    found = outlook(
        judged(
            grew("a", "kale", "2024-05-01", "2024-10-31"),
            grew("a", "carrot", "2027"),
            sightings=[seen("a", "2024-09-01")],
        )
    )
    (closure,) = found.closed_to
    assert (closure.until, closure.because) == (date(2031, 11, 1), "clubroot")
    assert found.free_from["Brassicaceae"] == Free(date(2031, 11, 1), date(2031, 11, 1))


def test_a_sighting_without_a_host_counts_from_its_own_day():
    found = outlook(judged(grew("a", "carrot", "2027"), grew("b", "kale", "2026"), sightings=[seen("a", "2024-09-01")]))
    assert found.closed_to[0].until == date(2031, 9, 2)


def test_a_closure_that_is_over_is_not_told():
    found = outlook(judged(grew("a", "kale", "2015"), grew("a", "carrot", "2027"), sightings=[seen("a", "2015-09-01")]))
    assert found.closed_to == ()


def test_a_sighting_in_the_window_is_no_outlook_before_it():
    found = outlook(judged(*FILLED, grew("a", "kale", "2027"), sightings=[seen("a", "2027-09-01")]))
    assert found.closed_to == ()


# -- ground that changed hands


def test_a_bed_inherits_the_ground_it_replaces():
    rows = [grew("old", "kale", "2026", id="was"), grew("new", "cabbage", "2027", id="now")]
    report = judged(*rows, beds=[{"id": "new", "replaces": [{"bed": "old"}]}, "old"])
    assert told(report) == [(SOON, ("now",))]
    assert report.findings[0].because["last_host"] == "was"
    assert told(judged(*rows, beds=["new", "old"])) == []


@pytest.mark.parametrize(
    ("dates", "found"),
    [
        ({"until": "2026-12-31"}, True),
        ({"until": "2026-03-31"}, False),
        ({"from": "2026-11-01"}, False),
        ({"from": "2026-10-31"}, True),
    ],
)
def test_a_ground_is_inherited_between_its_dates(dates, found):
    rows = [grew("old", "kale", "2026"), grew("new", "cabbage", "2027")]
    assert bool(judged(*rows, beds=[{"id": "new", "replaces": [{"bed": "old", **dates}]}, "old"]).findings) is found


def test_the_beds_own_first_day_ends_what_it_inherits():
    rows = [grew("old", "kale", "2026"), grew("new", "cabbage", "2027")]
    assert told(judged(*rows, beds=[{"id": "new", "from": "2026-01-01", "replaces": [{"bed": "old"}]}, "old"])) == []


def test_ground_is_inherited_over_several_beds():
    rows = [grew("first", "kale", "2026"), grew("third", "cabbage", "2027", id="now")]
    beds = [{"id": "third", "replaces": [{"bed": "second"}]}, {"id": "second", "replaces": [{"bed": "first"}]}, "first"]
    assert told(judged(*rows, beds=beds)) == [(SOON, ("now",))]


def test_ground_that_comes_by_two_ways_is_inherited_once():
    rows = [grew("old", "kale", "2025", id="k1"), grew("old", "cabbage", "2026", id="k2"), grew("new", "pea", "2027")]
    beds = [
        {"id": "new", "replaces": [{"bed": "left"}, {"bed": "right"}]},
        {"id": "left", "replaces": [{"bed": "old"}]},
        {"id": "right", "replaces": [{"bed": "old"}]},
        "old",
    ]
    report = judged(*rows, beds=beds, how={"history": True})
    assert all(len(set(f.plantings)) == len(f.plantings) for f in report.findings)


def test_an_inherited_fault_is_told_once():
    rows = [grew("old", "kale", "2023", id="k1"), grew("old", "cabbage", "2024", id="k2"), grew("new", "pea", "2027")]
    report = judged(*rows, beds=[{"id": "new", "replaces": [{"bed": "old"}]}, "old"], how={"history": True})
    assert told(report) == [(SOON, ("k2",))]
    assert report.findings[0].beds == ("old",)


def test_sightings_are_inherited_with_the_ground():
    rows = [grew("old", "kale", "2022"), grew("new", "cabbage", "2027", id="now")]
    beds = [{"id": "new", "replaces": [{"bed": "old", "until": "2023-12-31"}]}, "old"]
    report = judged(*rows, beds=beds, sightings=[seen("old", "2022-09-01")])
    assert (HOST, ("now",)) in told(report)
    assert outlook(report, "new").closed_to[0].because == "clubroot"
    late = judged(*rows, beds=beds, sightings=[seen("old", "2024-09-01")])
    assert HOST not in [rule for rule, _ in told(late)]


def test_new_soil_resets_ground_and_sightings():
    rows = [grew("a", "kale", "2025-05-01", "2025-10-31"), grew("a", "cabbage", "2027-04-20", id="now")]
    parts = {"sightings": [seen("a", "2025-09-01")]}
    assert told(judged(*rows, **parts)) == [(HOST, ("now",))]
    assert told(judged(*rows, **parts, amendments=[{"bed": "a", "date": "2026-03-01", "kind": "new_soil"}])) == []
    assert told(judged(*rows, **parts, amendments=[{"bed": "a", "date": "2025-03-01", "kind": "new_soil"}])) == [
        (HOST, ("now",))
    ]
    assert told(judged(*rows, **parts, amendments=[{"bed": "a", "date": "2026-03-01", "kind": "compost"}])) == [
        (HOST, ("now",))
    ]


def test_the_latest_new_soil_counts():
    rows = [grew("a", "kale", "2025-05-01", "2025-10-31"), grew("a", "cabbage", "2027-04-20")]
    soil = [{"bed": "a", "date": day, "kind": "new_soil"} for day in ("2026-03-01", "2024-03-01")]
    assert told(judged(*rows, amendments=soil)) == []


def test_a_short_rotation_asks_for_less():
    rows = [grew("a", "kale", "2025"), grew("a", "cabbage", "2027", id="now")]
    assert told(judged(*rows)) == [(SOON, ("now",))]
    assert told(judged(*rows, garden={"rotation": "short"})) == [(SHORT, ("now",))]
    assert told(judged(*rows, garden={"rotation": "short"}, sightings=[seen("a", "2025-09-01")])) == [(HOST, ("now",))]


def test_new_soil_in_the_bed_that_was_replaced_needs_no_older_record():
    report = judged(
        grew("old", "fallow", "2026"),
        grew("new", "cabbage", "2027"),
        beds=[{"id": "old"}, {"id": "new", "replaces": [{"bed": "old"}]}],
        amendments=[{"bed": "old", "date": date(2026, 2, 1), "kind": "new_soil"}],
    )
    assert report.verdict == "clear"
    assert report.not_checked == ()


@pytest.mark.parametrize(
    ("rule", "bed", "crop"),
    [
        ("disease.host-too-soon", "a", "cabbage"),
        ("disease.seen-elsewhere", "b", "cabbage"),
        ("disease.carrier-in-break", "a", "red clover"),
    ],
)
def test_advice_on_a_disease_never_comes_without_its_cautions(rule, bed, crop):
    report = judged(grew("a", "kale", "2025"), grew(bed, crop, "2027"), sightings=[seen("a", date(2025, 9, 1))])
    (found,) = [finding for finding in report.findings if finding.rule == rule]
    assert "lime_handling" in found.cautions
