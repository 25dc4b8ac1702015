"""What published guidance says of covers, thresholds and controls, held against our facts and the rules about covers.

The rows stand in protection.yaml, typed from their sources and not from our output.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import yaml
from case_plans import NORTH, SOUTH, half_a_year_on, knowledge

import rules
from rules.checks.context import Context
from rules.checks.coverage import covers_of, feeders, fine_enough, keeps_out
from rules.knowledge.pestshapes import STEPS
from rules.model import Cover
from rules.planning.care import Protection
from rules.planning.protection import protect
from service.reading import read_plan
from service.rehearsal import AS_OF, told_in

HERE = Path(__file__).parent
TABLE: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "protection.yaml").read_text(encoding="utf-8"))
UNREAD = {"memory", "common practice", "judgement"}
DAY = date(2027, 5, 1)
TRAPS = ("protect.cover-traps-pest", "protect.cover-may-trap", "protect.resown-under-cover")
BLOOM = {"insect": "protect.flowers-shut-in", "wind": "protect.tassels-shut-in"}
#: Numbers that our sentences write as words: in a hundred.
IN_WORDS = {"half": 50, "one plant in five": 20, "a tenth": 10, "one wireworm": 1}


def rows(table: str) -> list[Any]:
    """A table's rows as parameters, each with a name that tells it."""
    named = []
    for n, row in enumerate(TABLE[table]):
        words = [str(row[key]) for key in ("id", "pest", "control", "crop", "country", "before") if key in row]
        named.append(pytest.param(row, id=f"{n}-{'-'.join(words[:2])}"))
    return named


def read_figures(row: dict[str, Any], key: str) -> list[Any]:
    """A row's figures from pages that were read, or all of them where none was."""
    views = [view for view in (row, *row.get("also", ())) if key in view]
    return [v[key] for v in views if not UNREAD.issuperset(v["src"])] or [v[key] for v in views]


def told(plan: dict[str, Any]) -> rules.Report:
    return told_in({"judge": {"season": "2027"}} | plan, knowledge())


def context_of(plan: dict[str, Any]) -> Context:
    body = json.dumps({"garden": {"latitude": NORTH}} | plan, default=str).encode()
    return Context(read_plan(body, "json", today=lambda zone: AS_OF, knowledge=knowledge()), knowledge())


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


# -- what comes up under a cover


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


# -- flowers under covers


def bloom_plan(row: dict[str, Any], **cover: Any) -> dict[str, Any]:
    planting = {"id": "now", "bed": "a", "crop": row["crop"], "start": date(2027, 5, 10), "end": date(2028, 6, 30)}
    if row.get("parthenocarpic"):
        planting["variety"] = {"parthenocarpic": True}
    return {
        "plantings": [planting],
        "covers": [{"bed": "a", "kind": "fleece", "start": date(2027, 5, 10), "edges": "shut", **cover}],
    }


def heard(report: rules.Report, names: Iterable[str]) -> set[str]:
    return {finding.rule for finding in report.findings} & set(names)


@pytest.mark.parametrize("row", rows("pollination"))
def test_who_carries_the_pollen(row: dict[str, Any]) -> None:
    crop = knowledge().find_crop(row["crop"])
    assert crop is not None
    assert crop.traits.pollination == row["trait"]


@pytest.mark.parametrize("row", rows("pollination"))
def test_what_may_stay_covered_while_it_flowers(row: dict[str, Any]) -> None:
    expected = set() if row.get("parthenocarpic") else {BLOOM[row["trait"]]} if row["trait"] in BLOOM else set()
    assert heard(told(bloom_plan(row)), BLOOM.values()) == expected


@pytest.mark.parametrize("row", [row for row in rows("pollination") if row.values[0]["trait"] in BLOOM])
def test_opened_in_time_it_is_as_good_as_bare(row: dict[str, Any]) -> None:
    early = date(2027, 5, 20)
    assert heard(told(bloom_plan(row, open_by_day_from=early)), BLOOM.values()) == set()
    assert heard(told(bloom_plan(row, end=early)), BLOOM.values()) == set()


