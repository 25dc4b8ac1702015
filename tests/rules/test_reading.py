"""From typed rows to a plan: ids, the judged window, and all faults at once."""

from datetime import date

import pytest
from tiny_plans import TODAY, document, grew, plan_of
from typed_rows import KNOWLEDGE, SOUTH, faults, one, only

from rules import PlanFaults, build_plan
from rules.model import Window

# -- ids


def test_derived_ids_do_not_depend_on_the_order_of_rows():
    rows = [
        grew("a", "kale", "2026"),
        grew("a", "kale", "2026"),
        grew("a", "kale", "2026", part=[0, 0.5]),
        grew("b", "kale", "2026"),
        grew("a", "kale", "2026-05-01"),
        grew("a", "pea", "2026", id="a.kale.2026.1"),
        grew("a", "borecole", "2026", count=3),
    ]
    forward, backward = plan_of(*rows), plan_of(*reversed(rows))
    assert forward.plantings == backward.plantings
    assert len({p.id for p in forward.plantings}) == len(rows)
    assert {"b.kale.2026", "a.kale.2026-05-01"} <= {p.id for p in forward.plantings}


def test_a_single_row_is_named_plainly():
    assert one(grew("kiln", "Savoys" if KNOWLEDGE.find_crop("Savoys") else "cabbages", "2027-spring")).id.startswith(
        "kiln."
    )


def test_an_id_twice():
    path, words = only(grew("a", "kale", "2025", id="x"), grew("a", "kale", "2026", id="x"))
    assert path == ("plantings", 1, "id")
    assert "stands twice; the first is row 1" in words


def test_references_to_plantings_are_held_against_the_rows():
    row = grew("a", "kale", "2026-05-01", id="sown")
    assert only(row, grew("a", "kale", "2026-06-01", replaces="swon"))[0] == ("plantings", 1, "replaces")
    assert only(row, covers=[{"bed": "a", "kind": "net", "start": "2026-05-01", "plantings": ["swon"]}])[0] == (
        "covers",
        0,
        "plantings",
    )
    assert only(row, sightings=[{"bed": "a", "date": "2026-05-09", "of": "clubroot", "planting": "swon"}])[0] == (
        "sightings",
        0,
        "planting",
    )
    assert only(row, treatments=[{"bed": "a", "date": "2026-05-09", "active": "x", "planting": "swon"}])[0] == (
        "treatments",
        0,
        "planting",
    )


def test_the_short_lists_name_their_beds():
    row = grew("a", "kale", "2026-05-01")
    for key, entry in {
        "covers": {"kind": "net", "start": date(2026, 5, 1)},
        "sightings": {"date": date(2026, 5, 1), "of": "clubroot"},
        "treatments": {"date": date(2026, 5, 1), "active": "x"},
        "amendments": {"date": date(2026, 5, 1), "kind": "lime"},
    }.items():
        assert only(row, **{key: [{"bed": "b", **entry}]})[0] == (key, 0, "bed")


# -- the judged window


@pytest.mark.parametrize(
    ("rows", "garden", "start", "end", "season"),
    [
        ([grew("a", "kale", "2025"), grew("a", "pea", "2027")], {}, "2027-01-01", "2027-12-31", "2027"),
        ([grew("a", "kale", "2025")], SOUTH, "2025-07-01", "2026-06-30", "2025"),
        ([], {}, "2026-01-01", "2026-12-31", "2026"),
    ],
)
def test_the_latest_growing_year_is_judged_by_default(rows, garden, start, end, season):
    plan = plan_of(*rows, garden=garden, beds=["a"])
    assert plan.judge == Window(date.fromisoformat(start), date.fromisoformat(end))
    assert plan.judged_season == season


