"""What a proposal does with its time: no more than it needs, and an answer even where there is none."""

from itertools import count

import pytest
from invented import KNOWLEDGE, breaches, garden_of, placed, want, wishes
from recipe_slot import draw, instance_of

from rules.planning.propose import propose
from rules.planning.propose.flow import Filling, greedy, quick


def test_where_the_time_is_up_after_modelling_the_quick_answer_says_so():
    ticks = count(0.0, 100.0)
    asked = wishes(want("potato"), want("pea"), years=2)
    found = propose(asked, garden_of("a", "b", "c"), KNOWLEDGE, seconds=2.0, clock=lambda: next(ticks))
    assert found.stopped == "quick"
    assert any("allow more seconds" in note for note in found.notes)
    assert placed(found)
    assert not breaches(found.report)


def test_the_quick_answer_that_was_asked_for_needs_no_excuse():
    found = propose(wishes(want("potato")), garden_of("a"), KNOWLEDGE, seconds=0)
    assert found.stopped == "quick"
    assert not found.notes


def test_a_small_garden_is_done_long_before_its_time():
    """Proven and arranged it stops: an hour is not used up."""
    asked = wishes(want("potato"), want("pea"), want("carrot"), want("kale"), years=4)
    solved = []
    found = propose(asked, garden_of("a", "b", "c", "d"), KNOWLEDGE, seconds=3600.0, report_progress=solved.append)
    assert (found.stopped, found.gap) == ("optimal", 0)
    assert solved


@pytest.mark.parametrize("seed", [201, 202, 203])
def test_greedy_choice_leaves_nothing_that_it_could_still_place(seed):
    rows, cols = {201: (2, 4), 202: (4, 4), 203: (4, 6)}[seed]
    instance = instance_of(draw(seed, rows, cols, 4, 2, 0.85), "none")
    hurried = quick(instance, hurried=True)
    assert instance.possible(hurried)
    assert instance.rank(quick(instance)) <= instance.rank(greedy(instance))
    filling = Filling(instance, hurried)
    short = [n for n in range(len(instance.demands)) if filling.short(n) > 0]
    open_ = [(n, c) for n in short for c in instance.demands[n].choices if filling.room(c)]
    assert all(filling.cost(c) >= instance.demands[n].cost for n, c in open_)
