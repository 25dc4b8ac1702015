"""Fixes: what is offered, in which order, in which words, and what is never offered."""

from datetime import date

import pytest
from tiny_plans import grave, grew, plan_of

from rules import check
from rules.planning.fixes import apply
from rules.report import Action

SOON = "rotation.family-too-soon"
KALE, CABBAGE = grew("a", "kale", "2026", id="old"), grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new")


def years(bed, crop, *which):
    return [grew(bed, crop, str(year), id=f"{bed}{year}") for year in which]


def fix_of(*rows, rule=SOON, **parts):
    """The fix of the one finding of a rule in 2027, after it was carried out and checked again."""
    plan = plan_of(*rows, judge="2027", **parts)
    report = check(plan)
    (finding,) = [f for f in report.findings if f.rule == rule]
    if finding.fix.actions:
        before, after = grave(report), grave(check(apply(plan, finding.fix.actions), history=True))
        assert not after & {(rule, p) for p in finding.plantings}
        assert after <= before | grave(check(plan, history=True))
    return finding.fix


def test_another_bed_comes_first():
    fix = fix_of(KALE, CABBAGE, *years("b", "pea", 2024, 2025, 2026))
    assert fix.actions == (Action("move", "new", bed="b"),)
    assert (
        fix.text
        == "Put them in bed b, which has no cabbage family crop on record since 2024. Or wait until January 2029."
    )


def test_words_claim_only_what_is_on_record():
    assert "nothing on record" in fix_of(KALE, CABBAGE, beds=["a", "b"]).text
    assert (
        "where the last cabbage family crop on record ended in October 2020"
        in fix_of(KALE, CABBAGE, *years("b", "kale", 2020)).text
    )
    assert "on record since 2025" in fix_of(KALE, CABBAGE, *years("b", "pea", 2025)).text


def test_the_bed_that_rested_longest_is_chosen():
    rows = [KALE, CABBAGE, *years("b", "kale", 2022), *years("c", "kale", 2020), *years("d", "kale", 2021)]
    assert fix_of(*rows).actions == (Action("move", "new", bed="c"),)


def test_a_bed_with_a_record_goes_before_one_without():
    assert fix_of(KALE, CABBAGE, *years("c", "kale", 2020), beds=["a", "b", "c"]).actions == (
        Action("move", "new", bed="c"),
    )


def test_the_nearest_of_equal_beds_is_chosen():
    beds = [
        {"id": "a", "position": (0.0, 0.0)},
        {"id": "b", "position": (9.0, 0.0)},
        {"id": "c", "position": (2.0, 0.0)},
    ]
    assert fix_of(KALE, CABBAGE, *years("b", "pea", 2026), *years("c", "pea", 2026), beds=beds).actions[0].bed == "c"


def test_a_bed_where_the_move_would_be_wrong_is_not_offered():
    rows = [KALE, CABBAGE, *years("b", "radish", 2025), *years("c", "pea", 2025)]
    assert fix_of(*rows).actions == (Action("move", "new", bed="c"),)


def test_a_bed_where_the_disease_was_seen_is_not_offered():
    rows = [KALE, CABBAGE, *years("b", "pea", 2026), *years("c", "turnip", 2022)]
    seen = [{"bed": "b", "date": "2025-07-01", "of": "clubroot"}]
    assert fix_of(*rows, sightings=seen).actions == (Action("move", "new", bed="c"),)


def test_several_plantings_of_one_stay_move_together():
    second = grew("a", "radish", "2027-05-01", "2027-06-15", id="too")
    fix = fix_of(KALE, CABBAGE, second, *years("b", "pea", 2026))
    assert set(fix.actions) == {Action("move", "new", bed="b"), Action("move", "too", bed="b")}


def test_a_swap_where_the_other_bed_is_taken():
    fix = fix_of(KALE, CABBAGE, *years("b", "carrot", 2023), grew("b", "tomato", "2027-05-20", "2027-09-30", id="tom"))
    assert fix.actions == (Action("swap", "new", with_planting="tom"),)
    assert fix.text.startswith("Swap them with the tomatoes in bed b, ")
    assert "Or wait until" in fix.text


