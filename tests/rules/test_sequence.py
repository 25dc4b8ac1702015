"""Which crop came directly before, in either hemisphere, and waits counted in days."""

from __future__ import annotations

from datetime import date

import pytest
from bed_order import GRASS, HUNGRY, PEAS_FIRST, RYE, finding, order, rules_in
from tiny_plans import grew, plan_of

from rules import check
from rules.planning.fixes import apply

# -- which crop came directly before


def test_only_what_stood_in_the_same_part_counts():
    rows = [
        grew("a", "pea", "2026-04-01", "2026-07-20", part=[0, 0.5]),
        grew("a", "leek", "2026-04-01", "2026-11-20", part=[0.5, 1]),
        grew("a", "cabbage", "2027-04-20", "2027-09-30", part=[0, 0.4], id="after-peas"),
        grew("a", "kale", "2027-04-20", "2027-09-30", part=[0.6, 1], id="after-leeks"),
    ]
    assert order(check(plan_of(*rows))) == [(PEAS_FIRST, ("after-peas",))]


def test_a_crop_over_two_parts_follows_both():
    rows = [
        grew("a", "pea", "2026-04-01", "2026-07-20", part=[0, 0.5]),
        grew("a", "leek", "2026-04-01", "2026-11-20", part=[0.5, 1]),
        grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new"),
    ]
    assert order(check(plan_of(*rows))) == [(PEAS_FIRST, ("new",))]


@pytest.mark.parametrize("between", ["leek", "fallow"])
def test_what_comes_in_between_breaks_the_order(between):
    rows = [
        grew("a", "pea", "2026-04-01", "2026-07-20"),
        grew("a", between, "2026-08-01", "2027-03-20"),
        grew("a", "cabbage", "2027-04-20", "2027-09-30"),
    ]
    assert PEAS_FIRST not in rules_in(check(plan_of(*rows)))


@pytest.mark.parametrize(("end", "told"), [("2026-03-20", True), ("2026-03-10", False)])
def test_a_crop_cleared_more_than_four_hundred_days_ago_no_longer_came_directly_before(end, told):
    rows = [grew("a", "pea", "2025-11-01", end), grew("a", "cabbage", "2027-04-20", "2027-09-30")]
    assert (PEAS_FIRST in rules_in(check(plan_of(*rows)))) is told


def test_what_was_lost_young_or_came_by_itself_came_before_nothing():
    peas = grew("a", "pea", "2026-04-01", "2026-07-20")
    lost = grew("a", "leek", "2026-08-01", "2026-08-20", status="lost", cause="slugs")
    wild = grew("a", "potato", "2026-08-01", "2026-10-20", method="volunteer", status="done")
    new = grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new")
    for between in (lost, wild):
        assert (PEAS_FIRST, ("new",)) in order(check(plan_of(peas, between, new)))


def test_cleared_and_planted_on_one_day_is_after_and_relay_is_not():
    new = grew("a", "cabbage", "2027-06-30", "2027-10-30")
    assert PEAS_FIRST in rules_in(check(plan_of(grew("a", "pea", "2027-03-10", "2027-06-30"), new)))
    assert PEAS_FIRST not in rules_in(check(plan_of(grew("a", "pea", "2027-03-10", "2027-07-01"), new)))


def test_crops_that_were_cleared_together_came_before_together():
    rows = [
        grew("a", "sweetcorn", "2026-05-15", "2026-09-20"),
        grew("a", "runner bean", "2026-05-20", "2026-09-05"),
        grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new"),
    ]
    assert order(check(plan_of(*rows))) == [(PEAS_FIRST, ("new",))]


def test_what_stood_over_winter_came_before_a_crop_known_by_its_year():
    rows = [grew("a", "Brussels sprouts", "2026-05-20", "2027-04-20"), grew("a", "potato", "2027")]
    assert rules_in(check(plan_of(*rows))) == ["sequence.potatoes-after-brassicas"]


def test_two_rows_of_one_year_have_no_order():
    assert order(check(plan_of(grew("a", "pea", "2027"), grew("a", "cabbage", "2027")))) == []


def test_ground_goes_with_a_bed_and_ends_with_new_soil():
    old = grew("old", "pea", "2026-04-01", "2026-07-20")
    new = grew("new", "cabbage", "2027-04-20", "2027-09-30")
    beds = ["old", {"id": "new", "kind": "raised", "from": "2027-03-01", "replaces": [{"bed": "old"}]}]
    assert rules_in(check(plan_of(old, new, beds=beds))) == [PEAS_FIRST]
    fresh = [{"bed": "new", "date": "2027-03-02", "kind": "new_soil"}]
    assert order(check(plan_of(old, new, beds=beds, amendments=fresh))) == []


def test_a_pot_with_new_mix_follows_nothing():
    rows = [grew("a", "onion", "2026"), grew("a", "tomato", "2027-05-20", "2027-10-01")]
    pot = [{"id": "a", "kind": "container"}]
    assert rules_in(check(plan_of(*rows, beds=pot))) == [HUNGRY]
    mix = [{"bed": "a", "date": "2027-05-01", "kind": "new_soil"}]
    assert order(check(plan_of(*rows, beds=pot, amendments=mix))) == []


