"""Relatives that stand together are one stay of their family, for a proposal as for the check."""

from itertools import combinations

import pytest
from invented import KNOWLEDGE, breaches, garden_of, grew, placed, want, wishes

from rules.planning.propose import propose


def test_autumn_garlic_shares_its_bed_with_next_springs_onions():
    plan = garden_of("a")
    asked = wishes(want("garlic", 0.5, years=(2027,)), want("onion_sets", 0.5, years=(2028,)), years=2)
    found = propose(asked, plan, KNOWLEDGE, seconds=3.0)
    assert placed(found) == {("garlic", 2027): 0.5, ("onion_sets", 2028): 0.5}
    assert not found.unplaced
    assert not breaches(found.report)


def test_onions_stand_beside_the_garlic_of_last_autumn():
    garlic = grew("a", "garlic", "2026-10-20", "2027-07-15", part=(0.0, 0.5), status="planted")
    found = propose(wishes(want("onion_sets", 0.5)), garden_of("a", past=[garlic]), KNOWLEDGE, seconds=3.0)
    assert placed(found) == {("onion_sets", 2027): 0.5}
    assert not breaches(found.report)


@pytest.mark.parametrize("crop", ["garlic", "leek"])
def test_after_them_their_family_rests(crop):
    """The stay's end is its last crop's end: neither may come back to the bed in the years after."""
    plan = garden_of("a")
    asked = wishes(
        want("garlic", 0.5, years=(2027,)),
        want("onion_sets", 0.5, years=(2028,)),
        want(crop, 0.5, years=(2028, 2029)),
        years=3,
    )
    found = propose(asked, plan, KNOWLEDGE, seconds=3.0)
    assert not breaches(found.report)
    starts = sorted(p.start for p in found.plantings if p.crop.family == "Amaryllidaceae")
    assert starts
    assert all((later - first).days <= 200 for first, later in combinations(starts, 2))


def test_what_was_sown_in_autumn_is_not_sown_again_beside_it_in_spring():
    """One stay or not: a bed with both would have next summer's beans twice and this summer's never."""
    last = grew("a", "broad_bean", "2026-03-10", "2026-07-15")
    asked = wishes(want("broad_bean", 0.5, years=(2027, 2028)), years=2)
    found = propose(asked, garden_of("a", past=[last]), KNOWLEDGE, seconds=3.0)
    assert len(found.plantings) == 1
    assert [(one.wish.crop.id, one.amount) for one in found.unplaced] == [("broad_bean", 0.5)]
