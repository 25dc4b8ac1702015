"""Hosts close to where a pest was the season before."""

from datetime import date

import pytest
from host_rows import AUTUMN, CLOSE, KNOWLEDGE, ROW, SEEN_HERE, SEEN_NEAR, SPRING, found, place, report_of, stands
from tiny_plans import grew, plan_of

from rules import check
from rules.report import Action

WEEVIL = [{"bed": "a", "date": "2026-07-01", "of": "carrot weevil"}]


@pytest.mark.parametrize(
    ("last", "planned", "told"),
    [
        (grew("a", "parsley", "2026"), stands("b", "carrot"), True),
        (grew("a", "parsley", "2026-04-01", "2026-06-01"), grew("b", "carrot", "2027"), True),
        (grew("a", "parsley", "2026-09-01", "2027-04-30"), stands("b", "carrot"), True),  # stood over winter
        (grew("a", "parsley", "2025"), stands("b", "carrot"), False),
        (grew("a", "leek", "2026"), stands("b", "carrot"), False),
        (grew("a", "parsley", "2026"), stands("b", "leek"), False),
        (grew("a", "parsley", "2026"), stands("c", "carrot"), False),  # 5 m are more than 4
        (grew("a", "parsley", "2027-03-01", "2027-04-01"), stands("b", "carrot"), False),  # the same season
        # set in autumn to stand over winter: what counts is the season in which it was set
        (grew("a", "carrot", "2026"), stands("b", "parsley", "2026-09-20", "2027-06-30"), True),
    ],
)
def test_hosts_close_to_last_seasons_bed(last, planned, told):
    beds = [place("a", 0), place("b", 0, 4), place("c", 0, 10)]
    if planned["bed"] == "c":
        beds[2] = place("c", 0, 6.1)
    assert (len(found(CLOSE, last, planned, beds=beds)) == 1) is told


def test_only_pests_that_a_garden_is_wide_enough_for_are_told():
    rows = [grew("a", "cabbage", "2026"), stands("b", "kale"), grew("c", "potato", "2026"), stands("d", "tomato")]
    assert found(CLOSE, *rows, beds=ROW) == []
    assert {pest.id for pest in KNOWLEDGE.pests.values() if 0 < KNOWLEDGE.reach[pest.mobility].metres <= 30} >= {
        "carrot_weevil"
    }


def test_it_is_not_told_where_the_pest_does_not_live_or_the_rotation_speaks():
    rows = [grew("a", "parsley", "2026"), stands("b", "carrot")]
    beds = [place("a", 0), place("b", 0, 4)]
    assert len(found(CLOSE, *rows, beds=beds, garden={"latitude": 43.0, "country": "US"})) == 1
    assert found(CLOSE, *rows, beds=beds, garden={"latitude": 51.5, "country": "GB"}) == []
    report = report_of(*rows, grew("b", "celery", "2026"), beds=beds)
    assert [f.rule for f in report.findings if f.rule.startswith(("hosts", "rotation"))] == ["rotation.family-too-soon"]


def test_beds_and_plantings_that_hang_together_are_one_finding():
    beds = [place("a", 0), place("b", 4), place("c", 8), place("d", 12)]
    rows = [grew("a", "parsley", "2026"), grew("c", "carrot", "2026"), stands("b", "carrot"), stands("d", "celery")]
    (finding,) = found(CLOSE, *rows, beds=beds)
    assert (finding.plantings, finding.beds) == (("b-carrot", "d-celery"), ("b", "d", "a", "c"))
    assert (finding.because["from"], finding.because["metres"]) == (("a", "c"), 1.0)
    assert "no sighting is on record" in finding.why.lower()


def test_a_cover_from_the_first_day_keeps_it_silent_and_a_late_one_does_not():
    beds, rows = [place("a", 0), place("b", 0, 4)], [grew("a", "parsley", "2026"), stands("b", "carrot")]
    net = {"bed": "b", "kind": "net", "mesh": 0.8, "start": SPRING, "end": AUTUMN, "edges": "shut"}
    assert found(CLOSE, *rows, beds=beds, covers=[net]) == []
    assert len(found(CLOSE, *rows, beds=beds, covers=[net | {"start": "2027-05-20"}])) == 1
    assert found(SEEN_NEAR, *rows, beds=beds, covers=[net], sightings=WEEVIL) == []


def test_a_sighting_makes_it_a_caution_and_is_named():
    beds, rows = [place("a", 0), place("b", 0, 4)], [grew("a", "parsley", "2026"), stands("b", "carrot")]
    report = report_of(*rows, beds=beds, sightings=WEEVIL)
    (finding,) = [f for f in report.findings if f.rule.startswith("hosts.")]
    assert (finding.rule, finding.severity, finding.because["seen"]) == (SEEN_NEAR, "caution", date(2026, 7, 1))
    assert "July 2026" in finding.title
    assert finding.fix.actions == ()
    assert found(SEEN_NEAR, *rows, beds=["a", "b"], sightings=WEEVIL) == []  # no caution on a guess


