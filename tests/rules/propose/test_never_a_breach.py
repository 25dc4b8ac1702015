"""Whatever the garden and the wishes: nothing that is proposed breaks a rule, and nothing that was there is touched."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented import CROPS, FROSTS, KNOWLEDGE, bed, breaches, garden_of, own, wishes

from rules import check
from rules.checks.context import Context
from rules.model import Amendment, FrostDate, Garden, Planting, Sighting
from rules.planning.propose import Dislike, Wish, propose
from rules.planning.propose.building import ask
from rules.planning.propose.counting import counted, with_counts
from rules.planning.propose.highs import solve
from rules.planning.propose.judging import horizon, joined

GROWN = (  # noqa: SIM905
    "asparagus beet broad_bean bush_bean cabbage carrot celery cereal_rye corn_salad cucumber eggplant garlic "
    "hairy_vetch kale "
    "leaf_lettuce leek onion_sets parsnip pea potato radish rhubarb spinach sprouting_broccoli strawberry sweet_corn "
    "sweet_pepper swiss_chard tomato turnip winter_squash zucchini"
).split()
DISEASES = ("clubroot", "allium_white_rot", "verticillium_wilt", "lettuce_drop", "white_mold", "carrot_cavity_spot")
PESTS = ("carrot_rust_fly", "carrot_weevil", "cabbage_root_maggot", "wireworms")
PARTS = ((0.0, 1.0), (0.0, 0.5), (0.5, 1.0), (0.2, 1.0))
KINDS = ("ground", "raised", "container", "greenhouse")


@st.composite
def plantings(draw, beds, first, last, status, name):
    start = draw(st.dates(first, last))
    crop = CROPS[draw(st.sampled_from(GROWN))]
    long = draw(st.integers(20, 330))
    end = date(2199, 12, 31) if crop.perennial else date.fromordinal(start.toordinal() + long)
    exact = draw(st.sampled_from(["day", "day", "quarter", "year"]))
    part = draw(st.sampled_from(PARTS))
    return Planting(name, draw(st.sampled_from(beds)), crop, start, end, exact, part=part, status=status)


@st.composite
def questions(draw):
    names = [f"b{n}" for n in range(draw(st.integers(1, 4)))]
    places = draw(st.booleans())
    beds = [
        bed(name, kind=draw(st.sampled_from(KINDS)), position=(2.0 * n, 0.0) if places else None)
        for n, name in enumerate(names)
    ]
    past = [
        draw(plantings(names, date(2023, 1, 1), date(2026, 10, 1), "done", f"past{n}"))
        for n in range(draw(st.integers(0, 8)))
    ]
    ahead = [
        draw(plantings(names, date(2027, 2, 1), date(2029, 10, 1), "planned", f"fixed{n}"))
        for n in range(draw(st.integers(0, 2)))
    ]
    seen = [
        Sighting(draw(st.sampled_from(names)), draw(st.dates(date(2023, 1, 1), date(2026, 11, 1))), of)
        for of in draw(st.lists(st.sampled_from(DISEASES + PESTS), max_size=2))
    ]
    south = draw(st.booleans())
    frosts = {} if draw(st.booleans()) else FROSTS
    if south and frosts:
        frosts = {"last_spring_frost": FrostDate((10, 20)), "first_autumn_frost": FrostDate((5, 1))}
    latitude = -38.0 if south else draw(st.sampled_from([46.2, None, 12.0]))
    garden = Garden(latitude=latitude, rotation=draw(st.sampled_from(["full", "short"])), **frosts)
    plan = garden_of(*beds, past=past, sightings=seen, garden=garden)
    if draw(st.booleans()):
        given_ = Amendment(names[0], date(2026, 10, 1), draw(st.sampled_from(["new_soil", "raw_manure"])))
        plan = replace(plan, amendments=(given_,))
    crops = draw(st.lists(st.sampled_from(GROWN), min_size=1, max_size=6, unique=True))
    wants = [
        Wish(CROPS[c], draw(st.sampled_from([None, 0.25, 0.5, 1.0, 2.0])), must=draw(st.booleans()), slot=draw(SLOT))
        for c in crops
    ]
    dislikes = tuple(Dislike(CROPS[crops[0]], names[0]) for _ in range(draw(st.integers(0, 1))))
    return plan, wishes(
        *wants,
        years=draw(st.integers(1, 4)),
        dislikes=dislikes,
        fixed=tuple(ahead),
        winter_beds=draw(st.sampled_from([None, 0, 1])),
        catch_crops=draw(st.booleans()),
    )


SLOT = st.sampled_from(["any", "any", "main", "overwinter"])
SLOW = settings(
    deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large]
)


def holds(plan, asked, found):
    """What must be true of any proposal."""
    base = joined(plan, asked.fixed)
    before = breaches(check(replace(base, judge=horizon(asked, plan.garden.latitude)), KNOWLEDGE))
    assert breaches(found.report) <= before
    ours = {p.id for p in own(found, base)}
    assert not {name for _, name in breaches(found.report)} & ours
    assert {p.id for p in found.plan.plantings} == {p.id for p in base.plantings} | ours
    total = {}
    for one in (*found.placed, *found.unplaced):
        assert one.amount > 0
        total[one.wish.crop.id, one.year] = total.get((one.wish.crop.id, one.year), 0) + one.amount
    for wish in asked.wants:
        for year in asked.horizon:
            if not wish.crop.perennial:
                assert total.get((wish.crop.id, year), 0) <= max(wish.amount or 0.25, 0.25) + 1e-9
    assert found.value <= found.bound + 1e-6
    for u in found.unplaced:
        assert u.reason
    _apart(found, ours)


def _apart(found, ours):
    """No two plantings of ours, and none of ours and another, stand in one ground on one day."""
    every = [p for p in found.plan.plantings if p.crop.kind != "fallow"]
    for p in every:
        assert p.start <= p.end
        for q in every:
            if p.id < q.id and p.bed == q.bed and {p.id, q.id} & ours:
                same_days = p.start <= q.end and q.start <= p.end
                same_part = p.part[0] < q.part[1] - 1e-6 and q.part[0] < p.part[1] - 1e-6
                assert not (same_days and same_part), (p, q)


@settings(SLOW, max_examples=20)
@given(questions())
def test_what_counting_shows_changes_no_optimum(question):
    plan, asked = question
    context = Context(joined(plan, asked.fixed), KNOWLEDGE, told="none")
    instance = ask(asked, context).instance
    plain, counts = solve(instance, 1), counted(ask(asked, context))
    with_them = solve(with_counts(instance, counts), 1)
    if plain is not None and with_them is not None and plain.proven and with_them.proven:
        assert with_them.cost == pytest.approx(plain.cost)
    if plain is not None:
        assert with_counts(instance, counts).floor <= plain.cost + 1e-6


@SLOW
@given(questions())
def test_the_quick_answer_is_never_a_breach(question):
    plan, asked = question
    holds(plan, asked, propose(asked, plan, KNOWLEDGE, seconds=0))


@settings(SLOW, max_examples=20)
@given(questions())
def test_a_solved_proposal_is_never_a_breach(question):
    plan, asked = question
    seen = []
    found = propose(asked, plan, KNOWLEDGE, seconds=0.6, report_progress=seen.append)
    for one in (found, *seen):
        holds(plan, asked, one)