# -- words for several crops, crops of one's own


def test_a_group_word_counts_where_all_its_members_do():
    assert HUNGRY in rules_in(check(plan_of(grew("a", "onion", "2026"), grew("a", "tomato", "2027"))))
    assert PEAS_FIRST in rules_in(check(plan_of(grew("a", "legumes", "2026"), grew("a", "brassicas", "2027"))))
    # only some alliums are hungry
    assert HUNGRY not in rules_in(check(plan_of(grew("a", "alliums", "2026"), grew("a", "tomato", "2027"))))


def test_a_crop_of_ones_own_counts_by_its_family_and_has_no_traits():
    own = [{"id": "our-bean", "family": "Fabaceae"}]
    assert order(check(plan_of(grew("a", "our-bean", "2026"), grew("a", "tomato", "2027"), crops=own))) == []


# -- either hemisphere


def test_years_and_days_are_read_in_the_south_as_in_the_north():
    south = {"garden": {"latitude": -37.8}}
    by_year = plan_of(grew("a", "pea", "2026"), grew("a", "cabbage", "2027"), **south)
    assert rules_in(check(by_year)) == [PEAS_FIRST]
    by_day = plan_of(
        grew("a", "rye", "2027-03-15", "2027-10-20"), grew("a", "carrot", "2027-10-27", "2028-02-20"), **south
    )
    assert rules_in(check(by_day)) == [RYE]


# -- waits counted in days


@pytest.mark.parametrize(("start", "told"), [("2027-05-03", True), ("2027-05-04", False)])
def test_a_wait_ends_on_its_day(start, told):
    rows = [grew("a", "rye", "2026-09-15", "2027-04-20"), grew("a", "carrot", start, "2027-10-01", id="new")]
    report = check(plan_of(*rows))
    assert (RYE in rules_in(report)) is told
    if told:
        assert "4 May 2027" in finding(report, RYE).fix.text


@pytest.mark.parametrize(
    ("rye", "carrots"),
    [
        (grew("a", "rye", "2026-09-15"), grew("a", "carrot", "2027-05-01", "2027-10-01")),  # the rye's end is assumed
        (grew("a", "rye", "2026-09-15", "2027-03-01"), grew("a", "carrot", "2027-spring")),
        (grew("a", "rye", "2026-09-15", "2027-03-25"), grew("a", "carrot", "2027")),
    ],
)
def test_a_wait_of_days_passes_over_what_is_not_known_to_the_day(rye, carrots):
    assert RYE not in rules_in(check(plan_of(rye, carrots)))


def test_only_what_is_sown_in_place_waits():
    rye = grew("a", "rye", "2026-09-15", "2027-04-20")
    for crop, method, told in (
        ("carrot", None, True),  # counted from sowing, so sown
        ("sweet pepper", None, False),  # counted from transplanting
        ("leaf lettuce", "sow", True),
        ("leaf lettuce", "transplant", False),
    ):
        rest = {} if method is None else {"method": method}
        report = check(plan_of(rye, grew("a", crop, "2027-04-25", "2027-09-30", **rest)))
        assert (RYE in rules_in(report)) is told, (crop, method)


def test_the_fix_of_a_wait_is_a_later_start_that_was_tried():
    rows = [grew("a", "rye", "2026-09-15", "2027-04-20"), grew("a", "carrot", "2027-04-27", "2027-09-15", id="new")]
    plan = plan_of(*rows)
    fix = finding(check(plan), RYE).fix
    assert [(a.op, a.planting, a.start) for a in fix.actions] == [("shift", "new", date(2027, 5, 4))]
    assert RYE not in rules_in(check(apply(plan, fix.actions)))


def test_grass_counts_for_two_years_even_by_the_year():
    sod = [{"bed": "a", "date": "2025-10-10", "kind": "broke_sod"}]
    rows = [grew("a", "pea", "2026"), grew("a", "potato", "2027", id="new")]
    assert (GRASS, ("new",)) in order(check(plan_of(*rows, amendments=sod)))
    sod = [{"bed": "a", "date": "2025-03-10", "kind": "broke_sod"}]
    assert GRASS not in rules_in(check(plan_of(*rows, amendments=sod)))


def test_potatoes_in_new_ground_are_offered_another_bed():
    sod = [{"bed": "a", "date": "2026-10-10", "kind": "broke_sod"}]
    rows = [grew("a", "potato", "2027-04-10", "2027-08-31", id="new"), grew("b", "pea", "2026")]
    plan = plan_of(*rows, amendments=sod)
    fix = finding(check(plan), GRASS).fix
    assert [(a.op, a.bed) for a in fix.actions] == [("move", "b")]
    assert GRASS not in rules_in(check(apply(plan, fix.actions)))


def test_potatoes_that_grow_in_new_ground_are_not_told_to_rest():
    sod = [{"bed": "a", "date": "2026-10-10", "kind": "broke_sod"}]
    rows = [grew("a", "potato", "2027-04-10", "2027-08-31", status="growing")]
    fix = finding(check(plan_of(*rows, amendments=sod, as_of=date(2027, 6, 1))), GRASS).fix
    assert not fix.text.startswith("It stands already")
