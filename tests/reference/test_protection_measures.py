"""Published statements on flowers, thresholds, wild animals and the ladder of measures."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest
from case_plans import knowledge
from protection_rows import DAY, TABLE, UNREAD, context_of, heard, rows, told

from rules.checks.coverage import covers_of, feeders, keeps_out
from rules.knowledge.pestshapes import STEPS

BLOOM = {"insect": "protect.flowers-shut-in", "wind": "protect.tassels-shut-in"}
#: Numbers that our sentences write as words: in a hundred.
IN_WORDS = {"half": 50, "one plant in five": 20, "a tenth": 10, "one wireworm": 1}


def bloom_plan(row: dict[str, Any], **cover: Any) -> dict[str, Any]:
    planting = {"id": "now", "bed": "a", "crop": row["crop"], "start": date(2027, 5, 10), "end": date(2028, 6, 30)}
    if row.get("parthenocarpic"):
        planting["variety"] = {"parthenocarpic": True}
    return {
        "plantings": [planting],
        "covers": [{"bed": "a", "kind": "fleece", "start": date(2027, 5, 10), "edges": "shut", **cover}],
    }


# -- flowers under covers


@pytest.mark.parametrize("row", rows("pollination"))
def test_who_carries_the_pollen(row: dict[str, Any]) -> None:
    crop = knowledge().find_crop(row["crop"])
    assert crop is not None
    assert crop.traits.pollination == row["trait"]


@pytest.mark.parametrize("row", rows("pollination"))
def test_what_may_stay_covered_while_it_flowers(row: dict[str, Any]) -> None:
    expected = set() if row.get("parthenocarpic") else {BLOOM[row["trait"]]} if row["trait"] in BLOOM else set()
    assert heard(told(bloom_plan(row)), BLOOM.values()) == expected


@pytest.mark.parametrize("row", [row for row in rows("pollination") if row.values[0]["trait"] in BLOOM])
def test_opened_in_time_it_is_as_good_as_bare(row: dict[str, Any]) -> None:
    early = date(2027, 5, 20)
    assert heard(told(bloom_plan(row, open_by_day_from=early)), BLOOM.values()) == set()
    assert heard(told(bloom_plan(row, end=early)), BLOOM.values()) == set()


def numbers(text: str) -> set[int]:
    found = {int(figure) for figure in re.findall(r"\d+", text)}
    return found | {value for words, value in IN_WORDS.items() if words in text}


# -- when to act


@pytest.mark.parametrize("row", rows("thresholds"))
def test_published_numbers_at_which_to_act(row: dict[str, Any]) -> None:
    crop = knowledge().find_crop(row["crop"])
    assert crop is not None
    told_of = [
        t
        for t in knowledge().facts.thresholds.values()
        if row["pest"] in t.pests
        and t.on.match(crop) == "yes"
        and ("stage" not in row or row["stage"] in (t.stage or ""))
    ]
    wanted = [row, *row.get("also", ())]
    fitting = [t for t in told_of if set(t.views[0].sources) & set(row["src"])]
    if len(fitting) > 1:  # one pest, several stages of the crop
        fitting = [t for t in fitting if set(row["figures"]) <= numbers(t.views[0].at)]
    (threshold,) = fitting
    assert threshold.grower == row["grower"]
    assert len(threshold.views) == len(wanted), "both figures stand where sources differ"
    for view, published in zip(threshold.views, wanted, strict=True):
        assert set(published["src"]) - UNREAD <= set(view.sources)
        assert set(published["figures"]) <= numbers(view.at)
        if not published["figures"]:
            assert numbers(view.at) == set()
    if row["per"] == "plant" and row["figures"]:
        assert "a plant" in threshold.views[0].at


def test_conflicting_numbers_of_the_corn_flea_beetle_are_tenfold_apart() -> None:
    views = knowledge().facts.thresholds["corn-flea-beetle"].views
    assert [min(numbers(view.at)) for view in views] == [50, 5]


# -- wild animals


@pytest.mark.parametrize("row", rows("places"))
def test_five_millimetres_as_law_and_as_advice(row: dict[str, Any]) -> None:
    def wildlife(mesh: float) -> dict[str, str]:
        plan = {
            "garden": {"latitude": row["latitude"], "country": row["country"]},
            "plantings": [{"bed": "a", "crop": "cabbage", "start": date(2027, 9, 20), "end": date(2028, 2, 1)}],
            "covers": [{"bed": "a", "kind": "net", "mesh": mesh, "start": date(2027, 9, 20), "edges": "shut"}],
        }
        names = ("protect.net-unlawful-here", "protect.net-catches-animals")
        return {f.rule: f.severity for f in told(plan).findings if f.rule in names}

    assert wildlife(5) == {}
    assert wildlife(5.5) == (
        {"protect.net-unlawful-here": "breach"} if row["law"] else {"protect.net-catches-animals": "advice"}
    )


def test_the_law_is_told_only_where_a_source_says_that_it_is_law() -> None:
    rule = knowledge().rules["protect.net-unlawful-here"]
    assert set(rule.options["law"]) == {row["country"] for row in TABLE["places"] if row["law"]}
    assert set(rule.evidence.sources) == {key for row in TABLE["places"] if row["law"] for key in row["src"]}


# -- one cover over several crops


@pytest.mark.parametrize("row", rows("shared"))
def test_one_cover_keeps_a_pest_from_all_its_hosts_and_does_nothing_for_others(row: dict[str, Any]) -> None:
    crops = [*row["hosts"], *row["spared"]]
    context = context_of(
        {
            "plantings": [
                {"id": f"p{n}", "bed": "a", "crop": crop, "start": DAY, "end": date(2027, 9, 1)}
                for n, crop in enumerate(crops)
            ],
            "covers": [{"bed": "a", "kind": "net", "mesh": row["mesh"], "start": DAY, "edges": "shut"}],
        }
    )
    over = covers_of(context)
    kept = [
        crop
        for n, crop in enumerate(crops)
        for pest in feeders(context, context.plantings[f"p{n}"])
        if pest.id == row["pest"] and keeps_out(over[f"p{n}"][0], context.plantings[f"p{n}"], pest)
    ]
    assert kept == row["hosts"]


def test_hosts_of_one_pest_cross_families() -> None:
    families = {
        row["pest"]: {crop.family for word in row["hosts"] if (crop := knowledge().find_crop(word))}
        for row in TABLE["shared"]
    }
    assert sum(len(found) > 1 for found in families.values()) >= 5


# -- the ladder


@pytest.mark.parametrize("row", rows("controls"))
def test_the_rung_of_a_control_and_what_it_is_for(row: dict[str, Any]) -> None:
    control = knowledge().controls[row["control"]]
    assert control.step == row["step"]
    assert row.get("kind") in (None, control.kind)
    assert set(row.get("against", ())) <= control.against
    if row.get("against") == []:
        assert control.against == frozenset()
    assert set(row.get("weak_on", ())) <= control.weak_on
    assert control.weak_on.isdisjoint(control.against)
    assert set(row["src"]) & {key for keys in control.sources.values() for key in keys}


@pytest.mark.parametrize("row", rows("rungs"))
def test_the_order_of_the_rungs(row: dict[str, Any]) -> None:
    order = list(STEPS)
    assert order.index(row["before"]) < order.index(row["after"])


def test_sprays_baits_and_dusts_carry_the_label() -> None:
    bought = [c for c in knowledge().controls.values() if c.kind in ("spray", "bait", "dust", "repel")]
    assert len(bought) >= 8
    for control in bought:
        assert {"label_first", "harvest_wait"} <= set(control.cautions), control.id


def test_against_squirrels_a_barrier_and_neither_bait_nor_spray() -> None:
    """Sprays and bait do nothing against squirrels; a barrier does (common practice)."""
    found = knowledge().controls_of("tree_squirrels")
    assert {control.kind for control in found} == {"exclude"}


def test_moving_wild_animals_is_never_advised() -> None:
    """USDA_TRANSLOC, FWC_RELOC: seldom lawful, and they fare badly."""
    for pest in knowledge().pests.values():
        assert all(control.step != "not_recommended" for control in knowledge().controls_of(pest.id))
    assert "wild_animals" in knowledge().controls["relocation"].cautions


def test_bait_goes_on_moist_soil_and_is_renewed_after_rain() -> None:
    """Common practice."""
    bait = knowledge().controls["iron_phosphate_bait"]
    assert "moist soil" in bait.when
    assert "rain" in (bait.reapply or "")


def test_soapy_water_in_a_coloured_bowl_is_for_watching_and_ends_no_outbreak() -> None:
    """Common practice; the same is published of sticky cards (NACAA_STICKY, UCIPM_STICKY)."""
    for name in ("pan_traps", "yellow_sticky_traps"):
        assert knowledge().controls[name].step == "monitor"
        assert "soap" in knowledge().controls["pan_traps"].how
