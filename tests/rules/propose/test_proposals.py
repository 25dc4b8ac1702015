"""Whole proposals: what is asked for, what comes back, and what is said of the rest."""

from dataclasses import replace
from datetime import date

import pytest
from invented import CROPS, FROSTS, KNOWLEDGE, bed, breaches, garden_of, grew, own, placed, want, wishes

from rules import check
from rules.model import Amendment, FrostDate, Garden, Sighting
from rules.planning.propose import Dislike, Wish, propose


def ask(plan, asked, seconds=60.0, **rest):
    return propose(asked, plan, KNOWLEDGE, seconds=seconds, **rest)


def of(proposal, crop):
    return [p for p in proposal.plantings if p.crop.id == crop]


# -- what is placed


def test_two_crops_find_two_beds():
    plan = garden_of("a", "b")
    found = ask(plan, wishes(want("tomato"), want("cabbage")))
    assert placed(found) == {("tomato", 2027): 1.0, ("cabbage", 2027): 1.0}
    assert {p.bed for p in found.plantings} == {"a", "b"}
    assert (found.stopped, found.gap, found.unplaced) == ("optimal", 0.0, ())
    assert found.report.judged.start == date(2027, 1, 1)


def test_a_family_goes_where_it_has_rested():
    past = [grew("a", "kale", "2026-04-20", "2026-10-01"), grew("b", "leaf_lettuce", "2026-04-20", "2026-06-01")]
    found = ask(garden_of("a", "b", past=past), wishes(want("cabbage")))
    assert [p.bed for p in of(found, "cabbage")] == ["b"]


def test_a_family_moves_on_every_year():
    plan = garden_of("a", "b", "c")
    found = ask(plan, wishes(want("cabbage"), years=3))
    assert len({p.bed for p in of(found, "cabbage")}) == 3
    assert not breaches(found.report)


def test_early_and_late_crops_share_a_bed():
    found = ask(garden_of("a"), wishes(want("pea"), want("kale", slot="overwinter")))
    peas, kale = of(found, "pea")[0], of(found, "kale")[0]
    assert peas.end < kale.start
    assert kale.end.year == 2028


def test_winter_crops_are_set_in_autumn_and_cleared_the_year_after():
    found = ask(garden_of("a"), wishes(want("garlic")))
    garlic = of(found, "garlic")[0]
    assert (garlic.start.year, garlic.end.year) == (2027, 2028)
    assert garlic.start >= date(2027, 10, 2)


def test_amounts_are_rounded_up_to_quarters_and_shares_are_of_all_beds():
    found = ask(
        garden_of("a", "b"), wishes(want("tomato", 0.3), Wish(CROPS["carrot"], share=0.5), Wish(CROPS["cabbage"]))
    )
    assert placed(found) == {("tomato", 2027): 0.5, ("carrot", 2027): 1.0, ("cabbage", 2027): 0.25}


def test_a_must_comes_first():
    asked = wishes(want("tomato"), want("sweet_corn", must=True))
    found = ask(garden_of("a"), asked)
    assert placed(found) == {("sweet_corn", 2027): 1.0}
    assert [u.wish.crop.id for u in found.unplaced] == ["tomato"]


def test_years_and_beds_of_a_wish_are_kept():
    found = ask(garden_of("a", "b"), wishes(want("tomato", years=(2028,), beds=("b",)), years=2))
    assert [(p.bed, p.start.year) for p in of(found, "tomato")] == [("b", 2028)]


def test_perennials_stay_and_hold_their_ground():
    found = ask(garden_of("a", "b"), wishes(want("strawberry"), want("tomato", years=(2028,)), years=3))
    strawberry = of(found, "strawberry")
    assert len(strawberry) == 1
    assert {one.year for one in found.placed if one.wish.crop.id == "strawberry"} == {2027, 2028, 2029}
    assert all(p.bed != strawberry[0].bed for p in of(found, "tomato"))


def test_what_stands_already_counts_and_holds_its_ground():
    past = [grew("a", "asparagus", "2024-04-01", "2199-12-31", status="growing")]
    found = ask(garden_of("a", "b", past=past), wishes(want("asparagus"), want("tomato", 2)))
    assert placed(found) == {("tomato", 2027): 1.0}
    assert [(u.wish.crop.id, u.amount) for u in found.unplaced] == [("tomato", 1.0)]