def test_no_swap_that_would_be_wrong_for_the_other_crop():
    rows = [
        *years("a", "kale", 2026),
        *years("a", "potato", 2025),
        CABBAGE,
        grew("b", "tomato", "2027-05-20", "2027-09-30", id="tom"),
    ]
    assert [action.op for action in fix_of(*rows).actions] == ["shift"]


def test_no_swap_with_what_already_grows():
    rows = [KALE, CABBAGE, grew("b", "rosemary", "2024-04-01", id="rose")]
    assert [action.op for action in fix_of(*rows).actions] == ["shift"]


def test_waiting_where_no_bed_is_open():
    fix = fix_of(KALE, CABBAGE)
    (action,) = fix.actions
    assert (action.op, action.planting, action.start) == ("shift", "new", date(2030, 4, 20))
    assert fix.text == (
        "No free bed and no fair swap was found: wait until April 2030. From April 2029 only the least break is kept."
    )


def test_waiting_keeps_how_long_it_stands():
    plan = plan_of(KALE, CABBAGE, judge="2027")
    moved = next(p for p in apply(plan, (Action("shift", "new", start=date(2029, 4, 20)),)).plantings if p.id == "new")
    assert (moved.start, moved.end) == (date(2029, 4, 20), date(2029, 9, 30))


def test_no_waiting_for_a_bed_that_will_be_gone():
    assert fix_of(KALE, CABBAGE, beds=[{"id": "a", "until": "2030-09-29"}]).actions == (Action("drop", "new"),)
    assert fix_of(KALE, CABBAGE, beds=[{"id": "a", "until": "2030-12-31"}]).actions[0].op == "shift"


def test_leaving_it_out_where_even_waiting_does_not_help():
    rows = [grew("a", "onion", "2015"), grew("a", "garlic", "2027-03-01", "2027-07-20", id="new")]
    seen = [{"bed": "a", "date": "2015-07-01", "of": "white rot"}]
    fix = fix_of(*rows, rule="disease.ground-closed", sightings=seen)
    assert fix.actions == (Action("drop", "new"),)
    assert fix.text == "Leave garlic out of bed a this time; no free bed and no fair swap was found."


@pytest.mark.parametrize("status", ["growing", "done"])
def test_what_is_in_the_ground_gets_words_and_no_actions(status):
    rows = [grew("a", "kale", "2025"), {**grew("a", "cabbage", "2026-10-01", "2027-05-01", id="new"), "status": status}]
    fix = fix_of(*rows, *years("b", "pea", 2026))
    assert fix.actions == ()
    assert fix.text


def test_a_stay_of_which_part_already_grows_gets_no_actions():
    rows = [
        grew("a", "kale", "2025"),
        grew("a", "cabbage", "2026-10-01", "2027-05-01", id="in"),
        grew("a", "radish", "2027-03-01", "2027-04-15", id="out"),
    ]
    assert fix_of(*rows, *years("b", "pea", 2026)).actions == ()


def test_a_caution_is_worth_another_bed_and_no_waiting():
    rows = [grew("a", "kale", "2024"), CABBAGE]
    assert fix_of(*rows, rule="rotation.break-cut-short").actions == ()
    moved = fix_of(*rows, *years("b", "pea", 2026), rule="rotation.break-cut-short")
    assert moved.actions == (Action("move", "new", bed="b"),)


def test_advice_gets_no_actions():
    plan = plan_of(
        grew("a", "chives", "2024-04-01"), grew("a", "onion", "2027-03-20"), *years("b", "pea", 2026), judge="2027"
    )
    (finding,) = check(plan).findings
    assert (finding.severity, finding.fix.actions) == ("advice", ())
    assert finding.fix.text


@pytest.mark.parametrize(
    ("here", "there", "offered"),
    [
        ("ground", "raised", True),
        ("raised", "ground", True),
        ("ground", "container", False),
        ("container", "ground", False),
        ("ground", "greenhouse", False),
        ("greenhouse", "raised", False),
        ("container", "greenhouse", False),
        ("container", "container", True),
        ("greenhouse", "greenhouse", True),
    ],
)
def test_containers_and_greenhouses_are_kept_apart(here, there, offered):
    fix = fix_of(KALE, CABBAGE, *years("b", "pea", 2026), beds=[{"id": "a", "kind": here}, {"id": "b", "kind": there}])
    assert (fix.actions[0].op == "move") is offered


