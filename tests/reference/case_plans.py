"""Cases of published guidance as plan documents, read and checked the way any plan is."""

from __future__ import annotations

import json
from calendar import monthrange
from datetime import date
from functools import cache
from typing import Any

from rules import Finding, Knowledge, Plan, Report, check, load_knowledge
from service.reading import read_plan

NORTH, SOUTH = 46.2, -37.8


@cache
def knowledge() -> Knowledge:
    return load_knowledge()


def rows_of(year: int | str, crops: str | list[str]) -> list[dict[str, Any]]:
    listed = crops if isinstance(crops, list) else [crops]
    return [{"bed": "a", "crop": crop, "season": str(year)} for crop in listed]


def document(case: dict[str, Any], latitude: float = NORTH) -> dict[str, Any]:
    """The plan document of a case."""
    plantings = [row for year, crops in case.get("grew", {}).items() for row in rows_of(year, crops)]
    plantings += [dict(row) for row in case.get("rows", [])]
    plan: dict[str, Any] = {
        "as_of": date(2027, 1, 15),
        "judge": {"season": str(case.get("judge", 2027))},
        "garden": {"name": "Tannery Row Plots", "latitude": latitude, **case.get("garden", {})},
        "plantings": plantings,
        "sightings": [{"bed": "a", "date": day, "of": of} for of, day in case.get("seen", {}).items()],
        "amendments": [dict(row) for row in case.get("amendments", [])],
    }
    if "beds" in case:
        plan["beds"] = case["beds"]
    return plan


def half_a_year_on(value: Any) -> Any:
    """The same document with every date six months later."""
    if isinstance(value, dict):
        return {key: half_a_year_on(entry) for key, entry in value.items()}
    if isinstance(value, list):
        return [half_a_year_on(entry) for entry in value]
    if isinstance(value, date):
        year, month = value.year + (value.month > 6), (value.month + 5) % 12 + 1
        return date(year, month, min(value.day, monthrange(year, month)[1]))
    return value


def judge(doc: dict[str, Any]) -> tuple[Plan, Report]:
    body = json.dumps(doc, default=str).encode()
    plan = read_plan(body, "json", today=lambda zone: date(2027, 1, 15), knowledge=knowledge())
    return plan, check(plan, knowledge())


def spoken(report: Report, groups: tuple[str, ...]) -> list[Finding]:
    """The findings of the groups of rules that a table of cases speaks of."""
    return [finding for finding in report.findings if finding.rule.split(".")[0] in groups]


def found(plan: Plan, report: Report, groups: tuple[str, ...]) -> list[str]:
    """Each of these findings as "severity rule crops"."""
    crops = {p.id: p.crop.id for p in plan.plantings}
    return sorted(f"{f.severity} {f.rule} {'+'.join(crops[p] for p in f.plantings)}" for f in spoken(report, groups))


def expected(case: dict[str, Any]) -> list[str]:
    """The findings that a case expects, in the order of ``found``."""
    return sorted(case["expect"])
