"""How findings come: each once, in order, with what was not checked."""

from dataclasses import replace
from datetime import date

from judged_rows import FILLED, HOST, SHORT, SOON, judged, seen
from tiny_plans import grew, plan_of, told

from rules import check
from rules.model import Window

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
