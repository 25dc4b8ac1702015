"""The wait from raw manure to the harvest."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from bed_order import finding, order, rules_in
from tiny_plans import grew, plan_of

from rules import check, load_knowledge
from rules.planning.fixes import MOST_PUT_OFF, apply

TOO_NEAR, OPEN = "sequence.manure-too-near-harvest", "sequence.manure-harvest-open"


def manured(*rows, day="2027-03-01", **parts):
    return check(plan_of(*rows, amendments=[{"bed": "a", "date": day, "kind": "raw_manure"}], **parts))


def test_the_harvest_follows_from_the_days_to_maturity_where_it_is_not_told():
    days = load_knowledge().find_crop("carrot").maturity.least
    safe = date(2027, 3, 1) + timedelta(days=120)
    for start, told in ((safe - timedelta(days=days + 1), True), (safe - timedelta(days=days), False)):
        report = manured(grew("a", "carrot", start.isoformat(), "2027-10-01"))
        assert (TOO_NEAR in rules_in(report)) is told


def test_what_hangs_clear_of_soil_waits_ninety_days():
    fruit, root = (
        grew("a", crop, "2027-04-01", "2027-09-01", first_harvest="2027-06-10", id=crop) for crop in ("pea", "turnip")
    )
    assert order(manured(fruit, root)) == [(TOO_NEAR, ("turnip",))]


def test_where_nothing_is_known_of_the_soil_the_longer_wait_is_taken_and_said():
    own = [{"id": "oca", "family": "Oxalidaceae"}]
    report = manured(grew("a", "oca", "2027-04-20", "2027-10-01", first_harvest="2027-06-10"), crops=own)
    found = finding(report, TOO_NEAR)
    assert found.because["wait_days"] == 120
    assert found.because["soil_contact"] == "not known"
    assert "not known whether" in found.why


def test_autumn_sowings_go_by_their_own_days():
    # Broad beans of November ripen in June or July: their spring days would have them picked in February.
    report = manured(grew("a", "broad bean", "2026-11-05", "2027-07-20"), day="2026-11-01")
    assert order(report) == []


def test_manure_on_a_crop_that_is_being_picked():
    picked = grew("a", "kale", "2026-05-20", "2027-04-20", first_harvest="2026-09-01", id="kale")
    assert (TOO_NEAR, ("kale",)) in order(manured(picked, day="2027-02-01"))
    gone = grew("a", "kale", "2026-05-20", "2027-02-01", first_harvest="2026-09-01")
    assert order(manured(gone, day="2027-02-01")) == []
    # no day of clearing on record: the crop is taken to be gone when the manure comes
    assert order(manured(grew("a", "courgette", "2027-05-20", first_harvest="2027-07-10"), day="2027-10-01")) == []


@pytest.mark.parametrize(
    "row",
    [
        grew("a", "beetroot", "2027"),
        grew("a", "beetroot", "2027-spring"),
        grew("a", "asparagus", "2020-04-01"),  # picked every year; this year's first day is not told
    ],
)
def test_where_no_harvest_is_known_the_first_safe_day_is_told(row):
    report = manured(row)
    found = finding(report, OPEN)
    assert found.severity == "advice"
    assert found.because["first_safe_harvest"] == date(2027, 6, 29)
    assert "29 June 2027" in found.title


def test_compost_new_soil_and_old_manure_need_no_wait():
    lettuce = grew("a", "leaf lettuce", "2027-04-10", "2027-06-20", first_harvest="2027-05-20")
    assert order(manured(lettuce, day="2027-01-10")) == []
    soil = [
        {"bed": "a", "date": "2027-03-01", "kind": "raw_manure"},
        {"bed": "a", "date": "2027-03-20", "kind": "new_soil"},
    ]
    assert order(check(plan_of(lettuce, amendments=soil))) == []


def test_manure_goes_with_the_ground_and_not_with_its_neighbours():
    beds = ["a", "b", {"id": "new", "from": "2027-03-10", "replaces": [{"bed": "a"}]}]
    rows = [grew(bed, "leaf lettuce", "2027-04-10", "2027-06-20", id=bed) for bed in ("b", "new")]
    assert order(manured(*rows, beds=beds)) == [(TOO_NEAR, ("new",))]


def test_a_start_is_put_off_where_that_is_enough_and_the_season_allows_it():
    late = grew("a", "leaf lettuce", "2027-04-10", "2027-07-01", first_harvest="2027-06-01", id="late")
    plan = plan_of(late, amendments=[{"bed": "a", "date": "2027-03-01", "kind": "raw_manure"}])
    fix = finding(check(plan), TOO_NEAR).fix
    assert [(a.op, a.start) for a in fix.actions] == [("shift", date(2027, 5, 8))]
    assert "29 June 2027" in fix.text
    assert order(check(apply(plan, fix.actions))) == []
    soon = grew("a", "leaf lettuce", "2027-03-05", "2027-06-01", first_harvest="2027-04-10")
    far = finding(manured(soon), TOO_NEAR)
    assert (date(2027, 6, 29) - date(2027, 4, 10)).days > MOST_PUT_OFF
    assert far.fix.actions == ()


def test_a_breach_of_the_manure_wait_carries_its_cautions():
    found = finding(
        manured(grew("a", "leaf lettuce", "2027-04-01", "2027-06-01", first_harvest="2027-05-10")), TOO_NEAR
    )
    assert found.cautions[:1] == ("raw_manure",)
