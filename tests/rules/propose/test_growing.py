"""A grower reads the plan: days, glass, tubs and large beds, and what is picked all summer."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from invented import CROPS, FROSTS, KNOWLEDGE, bed, garden_of, own, placed, want, wishes

from rules.model import FrostDate, Garden
from rules.planning.propose import propose
from rules.planning.propose.plots import sizes
from rules.planning.propose.times import EARLY, LATE, WINTER, timings

#: Seconds that no search here needs, so that each ends with its proof however busy the machine is.
PLENTY = 60.0

MILD = {"last_spring_frost": FrostDate((5, 1)), "first_autumn_frost": FrostDate((10, 20))}
NORTH = Garden(latitude=52.0, country="GB", **MILD)
SOUTH = Garden(
    latitude=-38.0, country="AU", last_spring_frost=FrostDate((10, 20)), first_autumn_frost=FrostDate((5, 1))
)
COLD = Garden(latitude=46.2, country="FR", **FROSTS)
GARDENS = pytest.mark.parametrize("garden", [NORTH, SOUTH, COLD], ids=["north", "south", "cold"])
TENDER = (
    *("tomato", "zucchini", "runner_bean", "sweet_pepper", "sweet_potato", "dry_bean"),
    *("edamame", "pumpkin", "basil", "sweet_corn", "peanut"),
)


def frosts(garden, year=2027):
    """The last spring and the first autumn frost of a growing year."""
    spring = date(year, *garden.last_spring_frost.p50)
    autumn = date(year + (garden.latitude < 0), *garden.first_autumn_frost.p50)
    return spring, autumn


def ways(crop, garden):
    return timings(CROPS[crop], 2027, garden, KNOWLEDGE)


@GARDENS
@pytest.mark.parametrize("crop", TENDER)
def test_nothing_tender_goes_out_before_the_last_frost(crop, garden):
    spring, _ = frosts(garden)
    assert all(way.start >= spring for way in ways(crop, garden))


@GARDENS
@pytest.mark.parametrize(
    ("crop", "first", "last"),
    [
        ("leek", 14, 70),
        ("brussels_sprouts", 7, 50),
        ("sprouting_broccoli", 35, 100),
        ("florence_fennel", 45, 85),
        ("celeriac", 14, 45),
        ("kale", 0, 100),
    ],
)
def test_what_waits_in_a_seedbed_or_bolts_is_set_in_its_time(crop, first, last, garden):
    spring, _ = frosts(garden)
    found = ways(crop, garden)
    assert found
    for way in found:
        assert spring + timedelta(days=first) <= way.start
        assert way.latest <= spring + timedelta(days=last)


@GARDENS
@pytest.mark.parametrize(
    ("crop", "first", "last"), [("garlic", -14, 56), ("cereal_rye", -45, 21), ("corn_salad", -63, -20)]
)
def test_what_is_for_the_winter_goes_in_in_autumn_alone(crop, first, last, garden):
    _, autumn = frosts(garden)
    found = ways(crop, garden)
    assert found
    for way in found:
        assert autumn + timedelta(days=first) <= way.start <= way.latest <= autumn + timedelta(days=last)
        assert WINTER in way.slots


@GARDENS
def test_what_is_sown_in_spring_or_autumn_has_some_weeks_in_autumn_too(garden):
    _, autumn = frosts(garden)
    late = [way for way in ways("broad_bean", garden) if way.phase == "winter"]
    assert late
    assert all(autumn <= way.start and way.latest - way.start >= timedelta(days=14) for way in late)


@GARDENS
def test_courgettes_for_the_summer_are_the_first_choice(garden):
    by_slots = {way.slots: way.cost for way in ways("zucchini", garden)}
    assert by_slots[EARLY, LATE] == 0 == min(by_slots.values())
    assert all(cost > 5 for slots, cost in by_slots.items() if slots != (EARLY, LATE))


def test_tomatoes_take_the_greenhouse_and_potatoes_do_not():
    plan = garden_of(bed("glass", kind="greenhouse"), "a", garden=NORTH)
    for order in (("potato", "tomato"), ("tomato", "potato")):
        found = propose(wishes(*(want(crop) for crop in order)), plan, KNOWLEDGE, seconds=PLENTY)
        assert {p.crop.id: p.bed for p in own(found, plan)} == {"tomato": "glass", "potato": "a"}


def test_a_tub_is_no_bed():
    plan = garden_of(bed("tub", kind="container", length=60.0, width=60.0), "a", "b", bed("long", length=600.0))
    assert sizes(plan.beds) == {"tub": 0.25, "a": 1, "b": 1, "long": 2}
    found = propose(wishes(want("potato", 3.0)), plan, KNOWLEDGE, seconds=PLENTY)
    shares = {p.bed: 0.0 for p in own(found, plan)}
    for p in own(found, plan):
        shares[p.bed] += p.part[1] - p.part[0]
    worth = sum(share * sizes(plan.beds)[name] for name, share in shares.items())
    assert worth == pytest.approx(3.0) == pytest.approx(placed(found)["potato", 2027])
    assert any("tub as a quarter of a bed; long as 2 beds" in note for note in found.notes)


def test_beds_of_one_size_need_no_note():
    assert not propose(wishes(want("potato")), garden_of("a", "b"), KNOWLEDGE, seconds=0).notes


def test_what_stands_in_a_long_bed_counts_by_its_size():
    plan = garden_of("a", "b", bed("long", length=600.0))
    kale = own(propose(wishes(want("kale", 0.5)), plan, KNOWLEDGE, seconds=0), plan)[0]
    kale = kale._replace(id="mine", bed="long", part=(0.0, 0.5))
    found = propose(wishes(want("kale", 1.0), fixed=(kale,)), plan, KNOWLEDGE, seconds=0)
    assert not own(found, replace(plan, plantings=(*plan.plantings, kale)))
    assert not found.unplaced


def test_a_crop_that_is_wished_for_twice_is_told_twice():
    found = propose(wishes(want("kale", 0.5), want("kale", 0.5)), garden_of("a"), KNOWLEDGE, seconds=PLENTY)
    assert [one.amount for one in found.placed] == [0.5, 0.5]
    assert not found.unplaced


def test_a_must_comes_before_more_of_all_else():
    """Asparagus for good in the only bed, or potatoes and salads in it year after year."""
    plan = garden_of("a", garden=NORTH)
    wants = want("asparagus", 1.0, must=True), want("leaf_lettuce", 1.0), want("radish", 1.0), want("potato", 1.0)
    for seconds in (0, PLENTY):
        found = propose(wishes(*wants, years=4), plan, KNOWLEDGE, seconds=seconds)
        assert {p.crop.id for p in own(found, plan)} == {"asparagus"}
        assert not any(one.wish.must for one in found.unplaced)


def test_the_same_in_beds_that_are_alike_is_no_other_plan():
    asked = wishes(want("cabbage"), want("tomato"), alternatives=2)
    assert not propose(asked, garden_of("a", "b"), KNOWLEDGE, seconds=PLENTY).alternatives
    unlike = garden_of("a", bed("b", length=600.0), bed("c", kind="ground", width=200.0))
    assert propose(asked, unlike, KNOWLEDGE, seconds=PLENTY).alternatives