# -- when to act


def numbers(text: str) -> set[int]:
    found = {int(figure) for figure in re.findall(r"\d+", text)}
    return found | {value for words, value in IN_WORDS.items() if words in text}


@pytest.mark.parametrize("row", rows("thresholds"))
def test_published_numbers_at_which_to_act(row: dict[str, Any]) -> None:
    crop = knowledge().find_crop(row["crop"])
    assert crop is not None
    told_of = [
        t
        for t in knowledge().facts.thresholds.values()
        if row["pest"] in t.pests
        and t.on.match(crop) == "yes"
        and ("stage" not in row or row["stage"] in (t.stage or ""))
    ]
    wanted = [row, *row.get("also", ())]
    fitting = [t for t in told_of if set(t.views[0].sources) & set(row["src"])]
    if len(fitting) > 1:  # one pest, several stages of the crop
        fitting = [t for t in fitting if set(row["figures"]) <= numbers(t.views[0].at)]
    (threshold,) = fitting
    assert threshold.grower == row["grower"]
    assert len(threshold.views) == len(wanted), "both figures stand where sources differ"
    for view, published in zip(threshold.views, wanted, strict=True):
        assert set(published["src"]) - UNREAD <= set(view.sources)
        assert set(published["figures"]) <= numbers(view.at)
        if not published["figures"]:
            assert numbers(view.at) == set()
    if row["per"] == "plant" and row["figures"]:
        assert "a plant" in threshold.views[0].at


def test_conflicting_numbers_of_the_corn_flea_beetle_are_tenfold_apart() -> None:
    views = knowledge().facts.thresholds["corn-flea-beetle"].views
    assert [min(numbers(view.at)) for view in views] == [50, 5]


# -- wild animals


@pytest.mark.parametrize("row", rows("places"))
def test_five_millimetres_as_law_and_as_advice(row: dict[str, Any]) -> None:
    def wildlife(mesh: float) -> dict[str, str]:
        plan = {
            "garden": {"latitude": row["latitude"], "country": row["country"]},
            "plantings": [{"bed": "a", "crop": "cabbage", "start": date(2027, 9, 20), "end": date(2028, 2, 1)}],
            "covers": [{"bed": "a", "kind": "net", "mesh": mesh, "start": date(2027, 9, 20), "edges": "shut"}],
        }
        names = ("protect.net-unlawful-here", "protect.net-catches-animals")
        return {f.rule: f.severity for f in told(plan).findings if f.rule in names}

    assert wildlife(5) == {}
    assert wildlife(5.5) == (
        {"protect.net-unlawful-here": "breach"} if row["law"] else {"protect.net-catches-animals": "advice"}
    )


def test_the_law_is_told_only_where_a_source_says_that_it_is_law() -> None:
    rule = knowledge().rules["protect.net-unlawful-here"]
    assert set(rule.options["law"]) == {row["country"] for row in TABLE["places"] if row["law"]}
    assert set(rule.evidence.sources) == {key for row in TABLE["places"] if row["law"] for key in row["src"]}


# -- one cover over several crops


@pytest.mark.parametrize("row", rows("shared"))
def test_one_cover_keeps_a_pest_from_all_its_hosts_and_does_nothing_for_others(row: dict[str, Any]) -> None:
    crops = [*row["hosts"], *row["spared"]]
    context = context_of(
        {
            "plantings": [
                {"id": f"p{n}", "bed": "a", "crop": crop, "start": DAY, "end": date(2027, 9, 1)}
                for n, crop in enumerate(crops)
            ],
            "covers": [{"bed": "a", "kind": "net", "mesh": row["mesh"], "start": DAY, "edges": "shut"}],
        }
    )
    over = covers_of(context)
    kept = [
        crop
        for n, crop in enumerate(crops)
        for pest in feeders(context, context.plantings[f"p{n}"])
        if pest.id == row["pest"] and keeps_out(over[f"p{n}"][0], context.plantings[f"p{n}"], pest)
    ]
    assert kept == row["hosts"]


