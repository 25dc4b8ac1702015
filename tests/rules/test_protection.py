"""The protection plan: risks and their reasons, covers, the ladder, and days to wait."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from tiny_plans import grew, plan_of

from rules import check, load_knowledge
from rules.knowledge.pestshapes import STEPS
from rules.model import Window
from rules.planning.care import MIDDLING, CropCare, Protection
from rules.planning.protection import MOST_PESTS, protect

KNOWN = load_knowledge()
SEASON = Window(date(2026, 11, 20), date(2027, 10, 31))


def found(*plantings: Any, window: Window = SEASON, **parts: Any) -> Protection:
    parts.setdefault("beds", ["kiln", "quay"])
    return protect(plan_of(*plantings, judge="2027", **parts), window, KNOWN)


def care_of(protection: Protection, crop: str) -> CropCare:
    return next(care for care in protection.crops if care.crop.id == crop)


def risks(care: CropCare) -> dict[str, str]:
    return {one.pest.id: one.level for one in care.expected}


def reasons(care: CropCare, pest: str) -> tuple[str, ...]:
    return next(one.reasons for one in care.expected if one.pest.id == pest)


POTATO_2026 = grew("kiln", "potato", "2026-04-05", "2026-08-20", status="done")
POTATO_2027 = grew("kiln", "potato", "2027-04-05", "2027-08-20", id="p")


def test_each_reason_makes_a_pest_likelier() -> None:
    beetle = "colorado_potato_beetle"
    preferred = care_of(found(POTATO_2027), "potato")
    assert reasons(preferred, beetle) == ("goes for it first",)
    assert risks(preferred)[beetle] == "medium"
    from_ground = care_of(found(POTATO_2026, POTATO_2027), "potato")
    assert reasons(from_ground, beetle) == ("may come out of bed kiln after the last host there", "goes for it first")
    assert risks(from_ground)[beetle] == "high"
    seen = care_of(found(POTATO_2027, sightings=[{"bed": "quay", "date": "2026-06-20", "of": beetle}]), "potato")
    assert reasons(seen, beetle)[0] == "seen in bed quay in June 2026"


def test_a_sighting_of_long_ago_is_no_reason() -> None:
    old = [{"bed": "quay", "date": "2023-06-20", "of": "colorado_potato_beetle"}]
    assert reasons(care_of(found(POTATO_2027, sightings=old), "potato"), "colorado_potato_beetle") == (
        "goes for it first",
    )


def test_a_pest_of_another_continent_is_not_told() -> None:
    squash = grew("kiln", "winter_squash", "2027-05-20", "2027-09-30")
    told = {
        country: risks(care_of(found(squash, garden={"country": country}), "winter_squash")) for country in ("US", "GB")
    }
    assert "squash_vine_borer" in told["US"]
    assert "squash_vine_borer" not in told["GB"]


def test_what_lives_in_any_soil_does_not_come_out_of_a_bed() -> None:
    before = grew("kiln", "lettuce", "2026-04-15", "2026-06-10", status="done")
    lettuce = care_of(found(before, grew("kiln", "lettuce", "2027-04-15", "2027-06-10")), "lettuce")
    any_soil = [one for one in lettuce.expected if one.any_soil]
    assert {"slugs", "wireworms"} <= {one.pest.id for one in any_soil}
    for one in any_soil:
        assert one.reasons == ("lives in any soil, and young plants stand here",)
        assert one.level == "medium"
        assert not one.for_cause


def test_old_plants_are_not_what_soil_pests_go_for() -> None:
    strawberries = grew("kiln", "strawberry", "2024-04-05", status="growing")
    care = care_of(found(strawberries), "strawberry")
    assert {one.level for one in care.expected} == {"low"}
    assert "slugs" in risks(care)


def test_a_perennial_met_what_was_in_its_ground_long_ago() -> None:
    peas = grew("kiln", "asparagus", "2022-04-01", "2023-03-01", status="done")
    asparagus = grew("kiln", "asparagus", "2023-04-05", status="growing")
    told = care_of(found(peas, asparagus), "asparagus")
    assert all("come out" not in reason for one in told.expected for reason in one.reasons)


def test_no_more_pests_than_can_be_read_and_the_worst_first() -> None:
    kale = grew("kiln", "kale", "2026-05-10", "2026-10-31", status="done")
    care = care_of(found(kale, grew("kiln", "cabbage", "2027-04-20", "2027-09-30")), "cabbage")
    assert len(care.expected) <= MOST_PESTS
    assert [one.risk for one in care.expected] == sorted((one.risk for one in care.expected), reverse=True)


def test_numbers_to_act_at_stand_only_with_likely_pests() -> None:
    care = care_of(found(grew("kiln", "broccoli", "2027-05-25", "2027-10-15")), "broccoli")
    likely = {one.pest.id for one in care.expected if one.risk >= MIDDLING}
    assert care.thresholds
    assert all(likely & threshold.pests for threshold in care.thresholds)


# -- covers


def test_a_net_is_advised_as_coarse_as_it_may_be_from_the_day_the_crop_goes_in() -> None:
    guard = care_of(found(grew("quay", "leek", "2027-06-10", "2028-03-15")), "leek").guard
    assert guard is not None
    assert (guard.mesh_mm, guard.on, guard.planned) == (0.8, date(2027, 6, 10), ())
    assert [pest.id for pest in guard.pests] == ["allium_leafminer"]


def test_a_net_over_last_seasons_ground_is_a_trap_and_names_the_bed() -> None:
    guard = care_of(found(POTATO_2026, POTATO_2027), "potato").guard
    assert guard is not None
    assert "colorado_potato_beetle" in [pest.id for pest in guard.trap]
    assert guard.trap_beds == ("kiln",)
    elsewhere = care_of(found({**POTATO_2026, "bed": "quay"}, POTATO_2027), "potato").guard
    assert elsewhere is not None
    assert elsewhere.trap == ()


def test_a_planned_cover_is_acknowledged_and_not_advised_again() -> None:
    net = {"bed": "quay", "kind": "net", "mesh": 0.8, "start": "2027-06-10", "edges": "shut"}
    guard = care_of(found(grew("quay", "leek", "2027-06-10", "2028-03-15"), covers=[net]), "leek").guard
    assert guard is not None
    assert len(guard.planned) == 1
    assert "allium_leafminer" in [pest.id for pest in guard.kept_out]
    assert (guard.pests, guard.mesh_mm) == ((), None)


def test_a_planned_cover_does_not_keep_out_what_comes_up_beneath_it() -> None:
    net = {"bed": "kiln", "kind": "net", "mesh": 0.8, "start": "2027-04-05", "edges": "shut"}
    guard = care_of(found(POTATO_2026, POTATO_2027, covers=[net]), "potato").guard
    assert guard is not None
    assert "colorado_potato_beetle" not in [pest.id for pest in guard.kept_out]
    assert "colorado_potato_beetle" in [pest.id for pest in guard.trap]
    assert guard.trap_beds == ("kiln",)
    fresh = care_of(found(POTATO_2027, covers=[net]), "potato").guard
    assert fresh is not None
    assert "colorado_potato_beetle" in [pest.id for pest in fresh.kept_out]
    assert fresh.trap == ()


@pytest.mark.parametrize("fault", [{"mesh": 5.0}, {"edges": "open"}, {"start": "2027-06-25"}])
def test_a_cover_that_does_not_keep_them_out_is_not_said_to(fault: dict[str, Any]) -> None:
    net = {"bed": "quay", "kind": "net", "mesh": 0.8, "start": "2027-06-10", "edges": "shut"} | fault
    guard = care_of(found(grew("quay", "leek", "2027-06-10", "2028-03-15"), covers=[net]), "leek").guard
    assert guard is not None
    assert "allium_leafminer" not in [pest.id for pest in guard.kept_out]
    assert [pest.id for pest in guard.pests] == ["allium_leafminer"]


def test_a_crop_that_needs_insects_is_opened_at_flower() -> None:
    squash = grew("kiln", "winter_squash", "2027-05-20", "2027-09-30", first_harvest="2027-08-20")
    guard = care_of(found(squash, garden={"country": "US"}), "winter_squash").guard
    assert guard is not None
    assert guard.open_from == date(2027, 7, 21)  # 30 days before the first harvest
    assert not guard.flower_known


def test_what_stands_already_gets_no_net() -> None:
    standing = grew("quay", "leek", "2026-06-10", "2027-03-15", status="growing")
    assert care_of(found(standing), "leek").guard is None


# -- the ladder


def test_the_ladder_goes_from_least_harm_up_and_says_each_measure_once() -> None:
    protection = found(
        POTATO_2026,
        POTATO_2027,
        grew("quay", "cabbage", "2027-04-20", "2027-09-30"),
        grew("quay", "lettuce", "2027-04-15", "2027-06-10"),
    )
    steps = [list(STEPS).index(measure.control.step) for measure in protection.ladder]
    assert steps == sorted(steps)
    names = [measure.control.id for measure in protection.ladder]
    assert len(names) == len(set(names)) > 5
    assert "relocation" not in names
    for measure in protection.ladder:
        assert all(pest.id in measure.control.against for pest in measure.pests)
        assert measure.crops


def test_bait_comes_before_sprays_and_only_sprays_need_a_cause() -> None:
    names = [m.control.id for m in found(grew("kiln", "lettuce", "2027-04-15", "2027-06-10")).ladder]
    assert "iron_phosphate_bait" in names
    assert not any(KNOWN.controls[name].kind in ("spray", "dust") for name in names)
    both = [
        m.control
        for m in found(
            grew("kiln", "lettuce", "2027-04-15", "2027-06-10"), grew("quay", "broccoli", "2027-05-25", "2027-10-15")
        ).ladder
        if m.control.step == "chemical_targeted"
    ]
    kinds = [control.kind for control in both]
    assert kinds[0] == "bait"
    assert set(kinds[1:]) == {"spray"}


def test_a_barrier_is_told_against_animals_and_says_why() -> None:
    fence = [
        m for m in found(grew("kiln", "lettuce", "2027-04-15", "2027-06-10")).ladder if m.control.kind == "exclude"
    ]
    barrier = next(m for m in fence if m.control.id == "wildlife_exclusion")
    assert {"birds", "deer"} <= {pest.id for pest in barrier.pests}
    assert "sprays and bait do nothing against squirrels; a barrier does" in barrier.control.conditions
    assert {"netting_and_wildlife", "wild_animals"} <= set(barrier.control.cautions)


def test_a_greenhouse_needs_no_fence() -> None:
    beds = [{"id": "vat", "kind": "greenhouse"}]
    protection = found(grew("vat", "lettuce", "2027-04-15", "2027-06-10"), beds=beds)
    assert all(measure.control.id != "wildlife_exclusion" for measure in protection.ladder)


def test_bowls_of_soapy_water_catch_flea_beetles_but_do_not_end_an_outbreak() -> None:
    bowls = next(
        m.control
        for m in found(grew("kiln", "arugula", "2027-04-07", "2027-05-10")).ladder
        if m.control.id == "flea_beetle_bowls"
    )
    assert "crucifer_flea_beetle" in bowls.against
    assert "ending an outbreak" in (bowls.weak_text or "")
    assert (bowls.grade, bowls.sources["against"]) == ("practice", ("common practice",))


def test_every_caution_of_what_is_told_stands_once() -> None:
    protection = found(POTATO_2026, POTATO_2027)
    assert len(set(protection.cautions)) == len(protection.cautions)
    needed = {key for measure in protection.ladder for key in measure.control.cautions}
    assert needed | {"netting_and_wildlife"} <= set(protection.cautions)


# -- what was sprayed


@pytest.mark.parametrize(("interval", "until"), [(3, date(2027, 6, 4)), (None, None)])
def test_a_wait_is_the_labels_and_never_made_up(interval: int | None, until: date | None) -> None:
    spray = {"bed": "kiln", "date": "2027-06-01", "active": "azadirachtin"}
    spray |= {} if interval is None else {"harvest_interval": interval}
    waits = found(grew("kiln", "cabbage", "2027-04-20", "2027-09-30"), treatments=[spray]).waits
    assert [wait.until for wait in waits] == [until]
    assert [p.crop.id for p in waits[0].plantings] == ["cabbage"]


def test_nothing_stands_nothing_is_told() -> None:
    empty = found(POTATO_2026)
    assert (empty.crops, empty.ladder, empty.waits, empty.cautions) == ((), (), (), ())


def test_a_treatment_without_its_days_brings_what_its_active_may_hurt() -> None:
    def cautions(active: str) -> set[str]:
        spray = {"bed": "kiln", "date": "2027-07-18", "active": active}
        plan = plan_of(grew("kiln", "cabbage", "2027-04-20", "2027-09-30"), judge="2027", treatments=[spray])
        told = [one for one in check(plan).findings if one.rule == "protect.interval-off-record"]
        assert len(told) == 1
        return set(told[0].cautions)

    label = {"harvest_wait", "label_first"}
    assert cautions("Spinosad") == label | {"bees_in_bloom", "water_life"}
    assert cautions("btk") == label | {"butterflies"}
    assert cautions("ferric-phosphate") == label | {"bait_and_animals", "water_life"}
    assert cautions("some other active") == label | {"bees_in_bloom", "water_life"}
