"""What holds of covers whatever the plan."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from covered import KNOWLEDGE, NORTH, PESTS, over, row
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import plan_of

from rules import check
from rules.checks.context import Context
from rules.checks.coverage import feeders

TRAPS = {"protect.cover-traps-pest", "protect.cover-may-trap", "protect.resown-under-cover"}
CROPS = [
    "arugula",
    "beet",
    "bush_bean",
    "cabbage",
    "carrot",
    "cucumber",
    "leaf_lettuce",
    "leek",
    "onion_bulb",
    "parsnip",
    "pea",
    "potato",
    "radish",
    "spinach",
    "sweet_corn",
    "tomato",
    "zucchini",
]


#: Rules that a fine cover, laid on the first day, edges shut, may still call for.
MAY_ADD = TRAPS | {"protect.cover-too-hot", "protect.flowers-shut-in", "protect.tassels-shut-in"}


@st.composite
def gardens(draw: st.DrawFn) -> list[dict[str, Any]]:
    """Some crops of two years in one or two beds, and one now."""
    rows = []
    for n in range(draw(st.integers(0, 5))):
        start = date(draw(st.sampled_from((2025, 2026))), draw(st.integers(3, 8)), 5)
        rows.append(row(draw(st.sampled_from(CROPS)), start, start + timedelta(90), f"old{n}"))
        rows[-1]["bed"] = draw(st.sampled_from(("a", "a", "b")))
    if draw(st.booleans()):
        rows.append(row(draw(st.sampled_from(CROPS)), date(2027, 3, 1), date(2027, 5, 10), "spring"))
    start = date(2027, draw(st.integers(5, 7)), 15)
    rows.append(row(draw(st.sampled_from(CROPS)), start, start + timedelta(110), "now"))
    return rows


def against_now(rows: list[dict[str, Any]], covers: list[dict[str, Any]]) -> set[str]:
    plan = plan_of(*rows, covers=covers, garden=NORTH, judge="2027", knowledge=KNOWLEDGE)
    return {f.rule for f in check(plan, KNOWLEDGE).findings if "now" in f.plantings and f.severity != "benefit"}


def fine_cover(rows: list[dict[str, Any]]) -> dict[str, Any]:
    return over(mesh=0.6, start=rows[-1]["start"], plantings=["now"], edges="shut")


@given(gardens())
@settings(max_examples=60, deadline=None)
def test_a_fine_cover_from_sowing_adds_only_traps_heat_and_flowers(rows: list[dict[str, Any]]) -> None:
    bare, covered = against_now(rows, []), against_now(rows, [fine_cover(rows)])
    assert covered - bare <= MAY_ADD


@given(gardens())
@settings(max_examples=60, deadline=None)
def test_without_the_hosts_before_it_nothing_is_trapped(rows: list[dict[str, Any]]) -> None:
    crop = KNOWLEDGE.crops[rows[-1]["crop"]]
    eaters = [pest for pest in PESTS.values() if crop.id in pest.hosts]
    cleared = [
        one for one in rows[:-1] if one["bed"] != "a" or not any(one["crop"] in pest.hosts for pest in eaters)
    ] + rows[-1:]
    assert against_now(cleared, [fine_cover(cleared)]) & TRAPS == set()


@given(gardens())
@settings(max_examples=60, deadline=None)
def test_a_trap_names_pests_of_both_crops_that_the_cover_stops(rows: list[dict[str, Any]]) -> None:
    plan = plan_of(*rows, covers=[fine_cover(rows)], garden=NORTH, judge="2027", knowledge=KNOWLEDGE)
    context = Context(plan, KNOWLEDGE)
    eaters = {pest.id for pest in feeders(context, context.plantings["now"])}
    for finding in check(plan, KNOWLEDGE).findings:
        if finding.rule in TRAPS:
            named = finding.because["pests"]
            assert isinstance(named, tuple)
            last = context.plantings[str(finding.because["last_host"])]
            assert set(named) <= eaters
            assert any(last.crop.id in PESTS[str(pest)].hosts for pest in named)
            assert all((PESTS[str(pest)].max_mesh_mm or 0) >= 0.6 for pest in named)
