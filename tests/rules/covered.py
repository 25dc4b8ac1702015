"""Covers and rows by hand, and what is told of them."""

from __future__ import annotations

from datetime import date
from typing import Any

from tiny_plans import plan_of

from rules import Finding, check, load_knowledge
from rules.checks.context import Context

KNOWLEDGE = load_knowledge()
PESTS = KNOWLEDGE.pests
SOWN = date(2027, 4, 10)
NORTH, SOUTH = {"latitude": 46.2}, {"latitude": -37.8}


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