def test_fixed_and_kept_plantings_stay_and_count():
    fixed = grew("a", "cabbage", "2027-04-20", "2027-09-30", status="planned", id="mine")
    kept = grew("b", "carrot", "2027-04-20", "2027-08-30", status="planned", id="before")
    asked = wishes(want("cabbage"), want("carrot"), want("tomato"), fixed=(fixed,), keep=(kept,))
    found = ask(garden_of("a", "b", "c"), asked)
    assert {"mine", "before"} <= {p.id for p in found.plantings} <= {p.id for p in found.plan.plantings}
    assert placed(found) == {("tomato", 2027): 1.0}
    assert [p.bed for p in of(found, "tomato")] == ["c"]


def test_what_was_fixed_later_keeps_its_rest():
    fixed = grew("a", "cabbage", "2028-04-20", "2028-09-30", status="planned", id="mine")
    found = ask(garden_of("a", "b"), wishes(want("kale", 1, years=(2027,)), years=2, fixed=(fixed,)))
    assert [p.bed for p in of(found, "kale")] == ["b"]
    assert not breaches(found.report)


def test_a_disliked_crop_stays_out_of_its_bed():
    found = ask(garden_of("a", "b"), wishes(want("tomato"), dislikes=(Dislike(CROPS["tomato"], "a"),)))
    assert [p.bed for p in of(found, "tomato")] == ["b"]


def test_winter_crops_keep_to_so_many_beds():
    asked = wishes(want("leek", 0.5), want("garlic", 0.5), want("kale", 0.5, slot="overwinter"), winter_beds=1)
    found = ask(garden_of("a", "b", "c"), asked)
    over = {p.bed for p in found.plantings if p.start < date(2028, 1, 1) <= p.end}
    assert len(over) == 1


def test_closed_ground_stays_closed():
    seen = [Sighting("a", date(2025, 7, 1), "clubroot")]
    past = [grew("a", "cabbage", "2025-04-20", "2025-09-01")]
    found = ask(garden_of("a", "b", past=past, sightings=seen), wishes(want("cabbage", 0.5), want("tomato", 0.5)))
    assert [p.bed for p in of(found, "cabbage")] == ["b"]


def test_new_soil_starts_afresh():
    past = [grew("a", "cabbage", "2026-04-20", "2026-09-01")]
    plan = replace(garden_of("a", past=past), amendments=(Amendment("a", date(2026, 11, 1), "new_soil"),))
    assert placed(ask(plan, wishes(want("cabbage")))) == {("cabbage", 2027): 1.0}


def test_short_rotations_are_respected():
    past = [grew("a", "cabbage", "2025-04-20", "2025-09-01")]
    short = Garden(latitude=46.2, rotation="short", **FROSTS)
    assert placed(ask(garden_of("a", past=past, garden=short), wishes(want("kale")))) == {("kale", 2027): 1.0}
    assert placed(ask(garden_of("a", past=past), wishes(want("kale")))) == {}


def test_tender_crops_are_the_ones_under_glass():
    found = ask(garden_of(bed("a", kind="greenhouse"), "b"), wishes(want("tomato"), want("cabbage")))
    assert [p.bed for p in of(found, "tomato")] == ["a"]


def test_a_large_plant_needs_a_large_pot():
    pot = bed("pot", kind="container", length=40.0, width=40.0)
    found = ask(garden_of(pot), wishes(want("pumpkin")))
    assert not found.plantings
    assert "size" in found.unplaced[0].reason


def test_beds_that_are_gone_are_not_planted():
    gone = bed("a", end=date(2026, 12, 1))
    found = ask(garden_of(gone, "b"), wishes(want("tomato", 2)))
    assert {p.bed for p in found.plantings} == {"b"}


def test_south_of_the_equator_a_growing_year_begins_in_july():
    plan = garden_of("a", garden=Garden(latitude=-37.8, country="AU"), as_of=date(2027, 6, 1))
    found = ask(plan, wishes(want("tomato")))
    tomato = of(found, "tomato")[0]
    assert date(2027, 7, 1) <= tomato.start < tomato.end <= date(2028, 6, 30)