@pytest.mark.parametrize(
    ("length", "part", "offered"),
    [
        (240.0, [0, 1], True),
        (239.0, [0, 1], False),
        (120.0, [0, 0.5], True),
        (119.0, [0, 0.5], False),
        (None, [0, 1], True),
    ],
)
def test_a_bed_must_have_room(length, part, offered):
    beds = [{"id": "a", "length": 300.0, "width": 100.0}, {"id": "b", "length": length, "width": 100.0}]
    fix = fix_of(grew("a", "kale", "2026"), {**CABBAGE, "part": part}, *years("b", "pea", 2026), beds=beds)
    assert (fix.actions[0].op == "move") is offered


def test_a_swap_needs_room_on_both_sides():
    rows = [KALE, CABBAGE, *years("b", "carrot", 2023), grew("b", "tomato", "2027-05-20", "2027-09-30", id="tom")]
    beds = [{"id": "a", "length": 100.0, "width": 100.0}, {"id": "b", "length": 300.0, "width": 100.0}]
    assert fix_of(*rows, beds=beds).actions[0].op == "shift"
    assert fix_of(*rows, beds=[{**bed, "length": 300.0} for bed in beds]).actions[0].op == "swap"


def test_a_swap_needs_both_beds_to_be_there():
    rows = [KALE, CABBAGE, *years("b", "carrot", 2023), grew("b", "tomato", "2027-05-20", "2027-11-30", id="tom")]
    assert fix_of(*rows, beds=[{"id": "a", "until": "2027-10-31"}, "b"]).actions[0].op != "swap"


def test_a_bed_that_is_not_there_yet_or_any_more_is_not_offered():
    rows = [KALE, CABBAGE, *years("b", "pea", 2026)]
    assert fix_of(*rows, beds=["a", {"id": "b", "until": "2026-12-31"}]).actions[0].op == "shift"
    assert fix_of(*rows, beds=["a", {"id": "b", "from": "2027-06-01"}]).actions[0].op == "shift"
    assert fix_of(*rows, beds=["a", {"id": "b", "from": "2026-01-01", "until": "2028-12-31"}]).actions[0].op == "move"


def test_a_bed_whose_ground_another_bed_took_over_is_not_offered():
    rows = [KALE, CABBAGE, grew("old", "pea", "2026")]
    beds = ["a", "old", {"id": "heir", "kind": "greenhouse", "replaces": [{"bed": "old", "until": "2026-12-31"}]}]
    assert fix_of(*rows, beds=beds).actions[0].op == "shift"


def test_applying_leaves_the_plan_as_it_was():
    plan = plan_of(KALE, CABBAGE, *years("b", "pea", 2026))
    before = plan.plantings
    after = apply(plan, (Action("drop", "old"), Action("move", "new", bed="b")))
    assert plan.plantings == before
    assert {p.id: p.bed for p in after.plantings} == {"new": "b", "b2026": "b"}


def test_a_swap_exchanges_beds_and_parts():
    plan = plan_of({**CABBAGE, "part": [0, 0.5]}, grew("b", "pea", "2027", id="pea", part=[0.2, 0.8]))
    after = {p.id: p for p in apply(plan, (Action("swap", "new", with_planting="pea"),)).plantings}
    assert (after["new"].bed, after["new"].part) == ("b", (0.2, 0.8))
    assert (after["pea"].bed, after["pea"].part) == ("a", (0.0, 0.5))


def test_a_shift_does_not_pass_the_last_day_there_is():
    plan = plan_of(grew("a", "cabbage", "2197-04-20", "2199-06-01", id="late"))
    (moved,) = apply(plan, (Action("shift", "late", start=date(2199, 4, 20)),)).plantings
    assert (moved.start, moved.end) == (date(2199, 4, 20), date(2199, 12, 31))


def test_no_waiting_is_named_where_a_standing_host_has_no_end():
    rows = [
        grew("a", "strawberry", "2023-04-01"),
        grew("a", "tomato", "2027-05-20", "2027-09-30", id="new"),
        grew("b", "carrot", "2026"),
    ]
    seen = [{"bed": "a", "date": "2024-07-01", "of": "verticillium_wilt"}]
    fix = fix_of(*rows, rule="disease.host-too-soon", sightings=seen)
    assert [action.op for action in fix.actions] == ["move"]
    assert "wait" not in fix.text
