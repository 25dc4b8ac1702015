"""What a cover stops, over which plantings, and for how long."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from covered import PESTS, SOWN, context_of, over, row
from hypothesis import given
from hypothesis import strategies as st

from rules.checks.coverage import covers_of, fine_enough, keeps_out, shut_throughout, shut_until
from rules.model import Cover


def cover(kind: str = "net", mesh: float | None = 0.8, start: date = SOWN, **rest: Any) -> Cover:
    return Cover("a", kind, start, mesh=mesh, **rest)


# -- what stuff stops which pest


def test_a_net_of_unknown_mesh_is_neither_fine_nor_coarse() -> None:
    assert fine_enough(cover(mesh=None), PESTS["carrot_rust_fly"]) is None
    assert fine_enough(cover("cage", None), PESTS["rabbits"]) is None


def test_no_net_helps_where_no_mesh_does_even_if_it_is_unknown() -> None:
    for pest in ("slugs", "twospotted_spider_mite", "root_knot_nematodes"):
        assert fine_enough(cover(mesh=None), PESTS[pest]) is False


@pytest.mark.parametrize("pest", ["greenhouse_whitefly", "cabbage_whitefly", "melon_aphid", "onion_thrips"])
def test_fleece_is_not_promised_against_the_smallest(pest: str) -> None:
    assert fine_enough(cover("fleece", None), PESTS[pest]) is False


@pytest.mark.parametrize("pest", ["crucifer_flea_beetle", "carrot_rust_fly", "spinach_leafminer", "cabbage_looper"])
def test_fleece_against_what_is_bigger(pest: str) -> None:
    assert fine_enough(cover("fleece", None), PESTS[pest]) is True


@pytest.mark.parametrize("pest", ["rabbits", "birds", "tree_squirrels", "groundhogs"])
def test_fleece_does_not_stop_animals(pest: str) -> None:
    assert fine_enough(cover("fleece", None), PESTS[pest]) is False


@pytest.mark.parametrize(
    ("pest", "stopped"),
    [
        ("rabbits", True),
        ("carrot_weevil", True),
        ("carrot_rust_fly", False),
        ("cabbage_root_maggot", False),
        ("crucifer_flea_beetle", False),
        ("birds", False),
        ("tree_squirrels", False),
        ("colorado_potato_beetle", False),
    ],
)
def test_an_open_topped_fence_stops_what_walks(pest: str, stopped: bool) -> None:
    assert fine_enough(cover("fence", 1.0), PESTS[pest]) is stopped


def test_a_fence_as_coarse_as_the_walker_is_no_fence() -> None:
    assert fine_enough(cover("fence", 50), PESTS["rabbits"]) is False


def test_a_collar_is_no_cover() -> None:
    assert fine_enough(cover("collar", 0.5), PESTS["cabbage_root_maggot"]) is False


@given(st.sampled_from(sorted(PESTS)), st.floats(0.1, 60), st.floats(0.1, 60))
def test_what_a_coarse_net_stops_a_finer_one_stops(pest: str, one: float, two: float) -> None:
    fine, coarse = sorted((one, two))
    if fine_enough(cover(mesh=coarse), PESTS[pest]):
        assert fine_enough(cover(mesh=fine), PESTS[pest])


# -- the cover over its planting


@pytest.mark.parametrize(("days", "kept"), [(-5, True), (0, True), (1, True), (2, False), (30, False)])
def test_on_from_the_start_with_one_day_of_grace(days: int, kept: bool) -> None:
    planting = context_of(row("carrot")).plantings["p"]
    assert keeps_out(cover(start=SOWN + timedelta(days)), planting, PESTS["carrot_rust_fly"]) is kept


def test_open_edges_keep_nothing_out_and_untold_edges_count_as_shut() -> None:
    planting = context_of(row("carrot")).plantings["p"]
    assert keeps_out(cover(edges="open"), planting, PESTS["carrot_rust_fly"]) is False
    assert keeps_out(cover(), planting, PESTS["carrot_rust_fly"]) is True


def test_unknown_mesh_is_no_promise() -> None:
    context = context_of(row("carrot"), covers=[over(mesh=None)])
    planting = context.plantings["p"]
    assert keeps_out(cover(mesh=None), planting, PESTS["carrot_rust_fly"]) is None
    assert shut_throughout(context, planting, PESTS["carrot_rust_fly"]) is False


def test_residents_of_any_soil_are_under_every_cover() -> None:
    planting = context_of(row("bush_bean")).plantings["p"]
    assert keeps_out(cover(mesh=0.3), planting, PESTS["seedcorn_maggot"]) is False


def test_a_cover_that_names_no_planting_lies_over_all_of_its_bed() -> None:
    rows = (row("carrot", name="one"), row("parsnip", name="two"), row("celery", name="three") | {"bed": "b"})
    assert set(covers_of(context_of(*rows, covers=[over()]))) == {"one", "two"}


def test_a_cover_that_names_plantings_lies_over_these_alone() -> None:
    rows = (row("carrot", name="one"), row("parsnip", name="two"))
    assert set(covers_of(context_of(*rows, covers=[over(plantings=["two"])]))) == {"two"}


def test_a_cover_lies_over_what_stands_while_it_is_there() -> None:
    rows = (
        row("radish", end=date(2027, 5, 20), name="early"),
        row("carrot", date(2027, 7, 1), name="late"),
    )
    spring = over(end=date(2027, 6, 1))
    assert set(covers_of(context_of(*rows, covers=[spring]))) == {"early"}
    assert set(covers_of(context_of(*rows, covers=[over(start=date(2027, 5, 21))]))) == {"late"}


# -- covers that take over from each other


def test_a_net_that_takes_over_from_fleece_goes_on_keeping_out() -> None:
    planting, pest = context_of(row("carrot")).plantings["p"], PESTS["carrot_rust_fly"]
    june = date(2027, 6, 10)
    fleece, net = cover("fleece", None, end=june), cover(start=june)
    assert shut_until([net, fleece], planting, pest) == date.max
    assert shut_until([fleece], planting, pest) == june
    assert shut_until([net], planting, pest) is None
    assert shut_until([fleece, cover(start=june + timedelta(5))], planting, pest) == june
    assert shut_until([fleece, cover(start=june, mesh=5)], planting, pest) == june
    assert shut_until([fleece, cover(start=june, edges="open")], planting, pest) == june


def test_opened_by_day_it_keeps_out_up_to_that_day() -> None:
    context = context_of(row("zucchini"), covers=[over(open_by_day_from=date(2027, 6, 1))])
    planting, pest = context.plantings["p"], PESTS["squash_vine_borer"]
    assert shut_until(context.once(covers_of)["p"], planting, pest) == date(2027, 6, 1)
    assert shut_throughout(context, planting, pest) is False


@given(st.lists(st.tuples(st.integers(-3, 150), st.integers(0, 150)), max_size=5))
def test_shut_until_against_day_by_day(spans: list[tuple[int, int]]) -> None:
    """Every day from the second on up to the day told lies under some cover, a gap of a day let pass; no later one."""
    planting, pest = context_of(row("carrot")).plantings["p"], PESTS["carrot_rust_fly"]
    covers = [cover(start=SOWN + timedelta(a), end=SOWN + timedelta(a + long)) for a, long in spans]
    until = shut_until(covers, planting, pest)
    lain = {day for a, long in spans for day in range(a, a + long + 1)}
    if until is None:
        assert all(a > 1 for a, _ in spans)
    else:
        last = (until - SOWN).days
        assert all(lain & {day, day + 1} for day in range(1, last))
        assert last + 1 not in lain
