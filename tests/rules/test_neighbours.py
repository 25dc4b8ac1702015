"""Who stands beside whom, and how near: parts, beds, turned beds, days together."""

import random
from datetime import date, timedelta
from itertools import combinations, pairwise
from math import hypot, sqrt
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import grew, plan_of

from rules import load_knowledge
from rules.checks import neighbours as squares
from rules.checks.context import Context
from rules.checks.footprints import footprint, metres_apart
from rules.checks.neighbours import stands_dated

KNOWLEDGE = load_knowledge()
SPRING, AUTUMN = "2027-04-01", "2027-09-30"


def neighbours(*rows, judge="2027", **parts):
    return Context(plan_of(*rows, judge=judge, **parts), KNOWLEDGE).neighbours


def found(*rows, reach=2.0, of=None, **parts):
    """Neighbours in short: the ids of the two, metres, days together, mixed."""
    pairs = neighbours(*rows, **parts).pairs(reach, of=of)
    return [(n.one.id, n.other.id, n.metres, n.days, n.mixed) for n in pairs]


def bed(name, x, y, length=300, width=100, **rest):
    return {"id": name, "position": (float(x), float(y)), "length": length, "width": width, **rest}


def placed(*beds, reach=2.0):
    """Neighbours of one crop in each bed."""
    return found(*(grew(b["id"], "kale", SPRING, AUTUMN, id=b["id"]) for b in beds), beds=beds, reach=reach)


def parts(one, other, length=None):
    rows = [
        grew("a", "kale", SPRING, AUTUMN, id="k", part=one),
        grew("a", "onion_bulb", SPRING, AUTUMN, id="o", part=other),
    ]
    ((*_, metres, days, mixed),) = found(*rows, beds=[{"id": "a"} if length is None else {"id": "a", "length": length}])
    assert days == 183
    return metres, mixed


@pytest.mark.parametrize(
    ("one", "other", "length", "metres", "mixed"),
    [
        ((0, 1), (0, 1), None, 0.0, True),
        ((0, 0.6), (0.5, 1), 300, 0.0, True),
        ((0, 0.5), (0.5, 1), 300, 0.0, False),
        ((0, 0.5), (0.5, 1), None, 0.0, False),
        ((0, 0.25), (0.75, 1), 400, 2.0, False),
        ((0.9, 1), (0, 0.1), 1000, 8.0, False),
        ((0, 0.25), (0.75, 1), None, None, False),
    ],
)
def test_parts_of_one_bed(one, other, length, metres, mixed):
    assert parts(one, other, length) == (metres, mixed)


@pytest.mark.parametrize(
    ("one", "other", "metres"),
    [
        (bed("a", 0, 0), bed("b", 0, 1), 0.0),
        (bed("a", 0, 0), bed("b", 1, 0.5), 0.0),
        (bed("a", 0, 0), bed("b", 0, 3), 2.0),
        (bed("a", 0, 0, 120), bed("b", 3.2, 0), 2.0),
        (bed("a", 0, 0), bed("b", 4, 2), sqrt(2)),
        # a stands on end: it covers x from -1 to 0, y from 0 to 3
        (bed("a", 0, 0, turn=90.0), bed("b", 0.5, 0), 0.5),
        (bed("a", 0, 0, turn=90.0), bed("b", -3.0, 3.5), 0.5),
        (bed("a", 0, 0, turn=-270.0), bed("b", 0.5, 0), 0.5),
        # 180 degrees: x from -3 to 0, y from -1 to 0
        (bed("a", 0, 0, turn=180.0), bed("b", 1, 0), 1.0),
        # 37 degrees: the lower right corner lies at (3 cos 37, 3 sin 37) = (2.395906, 1.805445)
        (bed("a", 0, 0, turn=37.0), bed("b", 3.395906, 1.0), 1.0),
        # its upper left corner at (-sin 37, cos 37) = (-0.601815, 0.798636)
        (bed("a", 0, 0, turn=37.0), bed("b", -4.601815, 0.298636), 1.0),
        # alike turned, side by side: 1.5 m along the normal, less the width of 1 m
        (bed("a", 0, 0, turn=37.0), bed("b", -1.5 * 0.6018150231520483, 1.5 * 0.7986355100472928, turn=37.0), 0.5),
        (bed("a", 0, 0, turn=37.0), bed("b", 1, 1, 50, 50), 0.0),
        (bed("a", 0, 0, 1000, 1000, turn=37.0), bed("b", 0, 5, 50, 50), 0.0),
        (bed("a", 0, 0, turn=45.0), bed("b", 2, 0, 100, 100, turn=45.0), (2 * sqrt(0.5)) - 1),
    ],
)
def test_beds_from_edge_to_edge(one, other, metres):
    for beds in ((one, other), (other, one)):
        ((*_, told, days, mixed),) = placed(*beds)
        assert told == pytest.approx(metres, abs=2e-6)
        assert (days, mixed) == (183, False)


