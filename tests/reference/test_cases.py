"""Published guidance as cases: from the bytes of a plan through the reader to the findings.

The expectations stand in cases.yaml, worked out from the sources named there and not from our output.
"""

from __future__ import annotations

import re
from collections import Counter
from datetime import date
from pathlib import Path
from typing import Any

import case_plans
import pytest
import yaml
from case_plans import NORTH, SOUTH, document, expected, half_a_year_on, judge, knowledge, rows_of

from rules import Finding, Plan, Report
from rules.knowledge.facts import Disease

HERE = Path(__file__).parent
TABLE: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "cases.yaml").read_text(encoding="utf-8"))
ORDER: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "sequence.yaml").read_text(encoding="utf-8"))
SPECIAL = ("memory", "common practice", "judgement")
WORST_FIRST = ("breach", "caution", "advice", "benefit")
#: The groups of rules that these cases speak of.
GROUPS = ("rotation", "disease")


def spoken(report: Report) -> list[Finding]:
    return case_plans.spoken(report, GROUPS)


def found(plan: Plan, report: Report) -> list[str]:
    return case_plans.found(plan, report, GROUPS)


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
        (finding,) = spoken(report)
        assert set(case["contested"]) <= set(finding.evidence.contested_by)
        assert bool(case["contested"]) == bool(finding.evidence.contested_by)
    for key, value in case.get("because", {}).items():
        assert spoken(report)[0].because[key] == value


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
            families = [f.because["family"] for f in spoken(report) if f.severity == severity]
            assert sorted(map(str, families)) == sorted(case.get(table, {}).get(place, [])), (severity, place)
        assert all(f.rule.startswith("rotation.") for f in spoken(report))
        if not spoken(report):
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
    return [*TABLE["cases"], *TABLE["rotations"], *TABLE["does_not_help"], *ORDER["cases"]]


def kind_of(src: list[str]) -> str:
    """What a case stands on: read pages, read pages and what was not read, or nothing read."""
    unread = [key for key in src if key in SPECIAL]
    if not unread:
        return "published"
    return unread[0] if len(unread) == len(src) else "published in part"


def protection_keys() -> set[str]:
    """What the table of covers and controls cites; test_protection.py counts its rows."""
    table = yaml.safe_load((HERE / "protection.yaml").read_text(encoding="utf-8"))
    rows = [row for rows in table.values() for row in rows]
    return {key for row in (*rows, *(also for row in rows for also in row.get("also", ()))) for key in row["src"]}


def worked_keys(own: set[str]) -> set[str]:
    """What the worked numbers of the land equivalent ratio cite beside each row."""
    words = set(re.findall(r"[a-z_0-9]+", (HERE / "test_land_ratio.py").read_text(encoding="utf-8")))
    return own & words


def test_cited_keys_are_known() -> None:
    own = set(yaml.safe_load((HERE / "sources.yaml").read_text(encoding="utf-8"))["sources"])
    cited = {key for case in every_case() for key in case["src"]} | protection_keys() | worked_keys(own)
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