def test_without_frost_dates_and_in_the_tropics_a_plan_is_found():
    for garden in (Garden(), Garden(latitude=5.0)):
        assert placed(ask(garden_of("a", garden=garden), wishes(want("tomato")))) == {("tomato", 2027): 1.0}


def test_parts_with_pasts_of_their_own_are_planted_apart():
    past = [
        grew("a", "kale", "2026-04-20", "2026-10-01", part=(0.0, 0.5)),
        grew("a", "carrot", "2026-04-20", "2026-10-01", part=(0.5, 1.0)),
    ]
    found = ask(garden_of("a", past=past), wishes(want("cabbage", 0.5)))
    assert [p.part for p in of(found, "cabbage")] == [(0.5, 1.0)]


def test_gaps_are_filled_with_green_manures_when_wished():
    found = ask(garden_of("a"), wishes(want("pea"), years=2, catch_crops=True))
    manures = [p for p in found.plantings if p.crop.kind == "green_manure"]
    assert manures
    assert not breaches(found.report)
    assert not [p for p in ask(garden_of("a"), wishes(want("pea"), years=2)).plantings if p.crop.kind == "green_manure"]


def test_what_is_placed_and_what_is_not_make_what_was_asked():
    plan = garden_of("a", "b", past=[grew("a", "potato", "2026-04-20", "2026-08-30")])
    asked = wishes(want("tomato", 1), want("potato", 1), want("cabbage", 1.5), want("kale", 1), years=3)
    found = ask(plan, asked)
    total = {}
    for one in (*found.placed, *found.unplaced):
        total[one.wish.crop.id, one.year] = total.get((one.wish.crop.id, one.year), 0) + one.amount
    assert total == {(w.crop.id, y): w.amount for w in asked.wants for y in asked.horizon}


def test_the_plan_is_what_the_ordinary_check_judged():
    plan = garden_of("a", "b", past=[grew("a", "kale", "2026-04-20", "2026-10-01")])
    found = ask(plan, wishes(want("tomato"), want("carrot"), years=2))
    assert check(found.plan, KNOWLEDGE) == found.report
    assert len(found.plan.plantings) == len(plan.plantings) + len(found.plantings)


# -- what could not be placed


def test_counting_is_the_first_reason():
    found = ask(garden_of("a", "b", "c"), wishes(want("cabbage", 2), years=3))
    assert found.counting[0].startswith("The cabbage family is asked for on 6 beds from 2027 to 2029")
    assert found.counting[0].endswith("3 beds too many.")
    assert {u.reason for u in found.unplaced} == {found.counting[0]}
    assert sum(u.amount for u in found.unplaced) == 3


def test_ground_is_counted_too():
    found = ask(garden_of("a"), wishes(want("tomato"), want("sweet_corn")))
    assert "In the first half of 2027 crops on 2 beds would stand at once" in found.counting[0]


def test_one_bed_more_is_told_where_it_helps():
    found = ask(garden_of("a"), wishes(want("tomato"), want("sweet_corn")))
    assert [u.relaxation.kind for u in found.unplaced] == ["bed"]


@pytest.mark.parametrize(
    ("asked", "kind"),
    [
        (wishes(want("garlic", slot="main")), "slot"),
        (wishes(want("cabbage", beds=("a",))), "beds"),
        (wishes(want("cabbage", beds=()), dislikes=(Dislike(CROPS["cabbage"], "b"),)), "dislike"),
        (wishes(want("garlic"), winter_beds=0), "winter_beds"),
        (wishes(want("cabbage"), fixed=(grew("b", "tomato", "2027-05-01", "2027-10-01", status="planned"),)), "fixed"),
    ],
)
def test_the_smallest_change_that_helps_is_told(asked, kind):
    plan = garden_of("a", "b", past=[grew("a", "kale", "2026-04-20", "2026-10-01")])
    found = ask(plan, asked)
    assert [u.relaxation.kind for u in found.unplaced] == [kind]
    assert "It fits" in found.unplaced[0].relaxation.text


def test_a_shorter_rest_is_named_a_breach():
    past = [grew(name, "kale", "2025-04-20", "2025-10-01") for name in "ab"]
    found = ask(garden_of("a", "b", past=past), wishes(want("cabbage", 2)))
    told = found.unplaced[0]
    assert told.relaxation.kind == "rest"
    assert "breach" in told.relaxation.text