def test_beds_beyond_the_reach_are_no_neighbours():
    assert placed(bed("a", 0, 0), bed("b", 0, 3.01)) == []
    assert len(placed(bed("a", 0, 0), bed("b", 0, 3.01), reach=2.1)) == 1


def test_a_field_reaches_beds_far_from_its_corner():
    assert [pair[2] for pair in placed(bed("field", 0, 0, 10_000, 10_000), bed("b", 101.5, 60))] == [1.5]


def test_without_positions_the_next_bed_in_the_list_is_near():
    rows = [grew(b, "kale", SPRING, AUTUMN, id=b) for b in "abc"]
    assert [pair[:3] for pair in found(*rows, beds=["a", "b", "c"])] == [("a", "b", None), ("b", "c", None)]
    assert [pair[:3] for pair in found(*rows, beds=["a", "c", "b"])] == [("a", "c", None), ("b", "c", None)]


def test_one_bed_without_a_position_leaves_the_others_theirs():
    rows = [grew(b, "kale", SPRING, AUTUMN, id=b) for b in "abc"]
    beds = [bed("a", 0, 0), {"id": "b"}, bed("c", 50, 0)]
    assert [pair[:3] for pair in found(*rows, beds=beds)] == [("a", "b", None), ("b", "c", None)]


def test_positions_without_sizes_leave_the_distance_open_unless_they_lie_far_apart():
    near, far = {"id": "b", "position": (4.0, 0.0)}, {"id": "b", "position": (40.0, 0.0)}
    assert [pair[2] for pair in placed({"id": "a", "position": (0.0, 0.0)}, near)] == [None]
    assert placed({"id": "a", "position": (0.0, 0.0)}, far) == []


def test_one_day_together_is_together():
    rows = [grew("a", "kale", SPRING, "2027-06-30", id="k"), grew("a", "leek", "2027-06-30", AUTUMN, id="l")]
    assert found(*rows) == [("k", "l", 0.0, 1, True)]
    rows[1]["start"] = "2027-07-01"
    assert found(*rows) == []


@pytest.mark.parametrize(
    "other",
    [
        grew("a", "leek", "2027"),
        grew("a", "fallow", SPRING, AUTUMN),
        grew("a", "leek", "2026-09-01", "2026-10-10", status="lost", cause="slugs"),
    ],
)
def test_bare_years_fallow_and_early_losses_stand_beside_nothing(other):
    assert found(grew("a", "kale", "2026-09-01", AUTUMN), other) == []


def test_a_crop_lost_late_stood_beside_others():
    lost = grew("a", "leek", "2026-09-01", "2026-10-14", status="lost", cause="slugs", id="l")
    assert [pair[:2] for pair in found(grew("a", "kale", "2026-09-01", AUTUMN, id="k"), lost)] == [("k", "l")]


