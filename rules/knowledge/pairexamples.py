"""Tiny plans for pair rules, made from the row: where it speaks, and near misses where it does not."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from rules.knowledge.factfiles import Facts
from rules.knowledge.facts import Crop
from rules.knowledge.pairrows import OnlyIf, Pair
from rules.knowledge.ruleset import Examples

#: The day on which the crop acted on is set in every example.
_SET = date(2027, 5, 1)
_CLEARED = date(2027, 9, 30)
_FAR_M = 200


def examples_of(value: Mapping[str, Any], pair: Pair, facts: Facts) -> tuple[tuple[str, ...], Examples]:
    """Where a pair rule stays silent, in words, and its examples: plans it flags and plans it lets pass."""
    couples = _couples(pair, facts)
    if value["severity"] == "benefit" or value.get("points", 0) > 0:
        silent = ["A condition that is not met, or that the plan does not show, is told as advice without points."]
    else:
        silent = ["It says nothing where a condition is not met."]
    if not pair.in_plan:
        silent = ["It is told only when someone asks about the pair, never in a report on a plan."]
    flag = [_plan(pair.only_if, *couples[0]), _side_by_side(pair.only_if, *couples[-1])]
    ok = [_before_it(pair.only_if, *couples[0]), _far_off(pair.only_if, *couples[-1])]
    return tuple(silent), {"flag": flag, "ok": ok}


def _couples(pair: Pair, facts: Facts) -> list[tuple[Crop, Crop]]:
    """Two couples that the rule speaks for; the same twice where there is only one."""
    acting, acted_on = pair.a.crops(facts), pair.b.crops(facts)
    found = [(a, b) for a in acting[:3] for b in acted_on[:3] if a is not b]
    return [found[0], found[-1]]


def _plan(only_if: OnlyIf, a: Crop, b: Crop) -> dict[str, Any]:
    """A plan in which every condition that a plan can show is met."""
    start = _SET - timedelta(days=_head_start(only_if))
    beds: list[dict[str, Any]] = [{"id": "b", "kind": only_if.ground[0] if only_if.ground else "ground"}]
    rows: list[dict[str, Any]] = [_row("b", "acted-on", b, _SET), _row("b", "partner", a, start)]
    if only_if.gap_m is not None:
        gap = only_if.gap_m[0] if only_if.gap_m[0] is not None else only_if.gap_m[1]
        beds[0] |= _place(0)
        beds.append({"id": "a", "kind": "ground"} | _place(1 + (gap or 0)))
        rows[1]["bed"] = "a"
    if only_if.plants is not None:
        least, most = only_if.plants
        share = least if least is not None else (most or 0)
        rows[0]["count"], rows[1]["count"] = 100, max(1, round(100 * share))
    if only_if.out_by is not None:
        rows[1]["end"] = (_SET + timedelta(days=only_if.out_by)).isoformat()
    plan: dict[str, Any] = {"beds": beds, "plantings": rows}
    if only_if.treated:
        day = (max(start, _SET) + timedelta(days=14)).isoformat()
        plan["treatments"] = [{"bed": rows[1]["bed"], "planting": "partner", "date": day, "active": "soap"}]
    return plan


def _side_by_side(only_if: OnlyIf, a: Crop, b: Crop) -> dict[str, Any]:
    """The same in two halves of the bed that touch; with a gap between them, the crop stands a month longer."""
    plan = _plan(only_if, a, b)
    crop, partner = plan["plantings"]
    if only_if.gap_m is not None:
        crop["end"] = (date.fromisoformat(crop["end"]) + timedelta(days=30)).isoformat()
    else:
        crop["part"], partner["part"] = [0, 0.5], [0.5, 1]
    return plan


def _before_it(only_if: OnlyIf, a: Crop, b: Crop) -> dict[str, Any]:
    """The same, but the partner is cleared before the crop is set."""
    plan = _plan(only_if, a, b)
    row = plan["plantings"][1]
    row["start"], row["end"] = "2026-05-01", "2026-09-30"
    plan.pop("treatments", None)
    return plan | {"judge": {"season": 2027}}


def _far_off(only_if: OnlyIf, a: Crop, b: Crop) -> dict[str, Any]:
    """The same, but far apart."""
    plan = _plan(only_if, a, b)
    plan["beds"] = [plan["beds"][0] | _place(0), {"id": "far", "kind": "ground"} | _place(_FAR_M)]
    plan["plantings"][1]["bed"] = "far"
    for done in plan.get("treatments", ()):
        done["bed"] = "far"
    return plan


def _head_start(only_if: OnlyIf) -> int:
    """Days by which the partner goes in first."""
    if only_if.a_before_b is None:
        return 0
    least, most = only_if.a_before_b
    if (least is None or least <= 0) and (most is None or most >= 0):
        return 0
    return round(least if least is not None and least > 0 else most or 0)


def _row(bed: str, name: str, crop: Crop, start: date) -> dict[str, Any]:
    return {
        "id": name,
        "bed": bed,
        "crop": crop.id,
        "start": start.isoformat(),
        "end": (max(_CLEARED, start + timedelta(days=60))).isoformat(),
    }


def _place(x: float) -> dict[str, Any]:
    return {"position": {"x": x, "y": 0}, "length": 100, "width": 100}
