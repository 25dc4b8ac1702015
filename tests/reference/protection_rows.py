"""The table of published statements on protection (protection.yaml), and its rows as plans."""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml
from case_plans import NORTH, knowledge

import rules
from rules.checks.context import Context
from service.reading import read_plan
from service.rehearsal import AS_OF, told_in

HERE = Path(__file__).parent
TABLE: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "protection.yaml").read_text(encoding="utf-8"))
UNREAD = {"memory", "common practice", "judgement"}
DAY = date(2027, 5, 1)


def rows(table: str) -> list[Any]:
    """A table's rows as parameters, each with a name that tells it."""
    named = []
    for n, row in enumerate(TABLE[table]):
        words = [str(row[key]) for key in ("id", "pest", "control", "crop", "country", "before") if key in row]
        named.append(pytest.param(row, id=f"{n}-{'-'.join(words[:2])}"))
    return named


def told(plan: dict[str, Any]) -> rules.Report:
    return told_in({"judge": {"season": "2027"}} | plan, knowledge())


def context_of(plan: dict[str, Any]) -> Context:
    body = json.dumps({"garden": {"latitude": NORTH}} | plan, default=str).encode()
    return Context(read_plan(body, "json", today=lambda zone: AS_OF, knowledge=knowledge()), knowledge())


def heard(report: rules.Report, names: Iterable[str]) -> set[str]:
    return {finding.rule for finding in report.findings} & set(names)


SEEN = [(crop, pest) for row in TABLE["shared"] for crop in row["hosts"][:2] for pest in [row["pest"]]]