def test_at_least_one_belongs_to_the_judged_window():
    old = [grew("a", crop, "2025-04-01", "2025-09-30") for crop in ("kale", "leek")]
    rose = grew("a", "rosemary", "2020-04-01", "2030-01-01", id="rose")
    new = grew("a", "pea", "2027-04-01", "2027-07-01", id="pea")
    assert found(*old, rose, new) == [("rose", "pea", 0.0, 92, True)]
    assert {pair[:2] for pair in found(*old, rose, judge="2025")} != set()


def test_only_pairs_of_some_plantings_where_they_are_named():
    rows = [grew("a", crop, SPRING, AUTUMN, id=crop) for crop in ("kale", "leek", "pea")]
    assert [pair[:2] for pair in found(*rows, of={"pea"})] == [("kale", "pea"), ("leek", "pea")]
    assert found(*rows, of=set()) == []


def test_beds_that_replace_each_other_are_one_place():
    beds = [
        bed("old", 0, 0),
        bed("mid", 0, 0, replaces=[{"bed": "old"}]),
        bed("new", 0, 0, replaces=[{"bed": "mid"}]),
        bed("by", 0, 1),
    ]
    assert [pair[:2] for pair in placed(*beds)] == [("by", "mid"), ("by", "new"), ("by", "old")]
    assert placed({"id": "old"}, {"id": "new", "replaces": [{"bed": "old"}]}) == []


def test_the_distance_of_two_beds_is_not_known_without_position_and_size():
    beds = [
        bed("a", 0, 0),
        bed("b", 0, 3),
        {"id": "c", "position": (0.0, 0.0)},
        {"id": "d", "length": 300, "width": 80},
    ]
    near = neighbours(grew("a", "kale", SPRING), beds=beds)
    assert [near.apart("a", other) for other in "abcd"] == [0.0, 2.0, None, None]


def test_more_than_any_garden_holds_is_cut_and_told(monkeypatch):
    monkeypatch.setattr("rules.checks.neighbours._PAIRS", 0)
    monkeypatch.setattr("rules.checks.neighbours._PARTNERS", 3)
    near = neighbours(*(grew("a", "kale", SPRING, AUTUMN, id=f"k{n}") for n in range(9)))
    assert len(near.pairs(2.0)) < 9 * 8 / 2
    assert near.crowded
    calm = neighbours(*(grew("a", "kale", SPRING, AUTUMN, id=f"k{n}") for n in range(4)))
    assert (len(calm.pairs(2.0)), calm.crowded) == (6, set())


