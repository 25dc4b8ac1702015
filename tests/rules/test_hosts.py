"""Hosts of one pest side by side: relatives, and crops of different families."""

import pytest
from host_rows import GROUPED, KNOWLEDGE, ROW, SHARED, found, report_of, stands
from tiny_plans import grew

from rules.checks.unsettled import BY_YEAR, IN_LIST


def linked(rule, *rows, **parts):
    """Findings of a rule in short: pests and plantings."""
    return {(finding.because["pests"], finding.plantings) for finding in found(rule, *rows, **parts)}


# -- relatives


def test_relatives_side_by_side_are_told_once_a_family():
    rows = [stands("a", "cabbage"), stands("b", "kale"), stands("d", "leek"), stands("e", "onion_bulb")]
    more = [stands("c", "carrot"), stands("f", "parsley"), stands("b", "turnip")]
    told = found(GROUPED, *rows, *more, beds=ROW)
    assert {finding.because["family"]: finding.plantings for finding in told} == {
        "Brassicaceae": ("a-cabbage", "b-kale", "b-turnip"),
        "Amaryllidaceae": ("d-leek", "e-onion_bulb"),
    }
    assert {(finding.severity, finding.points, finding.effect) for finding in told} == {("benefit", 0, "none")}


@pytest.mark.parametrize(
    "rows",
    [
        [stands("a", "cabbage"), stands("b", "cabbage")],  # one crop
        [stands("a", "onion"), stands("b", "onion_bulb")],  # may be one crop
        [stands("a", "cabbage"), stands("c", "kale")],  # 5 m apart
        [stands("a", "cabbage"), stands("b", "leek")],  # no relatives
        [stands("a", "rosemary"), stands("b", "basil")],  # outside the rotation
        [stands("a", "chives"), stands("b", "onion_bulb")],  # one of them stays
        [stands("a", "cabbage", end="2027-05-30"), stands("b", "kale", "2027-05-25")],  # six days
        [grew("a", "cabbage", "2027"), grew("b", "kale", "2027")],  # no days
    ],
)
def test_what_is_no_group_of_relatives(rows):
    assert found(GROUPED, *rows, beds=ROW) == []


def test_a_host_that_stands_over_and_hands_pests_on_is_not_praised_as_grouped():
    over = stands("a", "kale", "2026-07-01", "2027-05-10", status="growing")
    told = found(GROUPED, over, stands("b", "cabbage"), stands("b", "turnip"), beds=ROW)
    assert [finding.plantings for finding in told] == [("b-cabbage", "b-turnip")]


def test_relatives_at_an_unknown_distance_are_no_group_but_parts_of_a_bed_are():
    assert found(GROUPED, stands("a", "cabbage"), stands("b", "kale"), beds=["a", "b"]) == []
    parts = [stands("a", "cabbage", part=(0, 0.5)), stands("a", "kale", part=(0.5, 1))]
    assert len(found(GROUPED, *parts)) == 1


# -- other families


@pytest.mark.parametrize(
    ("one", "other", "pests"),
    [
        ("broad_bean", "beet", ("black_bean_aphid",)),
        ("cucumber", "okra", ("melon_aphid",)),
        ("potato", "head_lettuce", ("potato_aphid",)),
        ("sweet_corn", "tomato", None),  # the moth comes from far away
        ("head_lettuce", "kale", None),  # slugs, aphids of nearly everything
        ("carrot", "potato", None),  # wireworms live in any soil
        ("cabbage", "kale", None),  # relatives
        ("broad_bean", "bush_bean", None),
        ("cabbage", "leek", None),  # no pest in common but thrips of nearly everything
    ],
)
def test_which_crops_of_different_families_share_a_pest_worth_telling(one, other, pests):
    told = linked(SHARED, stands("a", one), stands("b", other), beds=ROW)
    if pests is None:
        assert told == set()
    else:
        ((named, plantings),) = told
        assert set(pests) <= set(named)
        assert set(plantings) == {f"a-{one}", f"b-{other}"}


def test_a_group_is_told_once_and_not_for_every_two():
    rows = [stands(bed, crop) for bed, crop in zip("abcdef", ["broad_bean", "beet"] * 3, strict=True)]
    ((pests, plantings),) = linked(SHARED, *rows, beds=ROW)
    assert "black_bean_aphid" in pests
    assert len(plantings) == 6


def test_groups_that_lie_apart_are_told_apart():
    rows = [stands(bed, crop) for bed, crop in zip("abef", ["broad_bean", "beet"] * 2, strict=True)]
    told = {plantings for _, plantings in linked(SHARED, *rows, beds=ROW)}
    assert told == {("a-broad_bean", "b-beet"), ("e-broad_bean", "f-beet")}


def test_pests_that_link_the_same_plantings_share_one_finding():
    (finding,) = found(SHARED, stands("a", "cucumber"), stands("b", "bush_bean"), stands("c", "carrot"), beds=ROW)
    assert finding.because["pests"] == ("serpentine_leafminer",)
    both = found(SHARED, stands("a", "spinach"), stands("b", "bush_bean"), beds=ROW)
    assert [finding.because["pests"] for finding in both] == [("black_bean_aphid", "serpentine_leafminer")]
    assert "black bean aphid and serpentine leafminer" in both[0].title.lower()


@pytest.mark.parametrize("word", ["salad", "root vegetables", "bean"])
def test_a_word_for_several_crops_counts_only_where_all_are_hosts(word):
    crop = KNOWLEDGE.find_crop(word)
    if crop is None:
        pytest.fail(f"{word!r} is no word of the catalogue")
    told = {pest for pests, _ in linked(SHARED, stands("a", word), stands("b", "beet"), beds=ROW) for pest in pests}
    assert told == {
        pest.id
        for pest in KNOWLEDGE.pests.values()
        if pest.id in ("black_bean_aphid", "serpentine_leafminer") and crop.id in pest.hosts and "beet" in pest.hosts
    }


def test_distance_is_said_once_where_it_is_not_known():
    rows = [stands("a", "broad_bean"), stands("b", "beet"), stands("d", "broad_bean"), stands("e", "beet")]
    report = report_of(*rows, beds=list("abcdef"))
    told = [finding for finding in report.findings if finding.rule == SHARED]
    assert [(finding.severity, "metres" in finding.because) for finding in told] == [("advice", False)] * 2
    (line,) = [line for line in report.not_checked if line.why == IN_LIST]
    assert (line.rule, line.count, line.beds) == (SHARED, 4, ("a", "b", "d", "e"))
    placed = report_of(*rows, beds=ROW)
    assert [finding.because["metres"] for finding in placed.findings if finding.rule == SHARED] == [1.0, 1.0]
    assert all(line.why != IN_LIST for line in placed.not_checked)


def test_rows_known_by_their_year_are_counted_on_one_line():
    rows = [grew("a", "broad_bean", "2027"), grew("b", "beet", "2027"), stands("c", "okra"), grew("f", "beet", "2027")]
    report = report_of(*rows, beds=ROW)
    (line,) = [line for line in report.not_checked if line.why == BY_YEAR]
    assert (line.rule, line.count, line.beds) == (SHARED, 2, ("a", "b"))
    assert all(finding.rule != SHARED for finding in report.findings)
