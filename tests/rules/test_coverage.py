"""What covers keep out, let through and shut in: the functions of coverage and the rules about covers."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import plan_of

from rules import Finding, check, load_knowledge
from rules.checks.context import Context
from rules.checks.cover_faults import first_flower
from rules.checks.cover_trap import listed
from rules.checks.coverage import covers_of, feeders, fine_enough, keeps_out, shut_throughout, shut_until
from rules.model import Cover

KNOWLEDGE = load_knowledge()
PESTS = KNOWLEDGE.pests
SOWN = date(2027, 4, 10)
NORTH, SOUTH = {"latitude": 46.2}, {"latitude": -37.8}
TRAPS = {"protect.cover-traps-pest", "protect.cover-may-trap", "protect.resown-under-cover"}


def cover(kind: str = "net", mesh: float | None = 0.8, start: date = SOWN, **rest: Any) -> Cover:
    return Cover("a", kind, start, mesh=mesh, **rest)


def row(crop: str, start: date = SOWN, end: date = date(2027, 9, 30), name: str = "p", **rest: Any) -> dict[str, Any]:
    return {"bed": "a", "id": name, "crop": crop, "start": start, "end": end, **rest}


def over(kind: str = "net", mesh: float | None = 0.8, start: date = SOWN, **rest: Any) -> dict[str, Any]:
    made = {"bed": "a", "kind": kind, "start": start, **rest}
    return made if mesh is None else made | {"mesh": mesh}


def told(
    *rows: dict[str, Any], covers: Any, garden: dict[str, Any] = NORTH, judge: str = "2027", **parts: Any
) -> dict[str, Finding]:
    """The findings about covers by rule, without "protect."."""
    plan = plan_of(*rows, covers=list(covers), garden=garden, judge=judge, knowledge=KNOWLEDGE, **parts)
    report = check(plan, KNOWLEDGE)
    return {f.rule.removeprefix("protect."): f for f in report.findings if f.rule.startswith("protect.")}


def context_of(*rows: dict[str, Any], covers: Any = ()) -> Context:
    return Context(plan_of(*rows, covers=list(covers), garden=NORTH, judge="2027", knowledge=KNOWLEDGE), KNOWLEDGE)


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


# -- what comes up under a cover

CARROTS = row("carrot", date(2026, 4, 15), date(2026, 10, 15), "before")
PARSNIPS = row("parsnip", name="now")


def test_carrots_then_parsnips_under_a_net() -> None:
    finding = told(CARROTS, PARSNIPS, covers=[over()])["cover-traps-pest"]
    assert finding.plantings == ("now",)
    assert "carrot_rust_fly" in finding.because["pests"]  # type: ignore[operator]
    assert finding.because["last_host"] == "before"
    assert finding.because["ended"] == date(2026, 10, 15)


def test_a_trap_is_told_once_for_two_covers_over_one_planting() -> None:
    june = date(2027, 6, 10)
    plan = plan_of(
        CARROTS,
        PARSNIPS,
        covers=[over("fleece", None, end=june), over(start=june)],
        garden=NORTH,
        judge="2027",
        knowledge=KNOWLEDGE,
    )
    rules = [f.rule for f in check(plan, KNOWLEDGE).findings]
    assert rules.count("protect.cover-traps-pest") == 1


def test_uncovered_parsnips_are_no_trap() -> None:
    assert told(CARROTS, PARSNIPS, covers=[]) == {}


def test_a_cover_over_another_planting_of_the_bed_is_no_trap_for_this_one() -> None:
    lettuce = row("leaf_lettuce", name="salad")
    assert "cover-traps-pest" not in told(CARROTS, PARSNIPS, lettuce, covers=[over(plantings=["salad"])])


def test_hosts_in_another_part_of_the_bed() -> None:
    beds = [{"id": "a", "length": 400.0, "width": 120.0}]
    far = told(
        CARROTS | {"part": (0, 200)}, PARSNIPS | {"part": (200, 400)}, covers=[over(plantings=["now"])], beds=beds
    )
    near = told(
        CARROTS | {"part": (0, 200)}, PARSNIPS | {"part": (100, 300)}, covers=[over(plantings=["now"])], beds=beds
    )
    assert "cover-traps-pest" not in far
    assert "cover-traps-pest" in near


def test_a_covered_host_released_nothing_if_its_own_ground_was_clean() -> None:
    before = over(start=date(2026, 4, 15), end=date(2026, 10, 15))
    assert "cover-traps-pest" not in told(CARROTS, PARSNIPS, covers=[before, over()])


def test_a_covered_host_on_ground_that_was_not_clean_passes_the_pest_on() -> None:
    older = row("celery", date(2025, 5, 1), date(2025, 10, 15), "older")
    before = over(start=date(2026, 4, 15), end=date(2026, 10, 15))
    found = told(older, CARROTS, PARSNIPS, covers=[before, over()])
    assert found["cover-traps-pest"].because["last_host"] == "before"


def test_many_covered_sowings_in_one_bed_are_worked_out() -> None:
    day = date(2027, 4, 1)
    sowings = [row("radish", day, day, f"s{n}") for n in range(400)]
    assert "resown-under-cover" not in told(*sowings, covers=[over(start=day)])
    assert "resown-under-cover" in told(row("radish", day - timedelta(20), day), *sowings, covers=[over(start=day)])


def test_a_host_whose_cover_came_off_early_released_some() -> None:
    before = over(start=date(2026, 4, 15), end=date(2026, 7, 1))
    assert "cover-traps-pest" in told(CARROTS, PARSNIPS, covers=[before, over()])


def test_no_trap_with_a_pest_that_does_not_live_here() -> None:
    rows = (row("potato", date(2026, 4, 15), date(2026, 9, 15), "before"), row("eggplant", date(2027, 5, 20)))
    fleece = over("fleece", None, date(2027, 5, 20))
    named = {
        country: told(*rows, covers=[fleece], garden=NORTH | {"country": country}).get("cover-traps-pest", None)
        for country in ("US", "GB")
    }
    assert "colorado_potato_beetle" in named["US"].because["pests"]  # type: ignore[union-attr, operator]
    assert named["GB"] is None or "colorado_potato_beetle" not in named["GB"].because["pests"]  # type: ignore[operator]


def test_names_in_a_sentence() -> None:
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"]) == "a, b and c"
    assert listed(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"


# -- late, open, coarse


@pytest.mark.parametrize(("days", "late"), [(0, False), (1, False), (2, True), (30, True)])
def test_late_from_the_second_day_on(days: int, late: bool) -> None:
    found = told(row("carrot"), covers=[over(start=SOWN + timedelta(days))])
    assert ("cover-too-late" in found) is late
    if late:
        assert found["cover-too-late"].because["days_late"] == days


def test_nothing_is_late_where_the_day_of_sowing_is_not_known() -> None:
    spring = {"bed": "a", "id": "p", "crop": "carrot", "season": "2027-spring"}
    assert "cover-too-late" not in told(spring, covers=[over(start=date(2027, 5, 1))])


def test_old_asparagus_is_not_covered_late() -> None:
    old = row("asparagus", date(2022, 4, 1), date(2030, 4, 1))
    assert "cover-too-late" not in told(old, covers=[over(mesh=1.0)])


def test_open_edges_are_told_only_of_a_cover_that_would_stop_something() -> None:
    assert "cover-edges-open" in told(row("carrot"), covers=[over(edges="open")])
    assert "cover-edges-open" not in told(row("carrot"), covers=[over(edges="shut")])
    assert "cover-edges-open" not in told(row("carrot"), covers=[over(mesh=20, edges="open")])


def test_a_coarse_net_tells_the_mesh_that_is_needed() -> None:
    finding = told(row("carrot"), covers=[over(mesh=3)])["net-too-coarse"]
    pests = finding.because["pests"]
    assert isinstance(pests, tuple)
    assert finding.because["needed_mm"] == min(PESTS[str(pest)].max_mesh_mm or 0 for pest in pests)
    assert "net-too-coarse" not in told(row("carrot"), covers=[over(mesh=None)])


# -- flowers


def test_flower_from_the_users_first_harvest() -> None:
    context = context_of(row("zucchini", first_harvest=date(2027, 7, 20)))
    assert first_flower(context.plantings["p"], 30) == date(2027, 6, 20)


def test_flower_is_never_before_the_planting() -> None:
    context = context_of(row("zucchini", first_harvest=SOWN + timedelta(10)))
    assert first_flower(context.plantings["p"], 30) == SOWN


def test_flower_is_not_known_for_a_bare_year() -> None:
    plan = plan_of({"bed": "a", "id": "p", "crop": "zucchini", "season": "2027"}, garden=NORTH, knowledge=KNOWLEDGE)
    assert first_flower(Context(plan, KNOWLEDGE).plantings["p"], 30) is None


COURGETTES = row("zucchini", first_harvest=date(2027, 7, 20))


@pytest.mark.parametrize(
    ("given_cover", "told_of"),
    [
        (over(), True),
        (over(open_by_day_from=date(2027, 6, 20)), False),
        (over(open_by_day_from=date(2027, 6, 21)), True),
        (over(end=date(2027, 6, 20)), False),
        (over(end=date(2027, 6, 21)), True),
        (over(open_by_day_from=date(2027, 8, 1), end=date(2027, 6, 1)), False),
        (over("fleece", None), True),
        (over("fence", 1.0), False),
        (over("cage", 20), False),
        (over(mesh=20), False),
        (over(mesh=5), True),
    ],
)
def test_open_by_the_first_flower(given_cover: dict[str, Any], told_of: bool) -> None:
    assert ("flowers-shut-in" in told(COURGETTES, covers=[given_cover])) is told_of


def test_fleece_against_autumn_frost_is_not_told() -> None:
    assert "flowers-shut-in" not in told(COURGETTES, covers=[over("fleece", None, date(2027, 9, 15))])


def test_strawberries_flower_again_each_year() -> None:
    old = row("strawberry", date(2025, 8, 20), date(2029, 10, 1), first_harvest=date(2026, 6, 10))
    shut = told(old, covers=[over(start=date(2027, 4, 1), end=date(2027, 7, 20))])
    assert shut["flowers-shut-in"].because["flower_about"] == date(2027, 5, 11)
    at_fruit = told(old, covers=[over(start=date(2027, 5, 25), end=date(2027, 7, 20))])
    assert "flowers-shut-in" not in at_fruit


# -- animals


def test_a_wide_net_over_old_strawberries_is_told_as_well() -> None:
    old = row("strawberry", date(2024, 4, 1), date(2029, 10, 1))
    wide = over(mesh=15, start=date(2027, 9, 20), end=date(2028, 1, 20))
    assert "net-catches-animals" in told(old, covers=[wide], garden=NORTH)
    victoria = told(old, covers=[wide], garden=SOUTH | {"country": "AU-VIC"})
    assert set(victoria) & {"net-catches-animals", "net-unlawful-here"} == {"net-unlawful-here"}
    assert "Victoria" in victoria["net-unlawful-here"].title


def test_a_net_of_unknown_mesh_is_not_told_to_catch_animals() -> None:
    assert "net-catches-animals" not in told(row("cabbage"), covers=[over(mesh=None)])


# -- heat


@pytest.mark.parametrize(
    ("garden", "start", "end", "hot"),
    [
        (NORTH, date(2027, 5, 1), date(2027, 6, 20), False),
        (NORTH, date(2027, 5, 1), date(2027, 6, 21), True),
        (NORTH, date(2027, 5, 1), date(2027, 9, 1), True),
        (SOUTH, date(2027, 10, 1), date(2027, 12, 20), False),
        (SOUTH, date(2027, 10, 1), date(2027, 12, 21), True),
        (SOUTH, date(2028, 2, 1), date(2028, 2, 28), True),
        (SOUTH, date(2028, 3, 1), date(2028, 5, 30), False),
    ],
)
def test_three_weeks_of_the_hot_months(garden: dict[str, Any], start: date, end: date, hot: bool) -> None:
    found = told(row("kale", start, end), covers=[over("fleece", None, start)], garden=garden)
    assert ("cover-too-hot" in found) is hot


def test_the_hot_months_of_one_half_of_the_world_are_cool_in_the_other() -> None:
    summer = row("kale", date(2027, 7, 1), date(2027, 8, 31))
    fleece = over("fleece", None, date(2027, 7, 1))
    assert "cover-too-hot" in told(summer, covers=[fleece], garden=NORTH)
    assert "cover-too-hot" not in told(summer, covers=[fleece], garden=SOUTH)


def test_fleece_from_autumn_through_the_next_summer() -> None:
    garlic = row("garlic", date(2026, 10, 10), date(2027, 7, 31))
    found = told(garlic, covers=[over("fleece", None, date(2026, 10, 10))], judge="2027")
    assert found["cover-too-hot"].because["hot_days"] == 61


# -- whatever the plan

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