def test_a_large_site_looks_at_few_beds_for_each():
    rows = [grew(f"b{n}", "kale", SPRING, AUTUMN, id=f"b{n}") for n in range(900)]
    beds = [bed(f"b{n}", 5 * (n % 30), 2 * (n // 30)) for n in range(900)]
    near = neighbours(*rows, beds=beds)
    asked = []
    apart = near.apart
    near.apart = lambda one, other: asked.append((one, other)) or apart(one, other)
    # from edge to edge: 2 m to the side, 1 m ahead, more to the corners
    assert len(near.pairs(2.0)) == 29 * 30 * 2
    assert len(asked) < 20 * 900


DAYS = st.integers(0, 300)


@st.composite
def gardens(draw):
    """Rows in up to seven beds, placed or not, some turned, some replacing others."""
    beds = []
    for n in range(draw(st.integers(1, 7))):
        made = {"id": f"bed-{n}"}
        if draw(st.integers(0, 4)):
            place = st.floats(-8, 8, allow_nan=False).map(lambda v: round(v, 2))
            made |= {"position": (draw(place), draw(place)), "turn": float(draw(st.sampled_from([0, 0, 90, 37, -120])))}
        if draw(st.integers(0, 4)):
            made |= {"length": draw(st.sampled_from([30, 100, 300, 900])), "width": draw(st.sampled_from([30, 120]))}
        if n and draw(st.integers(0, 5)) == 0:
            made["replaces"] = [{"bed": f"bed-{draw(st.integers(0, n - 1))}"}]
        beds.append(made)
    rows = []
    for n in range(draw(st.integers(1, 12))):
        start = date(2026, 9, 1) + timedelta(days=draw(DAYS))
        rows.append(
            {
                "id": f"p{n}",
                "bed": draw(st.sampled_from(beds))["id"],
                "crop": draw(st.sampled_from(["kale", "leek", "rosemary", "fallow"])),
                "start": start,
                "end": start + timedelta(days=draw(st.integers(0, 200))),
                "part": draw(st.sampled_from([(0.0, 1.0), (0.0, 0.5), (0.5, 1.0), (0.75, 1.0)])),
            }
        )
    return rows, beds


def corners(made):
    """A bed's outline as many points, by a way of its own."""
    plan = plan_of({"bed": "x", "crop": "kale", "season": "2027"}, beds=[{**made, "id": "x", "replaces": []}])
    return footprint(plan.beds[0])


def rough(one, other):
    """Metres between two outlines by points every few centimetres along their edges: never too little."""

    def points(outline):
        for (ax, ay), (bx, by) in pairwise([*outline, outline[0]]):
            steps = max(2, int(hypot(bx - ax, by - ay) / 0.05))
            yield from ((ax + (bx - ax) * i / steps, ay + (by - ay) * i / steps) for i in range(steps))

    theirs = list(points(other))
    return min(hypot(x - u, y - v) for x, y in points(one) for u, v in theirs)


@settings(max_examples=60, deadline=None)
@given(gardens(), st.sampled_from([0.0, 0.5, 2.0, 6.0]), st.sampled_from([0, squares.FEW]))
def test_the_squares_find_what_looking_at_every_two_finds(garden, reach, few):
    rows, beds = garden
    context = Context(plan_of(*rows, beds=beds, judge="2027"), KNOWLEDGE)
    near, rank = context.neighbours, context.rank
    with patch.object(squares, "FEW", few):
        near.near(reach)
    judged = {p.id for p in context.judged}

    def older(bed):
        direct = {r.bed for r in context.beds[bed].replaces}
        return direct.union(*map(older, direct))

    def is_near(one, other):
        if one == other:
            return True
        if other in older(one) or one in older(other):
            return False
        metres = near.apart(one, other)
        if metres is None:
            at, there = context.beds[one].position, context.beds[other].position
            far = at and there and hypot(at[0] - there[0], at[1] - there[1]) > reach + 10
            return abs(rank[one] - rank[other]) == 1 and not far
        return metres <= reach

    wanted = {
        frozenset((p.id, q.id))
        for p, q in combinations(context.plan.plantings, 2)
        if (p.id in judged or q.id in judged)
        and stands_dated(p)
        and stands_dated(q)
        and p.start <= q.end
        and q.start <= p.end
        and is_near(p.bed, q.bed)
    }
    pairs = near.pairs(reach)
    assert {frozenset((n.one.id, n.other.id)) for n in pairs} == wanted
    assert len(pairs) == len(wanted)
    assert all((n.one.start, n.one.id) < (n.other.start, n.other.id) for n in pairs)


@settings(max_examples=30, deadline=None)
@given(gardens())
def test_edge_to_edge_agrees_with_points_along_the_edges(garden):
    _, beds = garden
    outlines = [outline for outline in map(corners, beds) if outline is not None]
    for one, other in combinations(outlines, 2):
        metres = metres_apart(one, other)
        assert metres == metres_apart(other, one)
        if metres > 0:
            assert rough(one, other) - 0.06 <= metres <= rough(one, other) + 1e-6


@settings(max_examples=40, deadline=None)
@given(gardens(), st.integers(0, 2**32))
def test_the_order_of_rows_does_not_matter(garden, seed):
    rows, beds = garden
    shuffled = random.Random(seed).sample(rows, len(rows))
    assert found(*shuffled, beds=beds) == found(*rows, beds=beds)
