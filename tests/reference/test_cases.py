"""Published guidance as cases: from the bytes of a plan through the reader to the findings.

The expectations stand in cases.yaml, worked out from the sources named there and not from our output.
"""

from __future__ import annotations

import json
from calendar import monthrange
from collections import Counter
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from rules import Knowledge, Plan, Report, check, load_knowledge
from rules.knowledge.facts import Disease
from service.reading import read_plan

HERE = Path(__file__).parent
TABLE: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "cases.yaml").read_text(encoding="utf-8"))
SPECIAL = ("memory", "common practice", "judgement")
WORST_FIRST = ("breach", "caution", "advice", "benefit")
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


def found(plan: Plan, report: Report) -> list[str]:
    """Each finding as "severity rule crops"."""
    crops = {p.id: p.crop.id for p in plan.plantings}
    return sorted(f"{f.severity} {f.rule} {'+'.join(crops[p] for p in f.plantings)}" for f in report.findings)


def expected(case: dict[str, Any]) -> list[str]:
    """The findings that a case expects, in the order of ``found``."""
    return sorted(case["expect"])


def ids(table: str) -> list[str]:
    return [case["id"] for case in TABLE[table]]


@pytest.mark.parametrize("case", TABLE["cases"], ids=ids("cases"))
def test_published_case(case: dict[str, Any]) -> None:
    plan, report = judge(document(case))
    assert found(plan, report) == expected(case), case["says"]
    severe = {line.split()[0] for line in expected(case)} & {"breach", "caution"}
    if severe:
        assert report.verdict == min(severe, key=WORST_FIRST.index)
    else:
        assert report.verdict in ((case["verdict"],) if "verdict" in case else ("clear", "unknown"))
    if "contested" in case:
        (finding,) = report.findings
        assert set(case["contested"]) <= set(finding.evidence.contested_by)
        assert bool(case["contested"]) == bool(finding.evidence.contested_by)
    for key, value in case.get("because", {}).items():
        assert report.findings[0].because[key] == value


@pytest.mark.parametrize("case", TABLE["cases"], ids=ids("cases"))
def test_southern_twin(case: dict[str, Any]) -> None:
    """Dates half a year later and a southern latitude: the same findings."""
    plan, report = judge(half_a_year_on(document(case, SOUTH)))
    assert found(plan, report) == expected(case), case["says"]


def test_the_twin_is_not_the_case_itself() -> None:
    """A plan whose dates stay northern reads otherwise in the south, so the twins do show something."""
    case = next(case for case in TABLE["cases"] if case["id"] == "mustard-green-manure-before-cabbage")
    north, south = judge(document(case, NORTH))[1], judge(half_a_year_on(document(case, SOUTH)))[1]
    assert north.judged.start == date(2027, 1, 1)
    assert south.judged.start == date(2027, 7, 1)
    assert south.findings[0].because["ended"] == date(2027, 5, 20)
    assert north.findings[0].because["ended"] == date(2026, 11, 20)


@pytest.mark.parametrize("case", TABLE["rotations"], ids=ids("rotations"))
def test_published_rotation(case: dict[str, Any]) -> None:
    """Two cycles in one bed: the first is the record, every year of the second is judged."""
    order = case["order"]
    first = 2027 - len(order)
    plantings = [row for n in range(2 * len(order)) for row in rows_of(first + n, order[n % len(order)])]
    for place in range(1, len(order) + 1):
        year = 2026 + place
        rows = [row for row in plantings if int(row["season"]) <= year]
        _, report = judge(document({"rows": rows, "judge": year}))
        for severity, table in (("breach", "breaches"), ("caution", "cautions")):
            families = [f.because["family"] for f in report.findings if f.severity == severity]
            assert sorted(map(str, families)) == sorted(case.get(table, {}).get(place, [])), (severity, place)
        assert all(f.rule.startswith("rotation.") for f in report.findings)
        if not report.findings:
            assert report.verdict == "clear"


@pytest.mark.parametrize("row", TABLE["does_not_help"], ids=lambda row: row["word"])
def test_rotation_does_not_help(row: dict[str, Any]) -> None:
    assert not isinstance(knowledge().find_trouble(row["word"]), Disease)
    for disease in knowledge().diseases.values():
        pathogen = disease.pathogen.lower()
        assert [cause for cause in row["causes"] if cause.lower() in pathogen] == [], disease.id


def test_a_disease_that_rotation_does_help_is_in_the_list() -> None:
    """The test above would find one by either way."""
    clubroot = knowledge().find_trouble("clubroot")
    assert isinstance(clubroot, Disease)
    assert "plasmodiophora" in clubroot.pathogen.lower()


# -- the table itself


def every_case() -> list[dict[str, Any]]:
    return [*TABLE["cases"], *TABLE["rotations"], *TABLE["does_not_help"]]


def kind_of(src: list[str]) -> str:
    """What a case stands on: read pages, read pages and what was not read, or nothing read."""
    unread = [key for key in src if key in SPECIAL]
    if not unread:
        return "published"
    return unread[0] if len(unread) == len(src) else "published in part"


def test_cited_keys_are_known() -> None:
    cited = {key for case in every_case() for key in case["src"]}
    own = set(yaml.safe_load((HERE / "sources.yaml").read_text(encoding="utf-8"))["sources"])
    assert cited - set(knowledge().sources) - own == set()
    assert own - cited == set()
    assert own & set(knowledge().sources) == set()
    assert all(case["src"] for case in every_case())


def test_ids_are_unique() -> None:
    counted = Counter(case.get("id") or case["word"] for case in every_case())
    assert [name for name, count in counted.items() if count > 1] == []


def test_count_of_cases_by_kind_of_source() -> None:
    """The README tells how many cases stand on what; at least 55 do, most on pages that were read."""
    counted = Counter(kind_of(case["src"]) for case in every_case())
    told = {}
    for line in (HERE / "README.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) == 2 and cells[1].isdecimal():
            told[cells[0]] = int(cells[1])
    assert told == dict(counted)
    assert len(TABLE["cases"]) >= 55
    assert counted["published"] > sum(counted.values()) / 2
