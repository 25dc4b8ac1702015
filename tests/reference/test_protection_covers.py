"""Published statements on covers: what passes which openings, and what comes up under them."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from case_plans import SOUTH, half_a_year_on, knowledge
from protection_rows import DAY, UNREAD, rows, told

import rules
from rules.checks.coverage import fine_enough
from rules.model import Cover

TRAPS = ("protect.cover-traps-pest", "protect.cover-may-trap", "protect.resown-under-cover")


def read_figures(row: dict[str, Any], key: str) -> list[Any]:
    """A row's figures from pages that were read, or all of them where none was."""
    views = [view for view in (row, *row.get("also", ())) if key in view]
    return [v[key] for v in views if not UNREAD.issuperset(v["src"])] or [v[key] for v in views]


# -- what passes which openings


@pytest.mark.parametrize("row", rows("apertures"))
def test_our_opening_is_no_wider_than_any_that_was_read(row: dict[str, Any]) -> None:
    ours = knowledge().pests[row["pest"]].max_mesh_mm
    figures = read_figures(row, "stops")
    assert ours is not None
    assert ours <= min(figures)
    assert ours >= 0.5 * min(figures), "far finer than published: hotter and dearer than it need be"


@pytest.mark.parametrize("row", rows("apertures"))
def test_a_net_holds_up_to_the_published_opening_and_not_beyond(row: dict[str, Any]) -> None:
    pest = knowledge().pests[row["pest"]]
    ours = pest.max_mesh_mm or 0
    assert fine_enough(Cover("a", "net", DAY, mesh=ours), pest) is True
    assert fine_enough(Cover("a", "net", DAY, mesh=round(ours * 0.6, 3)), pest) is True
    beyond = max(row["stops"], *read_figures(row, "stops")) * 1.05
    assert fine_enough(Cover("a", "net", DAY, mesh=beyond), pest) is False


@pytest.mark.parametrize("row", rows("apertures"))
def test_a_read_aperture_names_one_of_its_pages(row: dict[str, Any]) -> None:
    sources = set(knowledge().pests[row["pest"]].sources["max_mesh_mm"])
    assert sources & set(row["src"])


@pytest.mark.parametrize("row", rows("fails"))
def test_a_cover_that_failed_is_not_promised(row: dict[str, Any]) -> None:
    pest = knowledge().pests[row["pest"]]
    assert fine_enough(Cover("a", start=DAY, **row["cover"]), pest) is False, row["says"]


def trap_plan(row: dict[str, Any]) -> dict[str, Any]:
    plantings: list[dict[str, Any]] = []
    covers: list[dict[str, Any]] = []
    start = date(2027, 6, 1) if "earlier" in row else date(2027, 5, 1)
    for key, first, last in (
        ("long_before", date(2025, 4, 15), date(2025, 10, 15)),
        ("before", date(2026, 4, 15), date(2026, 10, 15)),
        ("earlier", date(2027, 3, 10), date(2027, 5, 20)),
    ):
        if key in row:
            plantings.append({"bed": "a", "crop": row[key], "start": first, "end": last})
            if row.get("covered_before"):
                covers.append({"bed": "a", "kind": "net", "edges": "shut", "start": first, "end": last, **row["cover"]})
    bed = row.get("bed", "a")
    plantings.append({"id": "now", "bed": bed, "crop": row["now"], "start": start, "end": date(2027, 9, 25)})
    covers.append({"bed": bed, "kind": "net", "start": start, "edges": "shut", **row["cover"]})
    if row["cover"].get("kind") == "fleece":
        covers[-1].pop("mesh", None)
    return {"plantings": plantings, "covers": covers}


def trapped(report: rules.Report) -> dict[str, set[str]]:
    """The pests that each trap rule names."""
    found: dict[str, set[str]] = {}
    for finding in report.findings:
        if finding.rule in TRAPS:
            named = finding.because["pests"]
            assert isinstance(named, tuple)
            found.setdefault(finding.rule, set()).update(map(str, named))
    return found


def as_expected(row: dict[str, Any], report: rules.Report) -> None:
    found = trapped(report)
    if row.get("silent"):
        assert found == {}
    elif row.get("none"):
        assert row["pest"] not in set().union(*found.values())
    else:
        assert {rule for rule, pests in found.items() if row["pest"] in pests} == {f"protect.{row['rule']}"}


# -- what comes up under a cover


@pytest.mark.parametrize("row", rows("traps"))
def test_what_a_cover_shuts_in(row: dict[str, Any]) -> None:
    as_expected(row, told(trap_plan(row)))


@pytest.mark.parametrize("row", rows("traps"))
def test_what_a_cover_shuts_in_in_the_south(row: dict[str, Any]) -> None:
    as_expected(row, told({"garden": {"latitude": SOUTH}} | half_a_year_on(trap_plan(row))))


@pytest.mark.parametrize("row", [row for row in rows("traps") if "rule" in row.values[0]])
def test_the_pest_is_one_that_the_cover_would_stop_and_feeds_on_both(row: dict[str, Any]) -> None:
    """Rows that expect a trap do show one: both crops are hosts, and the cover would keep the pest out."""
    pest = knowledge().pests[row["pest"]]
    for word in (row.get("before") or row["earlier"], row["now"]):
        crop = knowledge().find_crop(word)
        assert crop is not None
        assert crop.id in pest.hosts or crop.id in pest.possible
    assert fine_enough(Cover("a", start=DAY, **({"kind": "net"} | row["cover"])), pest) is True


@pytest.mark.parametrize("row", [row for row in rows("traps") if "rule" in row.values[0]])
def test_a_trap_rests_on_the_pages_that_tell_of_it(row: dict[str, Any]) -> None:
    (finding,) = [f for f in told(trap_plan(row)).findings if f.rule == f"protect.{row['rule']}"]
    assert set(finding.evidence.sources) & set(row["src"])
    assert finding.severity == ("breach" if row["rule"] == "cover-traps-pest" else "caution")
