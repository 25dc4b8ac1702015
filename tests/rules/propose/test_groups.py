"""A word for several crops of one family: which of them is planned, and why."""

import pytest
from invented import CROPS, KNOWLEDGE, garden_of, grew, wishes

from rules.model import Dislike, Wish
from rules.planning.propose import propose


def asked(plan, *wants, **rest):
    return propose(wishes(*wants, **rest), plan, KNOWLEDGE, seconds=0)


def word(name, **rest):
    return Wish(KNOWLEDGE.groups[name], 0.25, **rest)


@pytest.mark.parametrize(
    ("group", "crop"),
    [("bean", "bush_bean"), ("onion", "onion_sets"), ("lettuce", "leaf_lettuce"), ("squash", "zucchini")],
)
def test_where_nothing_speaks_for_another_the_most_usual_is_planned(group, crop):
    found = asked(garden_of("a"), word(group))
    assert {p.crop.id for p in found.plantings} == {crop}
    assert [one.wish.crop.id for one in found.placed] == [crop]
    assert any(f"planned as {CROPS[crop].plural}, the most usual of them" in note for note in found.notes)


def test_what_the_garden_grew_comes_first():
    past = [grew("a", "runner_bean", "2023-05-20", "2023-10-01")]
    found = asked(garden_of("a", "b", past=past), word("bean"))
    assert {p.crop.id for p in found.plantings} == {"runner_bean"}
    assert any("runner beans, as you grew them before" in note for note in found.notes)


def test_what_is_not_liked_or_is_wished_for_by_name_is_not_chosen():
    found = asked(garden_of("a"), word("bean"), dislikes=(Dislike(CROPS["bush_bean"]),))
    assert {p.crop.id for p in found.plantings}.isdisjoint({"bush_bean"})
    found = asked(garden_of("a"), word("bean"), Wish(CROPS["bush_bean"], 0.25))
    assert "bush_bean" in {p.crop.id for p in found.plantings}
    assert len({p.crop.id for p in found.plantings}) == 2


def test_a_season_that_only_one_can_stand_is_the_reason_for_it():
    found = asked(garden_of("a"), word("bean", slot="overwinter"))
    assert {p.crop.id for p in found.plantings} == {"broad_bean"}
    assert any("broad beans, the only one for this season here" in note for note in found.notes)


def test_all_years_have_the_same_crop_of_a_word():
    found = propose(wishes(word("bean"), years=4), garden_of("a", "b", "c"), KNOWLEDGE, seconds=0)
    assert len({p.crop.id for p in found.plantings}) == 1
    assert len(found.plantings) == 4
