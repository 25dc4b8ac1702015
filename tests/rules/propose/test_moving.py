"""Places exchanged for points: never dearer, never less placed, and as good as trying every order of two beds."""

from dataclasses import replace
from itertools import permutations, product

import pytest
from invented import KNOWLEDGE, garden_of, placed, want, wishes
from published import EIGHT

from rules import check
from rules.checks.context import Context
from rules.planning.propose import propose
from rules.planning.propose.building import ask
from rules.planning.propose.flow import quick
from rules.planning.propose.improve import Clock
from rules.planning.propose.instance import Limit
from rules.planning.propose.judging import horizon, joined
from rules.planning.propose.laying import Chunk, Laying, lay
from rules.planning.propose.moving import moved

THREE = ("cabbage", "pea", "zucchini")


def question(asked, plan):
    return ask(asked, Context(replace(plan, judge=horizon(asked, plan.garden.latitude)), KNOWLEDGE, told="none"))


def amounts(asked, laid):
    found = [0] * len(asked.instance.choices)
    for chunk in laid.of.values():
        found[chunk.stand] += chunk.size
    return found


def points(asked, laid):
    """What the beds score, as they are laid."""
    chunks = {}
    for chunk in laid.of.values():
        chunks.setdefault(asked.stands[chunk.stand].plot, []).append(chunk)
    laying = Laying(asked, chunks)
    return sum(laying.bed(plot, here).points for plot, here in chunks.items())


def rotations(asked):
    """Every way to give three beds three crops, a bed each, in every year."""
    at = {(s.lot, s.plot, s.year, s.way): n for n, s in enumerate(asked.stands)}
    for orders in product(permutations(range(3)), repeat=asked.wishes.years):
        chunks = {plot: [] for plot in range(3)}
        for year, order in zip(asked.wishes.horizon, orders, strict=True):
            for plot, lot in enumerate(order):
                (wish,) = asked.lots[lot].crops
                way = asked.lots[lot].ways[0]
                chunks[plot].append(Chunk(wish, at[lot, plot, year, way], asked.plots[plot].cells))
        yield Laying(asked, chunks).laid()


@pytest.mark.parametrize("start", range(0, 216, 31))
def test_three_beds_reach_the_best_of_all_orders(start):
    asked = question(wishes(*map(want, THREE), years=3), garden_of("a", "b", "c"))
    asked = replace(asked, beside=(), instance=replace(asked.instance, limits=()))  # points alone
    every = list(rotations(asked))
    best = max(points(asked, laid) for laid in every)
    found = moved(asked, asked.instance, every[start].of.values(), Clock(), 60.0)
    assert points(asked, found) == best > min(points(asked, laid) for laid in every)


def test_nothing_is_lost_and_nothing_costs_more():
    asked = question(EIGHT.wishes(4), EIGHT.garden())
    before = lay(asked, quick(asked.instance))
    after = moved(asked, asked.instance, before.of.values(), Clock(), 2.0)
    old, new = amounts(asked, before), amounts(asked, after)
    assert asked.instance.possible(new)
    assert asked.instance.short(new) == asked.instance.short(old)
    assert asked.instance.cost(new) <= asked.instance.cost(old)
    assert not after.left
    assert points(asked, after) > points(asked, before)


def test_limits_of_several_beds_hold():
    """Where a limit on presences of all beds allows no other arrangement, none is taken."""
    asked = question(wishes(*map(want, THREE), years=2), garden_of("a", "b", "c"))
    before = lay(asked, quick(asked.instance))
    here = {n for n, there in enumerate(asked.instance.present(amounts(asked, before))) if there}
    others = tuple(n for n in range(len(asked.instance.presences)) if n not in here)
    held = asked.instance.with_limits([Limit(others, 0)])
    after = moved(asked, held, before.of.values(), Clock(), 5.0)
    assert amounts(asked, after) == amounts(asked, before)


def test_crops_of_one_group_of_a_shared_disease_are_no_hindrance_to_each_other():
    """Potatoes four years apart keep their own break; the years after strawberries are another matter."""
    asked = question(EIGHT.wishes(8), EIGHT.garden())
    keys = {n: presence.key.rpartition(" ")[0] for n, presence in enumerate(asked.instance.presences)}
    shared = [limit for limit in asked.instance.limits if any("disease." in keys[n] for n in limit.presences)]
    assert not [limit for limit in shared if len({keys[n] for n in limit.presences}) == 1]


def test_a_rotation_of_eight_beds_has_no_caution_where_the_published_one_has():
    found = propose(EIGHT.wishes(5), EIGHT.garden(), KNOWLEDGE, seconds=60.0)
    assert not [f for f in found.report.findings if f.severity in ("breach", "caution")]
    assert not found.unplaced
    assert len(placed(found)) == 10 * 5
    window = replace(EIGHT.garden(), judge=EIGHT.window(5), judged_season=None)
    theirs = check(joined(window, EIGHT.plantings(5)), KNOWLEDGE)
    assert [f for f in theirs.findings if f.severity == "caution"]
