"""The table of published statements, and what the protection plan makes of it."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
import yaml
from case_plans import NORTH, knowledge
from protection_rows import DAY, HERE, SEEN, TABLE, UNREAD, context_of, heard, rows, told

from rules.knowledge.pestshapes import STEPS
from rules.planning.care import Protection
from rules.planning.protection import protect

# -- covers in use


@pytest.mark.parametrize("row", rows("covers"))
def test_what_is_said_of_a_cover(row: dict[str, Any]) -> None:
    start, end = row.get("start", date(2027, 4, 10)), row.get("end", date(2027, 6, 30))
    covers = [{"bed": "a", "start": start} | row["cover"]]
    if "then" in row:
        covers.append({"bed": "a"} | row["then"])
    report = told({"plantings": [{"bed": "a", "crop": row["crop"], "start": start, "end": end}], "covers": covers})
    tells = {f"protect.{name}" for name in row.get("tells", ())}
    not_told = {f"protect.{name}" for name in row.get("not_told", ())}
    assert tells | not_told <= set(knowledge().rules)
    assert heard(report, tells | not_told) == tells, row["says"]


def every_row() -> list[dict[str, Any]]:
    return [row for table in TABLE.values() for row in table]


# -- the table itself


def test_every_row_names_its_sources() -> None:
    own = set(yaml.safe_load((HERE / "sources.yaml").read_text(encoding="utf-8"))["sources"])
    known = own | set(knowledge().sources) | UNREAD
    for row in every_row():
        for view in (row, *row.get("also", ())):
            assert view["src"], row
            assert set(view["src"]) <= known, row


def test_at_least_sixty_rows_stand_on_pages_that_were_read() -> None:
    read = [row for row in every_row() if UNREAD.isdisjoint(row["src"])]
    assert len(read) >= 60
    assert len(read) > len(every_row()) / 2


def test_ids_are_unique() -> None:
    names = [row["id"] for table in ("traps", "covers") for row in TABLE[table]]
    assert sorted(set(names)) == sorted(names)


def protection_of(crop: str, country: str, seen: str | None = None) -> Protection:
    plan = {
        "garden": {"latitude": NORTH, "country": country},
        "judge": {"season": "2027"},
        "plantings": [{"bed": "a", "crop": crop, "start": DAY, "end": date(2027, 9, 30)}],
        "sightings": [{"bed": "a", "date": date(2026, 8, 1), "of": seen}] if seen else [],
    }
    context = context_of(plan)
    return protect(context.plan, context.plan.judge, knowledge())


ANIMALS = [
    ("sweet_corn", "tree_squirrels"),
    ("carrot", "rabbits"),
    ("carrot", "groundhogs"),
    ("pea", "birds"),
    ("tomato", "tomato_hornworm"),
    ("cabbage", "imported_cabbageworm"),
]


# -- the protection plan


@pytest.mark.parametrize(("crop", "pest"), SEEN + ANIMALS)
def test_no_net_is_advised_that_catches_animals(crop: str, pest: str) -> None:
    """5 mm or less at full stretch (VIC_NET, ACT_NET, NSW_NET), whatever wider opening would stop the pest."""
    care = protection_of(crop, "US", pest).crops[0]
    assert pest in {one.pest.id for one in care.expected}
    if care.guard is not None and care.guard.mesh_mm is not None:
        assert care.guard.mesh_mm <= 5
        assert all(kept.max_mesh_mm is not None for kept in care.guard.pests)


@pytest.mark.parametrize(("crop", "pest"), [("tomato", "tomato_hornworm"), ("cabbage", "imported_cabbageworm")])
def test_a_net_is_advised_although_a_wider_one_would_do(crop: str, pest: str) -> None:
    guard = protection_of(crop, "US", pest).crops[0].guard
    assert guard is not None
    assert pest in {kept.id for kept in guard.pests}


@pytest.mark.parametrize(("crop", "pest"), [("sweet_corn", "tree_squirrels"), ("carrot", "groundhogs")])
def test_no_net_is_advised_against_what_a_cage_or_fence_is_for(crop: str, pest: str) -> None:
    guard = protection_of(crop, "US", pest).crops[0].guard
    assert guard is None or pest not in {kept.id for kept in guard.pests}


@pytest.mark.parametrize(("crop", "pest"), SEEN + ANIMALS)
def test_the_ladder_goes_from_watching_to_the_last_resort(crop: str, pest: str) -> None:
    """EPA_IPM, ILCS_IPM, CPRI_IPM: watch, prevent, keep off, biological, chemical last; each measure once."""
    told_of = protection_of(crop, "US", pest).ladder
    steps = [list(STEPS).index(measure.control.step) for measure in told_of]
    assert steps
    assert steps == sorted(steps)
    assert len({measure.control.id for measure in told_of}) == len(told_of)


def test_squirrels_seen_call_for_a_barrier() -> None:
    measures = protection_of("sweet_corn", "US", "tree_squirrels").ladder
    kinds = {m.control.kind for m in measures if any(p.id == "tree_squirrels" for p in m.pests)}
    assert kinds == {"exclude"}


def test_both_numbers_are_told_where_sources_differ() -> None:
    (care,) = protection_of("sweet_corn", "US", "corn_flea_beetle").crops
    views = next(t.views for t in care.thresholds if t.id == "corn-flea-beetle")
    assert [set(view.sources) for view in views] == [{"UKY_KPN2017"}, {"UD_9092"}]