def test_hosts_of_one_pest_cross_families() -> None:
    families = {
        row["pest"]: {crop.family for word in row["hosts"] if (crop := knowledge().find_crop(word))}
        for row in TABLE["shared"]
    }
    assert sum(len(found) > 1 for found in families.values()) >= 5


# -- the ladder


@pytest.mark.parametrize("row", rows("controls"))
def test_the_rung_of_a_control_and_what_it_is_for(row: dict[str, Any]) -> None:
    control = knowledge().controls[row["control"]]
    assert control.step == row["step"]
    assert row.get("kind") in (None, control.kind)
    assert set(row.get("against", ())) <= control.against
    if row.get("against") == []:
        assert control.against == frozenset()
    assert set(row.get("weak_on", ())) <= control.weak_on
    assert control.weak_on.isdisjoint(control.against)
    assert set(row["src"]) & {key for keys in control.sources.values() for key in keys}


@pytest.mark.parametrize("row", rows("rungs"))
def test_the_order_of_the_rungs(row: dict[str, Any]) -> None:
    order = list(STEPS)
    assert order.index(row["before"]) < order.index(row["after"])


def test_sprays_baits_and_dusts_carry_the_label() -> None:
    bought = [c for c in knowledge().controls.values() if c.kind in ("spray", "bait", "dust", "repel")]
    assert len(bought) >= 8
    for control in bought:
        assert {"label_first", "harvest_wait"} <= set(control.cautions), control.id


def test_against_squirrels_a_barrier_and_neither_bait_nor_spray() -> None:
    """Sprays and bait do nothing against squirrels; a barrier does (common practice)."""
    found = knowledge().controls_of("tree_squirrels")
    assert {control.kind for control in found} == {"exclude"}


def test_moving_wild_animals_is_never_advised() -> None:
    """USDA_TRANSLOC, FWC_RELOC: seldom lawful, and they fare badly."""
    for pest in knowledge().pests.values():
        assert all(control.step != "not_recommended" for control in knowledge().controls_of(pest.id))
    assert "wild_animals" in knowledge().controls["relocation"].cautions


def test_bait_goes_on_moist_soil_and_is_renewed_after_rain() -> None:
    """Common practice."""
    bait = knowledge().controls["iron_phosphate_bait"]
    assert "moist soil" in bait.when
    assert "rain" in (bait.reapply or "")


def test_soapy_water_in_a_coloured_bowl_is_for_watching_and_ends_no_outbreak() -> None:
    """Common practice; the same is published of sticky cards (NACAA_STICKY, UCIPM_STICKY)."""
    for name in ("pan_traps", "yellow_sticky_traps"):
        assert knowledge().controls[name].step == "monitor"
        assert "soap" in knowledge().controls["pan_traps"].how


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


# -- the table itself


def every_row() -> list[dict[str, Any]]:
    return [row for table in TABLE.values() for row in table]


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


# -- the protection plan


def protection_of(crop: str, country: str, seen: str | None = None) -> Protection:
    plan = {
        "garden": {"latitude": NORTH, "country": country},
        "judge": {"season": "2027"},
        "plantings": [{"bed": "a", "crop": crop, "start": DAY, "end": date(2027, 9, 30)}],
        "sightings": [{"bed": "a", "date": date(2026, 8, 1), "of": seen}] if seen else [],
    }
    context = context_of(plan)
    return protect(context.plan, context.plan.judge, knowledge())


SEEN = [(crop, pest) for row in TABLE["shared"] for crop in row["hosts"][:2] for pest in [row["pest"]]]
ANIMALS = [
    ("sweet_corn", "tree_squirrels"),
    ("carrot", "rabbits"),
    ("carrot", "groundhogs"),
    ("pea", "birds"),
    ("tomato", "tomato_hornworm"),
    ("cabbage", "imported_cabbageworm"),
]


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