@pytest.mark.parametrize(
    ("sightings", "planned", "told"),
    [
        ([("a", "2026-06-01", "cabbage root fly")], stands("a", "cabbage"), True),
        ([("a", "2026-06-01", "cabbage root fly")], grew("a", "cabbage", "2027"), True),
        ([("a", "2026-06-01", "cabbage root fly")], stands("a", "cabbage", "2026-09-10", "2027-05-30"), True),
        ([("a", "2025-06-01", "cabbage root fly")], stands("a", "cabbage"), False),
        ([("a", "2026-06-01", "cabbage root fly")], stands("a", "leek"), False),
        ([("b", "2026-06-01", "cabbage root fly")], stands("a", "cabbage"), False),  # it flies: no bed is far enough
        ([("a", "2026-06-01", "wireworms")], stands("a", "potato"), True),
        ([("a", "2026-06-01", "cutworms")], stands("a", "cabbage"), False),  # moving the crop does not help
        ([("a", "2026-06-01", "slugs")], stands("a", "head_lettuce"), False),
        ([("a", "2026-06-01", "aphids")], stands("a", "kale"), False),  # no species
        ([("a", "2026-06-01", "imported cabbageworm")], stands("a", "cabbage"), False),  # comes from everywhere
        ([("a", "2027-02-01", "wireworms")], stands("a", "potato"), False),  # this season's own
    ],
)
def test_hosts_in_ground_where_the_pest_was_seen_the_season_before(sightings, planned, told):
    seen = [dict(zip(("bed", "date", "of"), one, strict=True)) for one in sightings]
    assert (len(found(SEEN_HERE, planned, sightings=seen, beds=["a", "b"])) == 1) is told


def test_a_loss_to_a_pest_is_a_sighting():
    lost = grew("a", "leek", "2026-04-01", "2026-05-01", status="lost", cause="onion maggot")
    (finding,) = found(SEEN_HERE, lost, stands("a", "onion_bulb"))
    assert (finding.because["seen"], finding.severity) == (date(2026, 5, 1), "caution")


def test_new_soil_ends_it_and_a_bed_that_replaces_another_takes_it_over():
    seen = [{"bed": "a", "date": "2026-06-01", "of": "wireworms"}]
    assert found(SEEN_HERE, stands("a", "potato"), sightings=seen, amendments=[
        {"bed": "a", "date": "2027-01-01", "kind": "new_soil"}
    ]) == []  # fmt: skip
    heir = [{"id": "a"}, {"id": "b", "replaces": [{"bed": "a", "until": "2026-12-31"}]}]
    assert len(found(SEEN_HERE, stands("b", "potato"), sightings=seen, beds=heir)) == 1


def test_a_rotation_breach_says_it_already():
    seen = [{"bed": "a", "date": "2026-06-01", "of": "cabbage root fly"}]
    report = report_of(grew("a", "kale", "2026"), stands("a", "cabbage"), sightings=seen)
    assert [f.rule for f in report.findings] == ["rotation.family-too-soon"]


def test_pests_seen_together_share_one_finding():
    seen = [{"bed": "a", "date": f"2026-0{n}-01", "of": of} for n, of in ((6, "beet leafminer"), (7, "wireworms"))]
    (finding,) = found(SEEN_HERE, stands("a", "beet"), sightings=seen)
    assert finding.because["pests"] == ("beet_leafminer", "wireworms")


def test_the_fix_is_another_bed_that_the_pest_does_not_reach():
    seen = [{"bed": "a", "date": "2026-07-01", "of": "carrot weevil"}]
    beds = [place("a", 0), place("b", 0, 4), place("c", 0, 40)]
    rows = [stands("a", "parsley"), grew("b", "leek", "2026"), grew("c", "leek", "2026")]
    plan = plan_of(*rows, judge="2027", beds=beds, sightings=seen)
    (finding,) = [f for f in check(plan).findings if f.rule == SEEN_HERE]
    assert finding.fix.actions == (Action("move", "a-parsley", bed="c"),)
    near = plan_of(*rows[:2], judge="2027", beds=beds[:2], sightings=seen)
    (finding,) = [f for f in check(near).findings if f.rule == SEEN_HERE]
    assert finding.fix.actions == ()  # b is too near, and nothing else is left


def test_a_move_for_the_rotation_is_not_made_to_where_a_walking_pest_was_seen_close_by():
    seen = [{"bed": "b", "date": "2026-07-01", "of": "carrot weevil"}]
    beds = [place("a", 60), place("b", 0), place("c", 0, 4), place("d", 0, 40)]
    full = [stands("b", crop) for crop in ("pea", "leek")]
    rows = [grew("a", "celery", "2026"), stands("a", "parsley"), *(grew(b, "kale", "2026") for b in "bcd"), *full]
    plan = plan_of(*rows, judge="2027", beds=beds, sightings=seen)
    (finding,) = [f for f in check(plan).findings if f.rule == "rotation.family-too-soon"]
    assert finding.fix.actions == (Action("move", "a-parsley", bed="d"),)
    calm = plan_of(*rows, judge="2027", beds=beds)
    (finding,) = [f for f in check(calm).findings if f.rule == "rotation.family-too-soon"]
    assert finding.fix.actions == (Action("move", "a-parsley", bed="c"),)