@pytest.mark.parametrize(
    ("word", "garden", "start", "end"),
    [
        ("2026", {}, "2026-01-01", "2026-12-31"),
        ("2026", SOUTH, "2026-07-01", "2027-06-30"),
        ("2026-winter", {}, "2026-12-01", "2027-02-28"),
        ("2026-winter", SOUTH, "2026-06-01", "2026-08-31"),
    ],
)
def test_a_season_is_judged(word, garden, start, end):
    window = Window(date.fromisoformat(start), date.fromisoformat(end))
    assert plan_of(grew("a", "kale", "2025"), garden=garden, judge=word).judge == window
    data = {**document(grew("a", "kale", "2025"), garden=garden), "judge": {"season": word}}
    assert build_plan(data, KNOWLEDGE, as_of=TODAY).judge == window


def test_the_season_asked_for_goes_before_the_documents_own():
    data = {**document(grew("a", "kale", "2025")), "judge": {"season": "2025"}}
    assert build_plan(data, KNOWLEDGE, as_of=TODAY, season="2028").judged_season == "2028"


def test_days_are_judged():
    data = {**document(grew("a", "kale", "2025")), "judge": {"from": date(2027, 3, 1), "to": date(2027, 4, 1)}}
    plan = build_plan(data, KNOWLEDGE, as_of=TODAY)
    assert (plan.judge, plan.judged_season) == (Window(date(2027, 3, 1), date(2027, 4, 1)), None)
    data["judge"] = {"from": date(2027, 3, 1), "to": date(2027, 2, 1)}
    with pytest.raises(PlanFaults) as caught:
        build_plan(data, KNOWLEDGE, as_of=TODAY)
    assert [fault.path for fault in caught.value.faults] == [("judge", "to")]


# -- all at once


def test_a_plan_needs_beds_or_plantings():
    path, words = only()
    assert path == ()
    assert "needs beds, plantings or both" in words
    assert plan_of(beds=["a"]).plantings == ()


def test_everything_wrong_is_told_at_once():
    found = faults(
        grew("nowhere", "cabage", "2027-monsoon"),
        grew("a", "kale", "2026-05-01", "2026-04-01"),
        beds=["a", "a"],
        crops=[{"id": "x", "family": "?"}],
        sightings=[{"bed": "z", "date": "2026-05-01", "of": "??"}],
    )
    assert {path for path, _ in found} == {
        ("beds", 1, "id"),
        ("crops", 0, "family"),
        ("plantings", 0, "crop"),
        ("plantings", 0, "bed"),
        ("plantings", 0, "season"),
        ("plantings", 1, "end"),
        ("sightings", 0, "of"),
        ("sightings", 0, "bed"),
    }


def test_rows_that_the_schema_refused_are_left_out():
    data = document(grew("a", "kale", "2025"), grew("a", "pea", "2026", id="good", replaces="unread"))
    data["plantings"][0] = None
    plan = build_plan(data, KNOWLEDGE, as_of=TODAY, broken=frozenset({("plantings", 0)}))
    assert [p.id for p in plan.plantings] == ["good"]


def test_a_planting_cannot_replace_itself():
    path, words = only(grew("a", "kale", "2026", id="p", replaces="p"))
    assert path == ("plantings", 0, "replaces")
    assert words == "a planting cannot replace itself"


def test_a_first_harvest_cannot_lie_before_the_start_or_after_the_end():
    early = grew("a", "kale", "2026-05-01", first_harvest=date(2026, 4, 1))
    late = grew("a", "kale", "2026-05-01", "2026-09-01", first_harvest=date(2026, 10, 1))
    assert only(early) == (("plantings", 0, "first_harvest"), "2026-04-01 lies before the start 2026-05-01")
    assert only(late) == (("plantings", 0, "first_harvest"), "2026-10-01 lies after the end 2026-09-01")


def test_more_rows_of_one_bed_than_any_record_holds_are_refused_at_the_first_that_is_too_many():
    rows = [grew("a", "radish", "2027-04-01", "2027-05-01", id=f"p{n}") for n in range(501)]
    assert len(plan_of(*rows[:500], judge="2027").plantings) == 500
    with pytest.raises(PlanFaults) as refused:
        plan_of(*rows, judge="2027")
    assert [(f.path, f.detail) for f in refused.value.faults] == [
        (("plantings", 500, "bed"), "bed 'a' has more than 500 plantings; that is the most for one bed")
    ]
