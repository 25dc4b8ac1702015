"""Ground that changed hands, and new soil."""

from datetime import date

import pytest
from judged_rows import HOST, SHORT, SOON, judged, outlook, seen
from tiny_plans import grew, told


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
