"""Pests that travel over living hosts: what is told, that its fix is true, and what a cover does."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import grew, plan_of

import rules
from rules.checks.context import Context
from rules.checks.green_bridge import bridges
from rules.planning.fixes import apply

KNOWLEDGE = rules.load_knowledge()
SEEN, UNSEEN = "bridge.pest-route-open", "bridge.hosts-stand-over"


def place(bed: str, x: float) -> dict[str, Any]:
    return {"id": bed, "length": 300.0, "width": 120.0, "position": (x, 0.0)}


BEDS = [place("a", 0.0), place("b", 3.6), place("c", 7.2), place("d", 10.8)]
KALE = grew("a", "kale", "2026-06-01", "2027-04-20", id="kale", status="growing")
CABBAGE = grew("b", "cabbage", "2027-04-10", "2027-09-30", id="cabbage")
BROCCOLI = grew("c", "broccoli", "2027-06-10", "2027-10-30", id="broccoli")


def seen(of: str, bed: str = "a", day: str = "2026-10-01") -> dict[str, Any]:
    return {"bed": bed, "date": day, "of": of}


def found(plan: rules.Plan, rule: str) -> list[rules.Finding]:
    return [finding for finding in rules.check(plan, KNOWLEDGE).findings if finding.rule == rule]


def test_the_route_is_told_in_words_and_dates_with_the_smallest_change() -> None:
    plan = plan_of(KALE, CABBAGE, BROCCOLI, judge="2027", beds=BEDS, sightings=[seen("cabbage_whitefly")])
    told = found(plan, SEEN)[0]
    assert told.because["route"] == ("kale", "cabbage", "broccoli")
    assert told.because["change"] == ("cabbage",)
    assert told.because["reached"] == ("cabbage", "broccoli")
    assert "kale in bed a to 20 April 2027, then cabbages in bed b from 10 April 2027" in told.why
    assert told.severity == "caution"


def test_pests_with_one_cut_share_a_finding() -> None:
    sightings = [seen("cabbage_whitefly"), seen("cabbage_aphid")]
    told = found(plan_of(KALE, CABBAGE, judge="2027", beds=BEDS, sightings=sightings), SEEN)
    assert [finding.because["pests"] for finding in told] == [("cabbage_aphid", "cabbage_whitefly")]


def test_without_a_sighting_hosts_that_stand_over_are_advice() -> None:
    plan = plan_of(KALE, CABBAGE, judge="2027", beds=BEDS)
    assert found(plan, SEEN) == []
    told = found(plan, UNSEEN)
    assert [finding.severity for finding in told] == ["advice"]
    assert "No sighting is on record" in told[0].why


@pytest.mark.parametrize(
    ("pest", "crop", "later"),
    [
        ("cabbage_looper", "kale", "cabbage"),  # a migrant
        ("slugs", "kale", "cabbage"),  # at home in any soil
        ("green_peach_aphid", "kale", "cabbage"),  # feeds on nearly everything
        ("rabbits", "kale", "cabbage"),
        ("imported_cabbageworm", "kale", "cabbage"),  # flies freely from garden to garden
    ],
)
def test_what_no_change_would_stop_makes_no_route(pest: str, crop: str, later: str) -> None:
    rows = (grew("a", crop, "2026-06-01", "2027-04-20"), grew("b", later, "2027-04-10", "2027-09-30"))
    assert found(plan_of(*rows, judge="2027", beds=BEDS, sightings=[seen(pest)]), SEEN) == []


def test_a_loss_to_the_pest_is_a_sighting() -> None:
    lost = grew("a", "kale", "2026-06-01", "2026-12-20", id="kale", status="lost", cause="cabbage_whitefly")
    early = grew("b", "cabbage", "2026-12-10", "2027-06-30", id="cabbage")
    assert found(plan_of(lost, early, judge="2027", beds=BEDS), SEEN)[0].because["reached"] == ("cabbage",)


def test_a_pest_on_foot_reaches_the_next_bed_and_not_a_far_one() -> None:
    carrots = grew("a", "carrot", "2026-05-01", "2027-04-01", id="old", status="growing")
    near = grew("b", "parsley", "2027-03-20", "2027-09-30", id="near")
    far = grew("d", "parsley", "2027-03-20", "2027-09-30", id="far")
    told = found(plan_of(carrots, near, far, judge="2027", beds=BEDS, sightings=[seen("carrot_weevil")]), SEEN)
    assert told[0].because["reached"] == ("near",)


def test_a_fine_net_from_the_first_day_is_no_link() -> None:
    net = {"bed": "b", "kind": "net", "mesh": 0.3, "start": "2027-04-10", "edges": "shut", "plantings": ["cabbage"]}
    rows, sightings = (KALE, CABBAGE, BROCCOLI), [seen("cabbage_aphid")]
    assert found(plan_of(*rows, judge="2027", beds=BEDS, sightings=sightings, covers=[net]), SEEN) == []
    late = net | {"start": "2027-04-20"}
    assert found(plan_of(*rows, judge="2027", beds=BEDS, sightings=sightings, covers=[late]), SEEN)


CROPS = ("kale", "cabbage", "broccoli", "radish", "carrot", "parsley", "leek", "potato", "eggplant")
PESTS = ("cabbage_aphid", "cabbage_whitefly", "cabbage_root_maggot", "carrot_weevil", "carrot_rust_fly",
         "colorado_potato_beetle", "leek_moth", "diamondback_moth")  # fmt: skip


@st.composite
def drawn_plans(draw: st.DrawFn) -> rules.Plan:
    rows = []
    for n in range(draw(st.integers(2, 6))):
        start = date(2026, 4, 1) + timedelta(days=draw(st.integers(0, 500)))
        end = start + timedelta(days=draw(st.integers(20, 250)))
        rows.append(
            grew(draw(st.sampled_from("abcd")), draw(st.sampled_from(CROPS)), start.isoformat(), end.isoformat(),
                 id=f"p{n}", status="planned" if start >= date(2026, 11, 20) else "growing")
        )  # fmt: skip
    spots = st.tuples(st.sampled_from(rows), st.sampled_from(PESTS))
    sightings = [
        {"bed": row["bed"], "date": max(row["start"], "2026-02-01"), "of": pest}
        for row, pest in draw(st.lists(spots, min_size=1, max_size=3))
    ]
    return plan_of(*rows, judge="2027", beds=BEDS, sightings=sightings)


def open_routes(plan: rules.Plan) -> set[tuple[str, str]]:
    """Each pest with each planting that it reaches over living hosts."""
    return {(pest.id, name) for pest, cut in bridges(Context(plan, KNOWLEDGE), seen=True) for name in cut.reached}


@given(drawn_plans())
@settings(max_examples=120, deadline=None)
def test_applying_a_fix_leaves_no_route_and_adds_no_fault(plan: rules.Plan) -> None:
    before = rules.check(plan, KNOWLEDGE)
    grave = {(f.rule, p) for f in before.findings if f.severity in ("breach", "caution") for p in f.plantings}
    for finding in (f for f in before.findings if f.rule == SEEN and f.fix.actions):
        mended = apply(plan, finding.fix.actions)
        pests = set(finding.because["pests"])  # type: ignore[arg-type]
        assert not {route for route in open_routes(mended) if route[0] in pests}
        after = rules.check(mended, KNOWLEDGE)
        assert {
            (f.rule, p) for f in after.findings if f.severity in ("breach", "caution") for p in f.plantings
        } <= grave


@given(drawn_plans(), st.data())
@settings(max_examples=80, deadline=None)
def test_taking_a_planting_out_never_opens_a_route(plan: rules.Plan, data: st.DataObject) -> None:
    from dataclasses import replace

    gone = data.draw(st.sampled_from([p.id for p in plan.plantings]))
    smaller = replace(plan, plantings=tuple(p for p in plan.plantings if p.id != gone))
    assert open_routes(smaller) <= open_routes(plan)


@given(drawn_plans(), st.data())
@settings(max_examples=80, deadline=None)
def test_a_fine_cover_from_the_first_day_never_opens_a_route(plan: rules.Plan, data: st.DataObject) -> None:
    from dataclasses import replace

    from rules.model import Cover

    p = data.draw(st.sampled_from(plan.plantings))
    covered = replace(plan, covers=(*plan.covers, Cover(p.bed, "net", p.start, p.end, 0.2, (p.id,), "shut")))
    assert open_routes(covered) <= open_routes(plan)


def test_what_a_route_tells_is_not_told_again_as_a_host_nearby() -> None:
    carrots = grew("a", "carrot", "2026-05-01", "2027-04-01", id="old", status="growing")
    parsley = grew("b", "parsley", "2027-03-20", "2027-09-30", id="near")
    told = rules.check(plan_of(carrots, parsley, judge="2027", beds=BEDS, sightings=[seen("carrot_weevil")]), KNOWLEDGE)
    assert [f.rule for f in told.findings if f.severity == "caution"] == [SEEN]
    later = parsley | {"start": date(2027, 5, 20)}
    apart = rules.check(plan_of(carrots, later, judge="2027", beds=BEDS, sightings=[seen("carrot_weevil")]), KNOWLEDGE)
    assert [f.rule for f in apart.findings if f.severity == "caution"] == ["hosts.pest-seen-nearby"]


def test_a_change_that_serves_several_pests_is_preferred_and_said() -> None:
    # The whitefly can be cut at cabbage or at broccoli alone; the leek moth has a route of its own; flea beetles none.
    leeks = grew("a", "leek", "2026-06-01", "2027-04-20", id="leek", status="growing")
    onions = grew("d", "leek", "2027-04-10", "2027-10-30", id="late-leek")
    sightings = [seen("cabbage_whitefly"), seen("leek_moth")]
    plan = plan_of(KALE, CABBAGE, BROCCOLI, leeks, onions, judge="2027", beds=BEDS, sightings=sightings)
    told = {finding.because["change"]: finding for finding in found(plan, SEEN)}
    assert set(told) == {("cabbage",), ("late-leek",)}
    assert "as well" not in told["cabbage",].why


def test_a_smaller_change_that_another_finding_holds_too_is_said() -> None:
    # Aphids sit on the kale; the moth also came in on swede that only feeds it, so its own set is the larger.
    moth = grew("c", "radish", "2027-03-15", "2027-05-20", id="radish")
    sightings = [seen("cabbage_whitefly"), seen("diamondback_moth")]
    plan = plan_of(KALE, CABBAGE, moth, judge="2027", beds=BEDS, sightings=sightings)
    told = {finding.because["pests"]: finding for finding in found(plan, SEEN)}
    assert told["cabbage_whitefly",].because["change"] == ("cabbage",)
    assert set(told["diamondback_moth",].because["change"]) == {"cabbage", "radish"}
    assert "The same change cuts the way of cabbage whitefly as well." in told["diamondback_moth",].why
    assert "as well" not in told["cabbage_whitefly",].why


def test_a_net_is_fine_enough_for_all_pests_whose_way_it_is_said_to_cut() -> None:
    horseradish = grew("a", "horseradish", "2026-05-27", "2027-01-22", id="old", status="growing")
    mustard = grew("b", "mustard_greens", "2026-12-01", "2027-02-21", id="near")
    later = grew("a", "mustard_greens", "2027-04-30", "2027-10-27", id="late")
    sightings = [seen("harlequin_bug", day="2026-07-01"), seen("horseradish_flea_beetle", day="2026-06-16")]
    plan = plan_of(horseradish, mustard, later, judge="2027", beds=BEDS, sightings=sightings)
    told = found(plan, SEEN)
    assert any("also" in finding.because for finding in told)
    for finding in told:
        also = finding.because.get("also", ())
        assert isinstance(also, tuple)
        after = Context(apply(plan, finding.fix.actions), KNOWLEDGE) if finding.fix.actions else None
        assert after is not None
        assert not {pest.id for pest, _ in bridges(after, seen=True)} & {*also, *finding.because["pests"]}  # type: ignore[misc]


def test_how_sure_a_route_is_follows_from_its_steps() -> None:
    overlap = found(plan_of(KALE, CABBAGE, judge="2027", beds=BEDS, sightings=[seen("cabbage_whitefly")]), SEEN)[0]
    assert overlap.because["sure"] == "living"
    assert "over living plants all along" in overlap.why
    gap = CABBAGE | {"start": date(2027, 4, 28)}
    waits = found(plan_of(KALE, gap, judge="2027", beds=BEDS, sightings=[seen("cabbage_whitefly")]), SEEN)[0]
    assert waits.because["sure"] == "partly"
    assert "less sure" in waits.why
