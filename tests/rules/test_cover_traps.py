"""What comes up under a cover, and covers that are late, open or coarse."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from covered import KNOWLEDGE, NORTH, PESTS, SOWN, over, row, told
from tiny_plans import plan_of

from rules import check
from rules.checks.cover_trap import listed

CARROTS = row("carrot", date(2026, 4, 15), date(2026, 10, 15), "before")
PARSNIPS = row("parsnip", name="now")


# -- what comes up under a cover


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
