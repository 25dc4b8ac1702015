"""Names in rows: crops, own crops, beds and their lines."""

from datetime import date

import pytest
from tiny_plans import grew, plan_of
from typed_rows import faults, one, only

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