def test_a_season_that_is_too_short_is_told():
    cold = Garden(latitude=60.0, last_spring_frost=FrostDate((6, 20)), first_autumn_frost=FrostDate((8, 20)))
    found = ask(garden_of("a", garden=cold), wishes(want("sweet_potato")))
    assert "too short" in found.unplaced[0].reason


def test_the_record_that_bars_every_bed_is_told():
    past = [grew(name, "kale", "2026-04-20", "2026-10-01") for name in "ab"]
    found = ask(garden_of("a", "b", past=past), wishes(want("cabbage", 0.25)))
    assert "cabbage family" in found.unplaced[0].reason


def test_faults_that_were_there_are_told_and_not_ours():
    past = [
        grew("a", "kale", "2026-04-20", "2026-10-01"),
        grew("a", "cabbage", "2027-04-20", "2027-09-01", status="planned"),
    ]
    found = ask(garden_of("a", "b", past=past), wishes(want("tomato")))
    assert breaches(found.report)
    assert any("stay in the report" in note for note in found.notes)


# -- how it comes


def test_progress_is_whole_and_ever_better():
    seen = []
    plan = garden_of("a", "b", "c")
    asked = wishes(*(want(c, 0.5) for c in ("cabbage", "kale", "tomato", "carrot", "onion_sets", "pea")), years=3)
    found = ask(plan, asked, report_progress=seen.append)
    assert seen[0].stopped == "quick"
    values = [one.value for one in seen]
    assert values == sorted(values)
    assert all(one.report.findings is not None and not breaches(one.report) for one in seen)
    assert found.value >= values[-1]


def test_no_seconds_give_the_quick_answer():
    found = ask(garden_of("a"), wishes(want("tomato")), seconds=0)
    assert found.stopped == "quick"
    assert placed(found) == {("tomato", 2027): 1.0}


def test_alternatives_differ_and_place_as_much():
    asked = wishes(*(want(c) for c in ("cabbage", "tomato", "carrot", "pea")), years=2, alternatives=2)
    found = ask(garden_of("a", "b", "c", "d", "e"), asked)
    plans = [{(p.bed, p.crop.family, p.start.year) for p in one.plantings} for one in (found, *found.alternatives)]
    assert len(plans) == 3
    for n, one in enumerate(plans):
        for other in plans[n + 1 :]:
            assert len(one & other) <= 0.75 * len(one)
    assert all(placed(one) == placed(found) and not one.alternatives for one in found.alternatives)


def test_too_few_alternatives_are_told():
    found = ask(garden_of("a"), wishes(want("tomato"), alternatives=1))
    assert not found.alternatives
    assert any("no other plan" in note for note in found.notes)


def test_the_order_of_beds_and_wishes_changes_no_value():
    wants = [want(c, 0.5) for c in ("cabbage", "tomato", "carrot", "leek")]
    past = [grew("a", "kale", "2026-04-20", "2026-10-01"), grew("b", "potato", "2026-04-20", "2026-08-30")]
    one = ask(garden_of("a", "b", "c", past=past), wishes(*wants, years=2))
    other = ask(garden_of("c", "b", "a", past=past), wishes(*reversed(wants), years=2))
    assert one.stopped == other.stopped == "optimal"
    assert one.value == other.value


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (wishes(Wish(KNOWLEDGE.groups["herb"])), "no crop to plan"),
        (wishes(Wish(CROPS["fallow"])), "no crop to plan"),
        (wishes(want("tomato"), years=13), "1 to 12"),
        (wishes(want("tomato"), fixed=(grew("z", "tomato", "2027-05-01", "2027-10-01"),)), "no bed"),
        (wishes(want("tomato"), fixed=(grew("a", "tomato", "2027-05-01", "2027-10-01"),) * 2), "twice"),
    ],
)
def test_impossible_questions_are_refused(asked, words):
    with pytest.raises(ValueError, match=words):
        ask(garden_of("a"), asked)


def test_no_wishes_give_an_empty_plan():
    found = ask(garden_of("a"), wishes())
    assert (own(found, garden_of("a")), found.unplaced, found.stopped, found.gap) == ([], (), "optimal", 0.0)
