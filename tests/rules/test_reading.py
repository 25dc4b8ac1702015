"""From typed rows to a plan: names, seasons, assumed ends, ids, and everything wrong at once."""

from datetime import date, timedelta

import pytest
from tiny_plans import TODAY, document, grew, plan_of

from rules import PlanFaults, build_plan, load_knowledge
from rules.knowledge.facts import Crop, Maturity
from rules.model import FrostDate, Garden, Window
from rules.reading import assumed_end

KNOWLEDGE = load_knowledge()
SOUTH = {"latitude": -37.8}


def faults(*rows, season=None, **parts):
    """The faults of a document as (path, words)."""
    with pytest.raises(PlanFaults) as caught:
        build_plan(document(*rows, **parts), KNOWLEDGE, as_of=TODAY, season=season)
    return [(fault.path, fault.detail) for fault in caught.value.faults]


def only(*rows, **parts):
    found = faults(*rows, **parts)
    assert len(found) == 1, found
    return found[0]


def one(*rows, **parts):
    (planting,) = plan_of(*rows, **parts).plantings
    return planting


# -- crops


def test_own_crops_are_known_by_their_id_and_rotate_by_their_family():
    oca = one(grew("a", "Oca", "2026"), crops=[{"id": "oca", "name": "oca root", "family": "oxalidaceae"}])
    assert (oca.crop.id, oca.crop.name, oca.crop.family, oca.crop.kind) == ("oca", "oca root", "Oxalidaceae", "own")


def test_an_own_perennial_stays():
    crop = {"id": "sea_kale", "family": "Brassicaceae", "lifecycle": "perennial"}
    assert one(grew("a", "sea kale", "2026-04-01"), crops=[crop]).end == date(2199, 12, 31)


def test_own_crops_may_not_take_a_known_name_or_stand_twice():
    path, words = only(beds=["a"], crops=[{"id": "kale", "family": "Brassicaceae"}])
    assert path == ("crops", 0, "id")
    assert "in the catalogue already" in words
    path, words = only(
        beds=["a"], crops=[{"id": "oca", "family": "Oxalidaceae"}, {"id": "Oca", "family": "Oxalidaceae"}]
    )
    assert path == ("crops", 1, "id")
    assert "stands twice" in words


def test_an_own_crop_needs_a_plant_family():
    path, words = only(beds=["a"], crops=[{"id": "oca", "family": "Brassicacea"}])
    assert path == ("crops", 0, "family")
    assert "did you mean Brassicaceae" in words


def test_an_unknown_crop_comes_with_the_nearest_names():
    path, words = only(grew("a", "cabage", "2026"))
    assert path == ("plantings", 0, "crop")
    assert words.startswith("no crop is known as 'cabage'; did you mean cabbage")


def test_an_unknown_crop_with_nothing_near_points_to_own_crops():
    _, words = only(grew("a", "qqqqzzzz", "2026"))
    assert "a crop of your own can be given under 'crops'" in words


def test_suggestions_are_made_for_20_names_at_most():
    found = faults(*(grew("a", f"cabbag{n}", "2026") for n in range(25)))
    assert len(found) == 25
    assert [path for path, _ in found] == [("plantings", n, "crop") for n in range(25)]
    assert ["did you mean" in words for _, words in found] == [True] * 20 + [False] * 5


def test_one_unknown_name_on_many_rows_uses_up_one_suggestion():
    rows = [grew("a", "cabage", "2026") for _ in range(30)] + [grew("a", "tomatto", "2026")]
    assert "did you mean tomato" in faults(*rows)[-1][1]


def test_unknown_troubles_and_causes_come_with_the_nearest_names():
    path, words = only(grew("a", "kale", "2026"), sightings=[{"bed": "a", "date": "2026-05-01", "of": "clubrot"}])
    assert (path, "clubroot" in words) == (("sightings", 0, "of"), True)
    path, words = only(grew("a", "kale", "2026", status="lost", cause="frosst"))
    assert (path, "frost" in words) == (("plantings", 0, "cause"), True)
    path, words = only(grew("a", "kale", "2026", variety={"resists": ["clubroot", "clubrot"]}))
    assert (path, "clubroot" in words) == (("plantings", 0, "variety", "resists", 1), True)


def test_a_cause_belongs_to_a_loss():
    path, words = only(grew("a", "kale", "2026", status="done", cause="slugs"))
    assert path == ("plantings", 0, "cause")
    assert "status 'lost'" in words


# -- beds


def test_beds_are_derived_from_the_plantings_when_none_are_listed():
    plan = plan_of(grew("b", "kale", "2026"), grew("a", "pea", "2026"), grew("b", "pea", "2025"))
    assert [(bed.id, bed.name, bed.kind) for bed in plan.beds] == [("a", "a", "ground"), ("b", "b", "ground")]


def test_a_bed_that_is_not_listed_is_a_fault_with_the_nearest():
    path, words = only(grew("kilm", "kale", "2026"), beds=["kiln", "quay"])
    assert path == ("plantings", 0, "bed")
    assert "did you mean kiln?" in words


def test_two_beds_of_one_id():
    path, words = only(beds=["kiln", "quay", "kiln"])
    assert path == ("beds", 2, "id")
    assert "stands twice; the first is bed 1" in words


@pytest.mark.parametrize(
    ("lines", "places"),
    [
        ({"a": ["a"]}, [0]),
        ({"a": ["b"], "b": ["a"]}, [0, 1]),
        ({"a": ["b"], "b": ["c"], "c": ["a"]}, [0, 1, 2]),
        ({"a": ["b"], "b": ["c"], "c": ["b"]}, [1, 2]),
    ],
)
def test_a_line_of_beds_that_comes_back_to_itself(lines, places):
    beds = [{"id": bed, "replaces": [{"bed": older} for older in olders]} for bed, olders in lines.items()]
    found = faults(beds=beds)
    assert [path for path, _ in found] == [("beds", place, "replaces") for place in places]
    assert all("would replace itself" in words for _, words in found)


def test_a_line_of_beds_may_fork_and_join():
    beds = [
        {"id": "new", "replaces": [{"bed": "left"}, {"bed": "right"}]},
        {"id": "left", "replaces": [{"bed": "old"}]},
        {"id": "right", "replaces": [{"bed": "old"}]},
        "old",
    ]
    assert len(plan_of(beds=beds).beds) == 4


def test_a_replaced_bed_must_be_listed():
    path, words = only(beds=[{"id": "kiln", "replaces": [{"bed": "old-kilm"}]}, "old-kiln"])
    assert path == ("beds", 0, "replaces", 0)
    assert "old-kiln" in words


def test_a_bed_may_not_end_before_it_begins():
    assert only(beds=[{"id": "a", "from": "2026-05-01", "until": "2026-04-01"}])[0] == ("beds", 0, "until")


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


# -- assumed ends


def grown(stands, most=80, lifecycle="annual"):
    maturity = Maturity(most - 10, most, "sowing") if most else None
    return Crop("x", "x", "x", "Xaceae", "vegetable", lifecycle=lifecycle, maturity=maturity, stands=stands)


NORTH_GARDEN, SOUTH_GARDEN = Garden(latitude=46.2), Garden(latitude=-37.8)


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
        ("2026-11-20", "2027-03-01", "growing"),
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
