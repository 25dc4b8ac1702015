"""What follows what, at its edges: parts, pots, winters, group words, either hemisphere, one line for one thing."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from tiny_plans import grew, plan_of

from rules import check, load_knowledge
from rules.checks.follow import MOST_ADVICE
from rules.knowledge.lint import lint
from rules.planning.fixes import MOST_PUT_OFF, apply

PEAS_FIRST = "sequence.brassicas-after-legumes"
COVER, HUNGRY, ROOTS = "sequence.cover-between-crops", "sequence.heavy-after-heavy", "sequence.root-after-root"
TURNS, WEAKER = "sequence.deep-and-shallow-by-turns", "sequence.after-carrot-or-beetroot"
RYE, GRASS = "sequence.small-seeds-soon-after-rye", "sequence.roots-soon-after-grass"
TOO_NEAR, OPEN = "sequence.manure-too-near-harvest", "sequence.manure-harvest-open"
ANYWAY = "rotation.pest-comes-anyway"


def order(report):
    """The findings about order: (rule, plantings)."""
    return [(f.rule, f.plantings) for f in report.findings if f.rule.startswith("sequence.")]


def rules_in(report):
    return [rule for rule, _ in order(report)]


def finding(report, rule):
    (found,) = [f for f in report.findings if f.rule == rule]
    return found


# -- which crop came directly before


def test_only_what_stood_in_the_same_part_counts():
    rows = [
        grew("a", "pea", "2026-04-01", "2026-07-20", part=[0, 0.5]),
        grew("a", "leek", "2026-04-01", "2026-11-20", part=[0.5, 1]),
        grew("a", "cabbage", "2027-04-20", "2027-09-30", part=[0, 0.4], id="after-peas"),
        grew("a", "kale", "2027-04-20", "2027-09-30", part=[0.6, 1], id="after-leeks"),
    ]
    assert order(check(plan_of(*rows))) == [(PEAS_FIRST, ("after-peas",))]


def test_a_crop_over_two_parts_follows_both():
    rows = [
        grew("a", "pea", "2026-04-01", "2026-07-20", part=[0, 0.5]),
        grew("a", "leek", "2026-04-01", "2026-11-20", part=[0.5, 1]),
        grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new"),
    ]
    assert order(check(plan_of(*rows))) == [(PEAS_FIRST, ("new",))]


@pytest.mark.parametrize("between", ["leek", "fallow"])
def test_what_comes_in_between_breaks_the_order(between):
    rows = [
        grew("a", "pea", "2026-04-01", "2026-07-20"),
        grew("a", between, "2026-08-01", "2027-03-20"),
        grew("a", "cabbage", "2027-04-20", "2027-09-30"),
    ]
    assert PEAS_FIRST not in rules_in(check(plan_of(*rows)))


@pytest.mark.parametrize(("end", "told"), [("2026-03-20", True), ("2026-03-10", False)])
def test_a_crop_cleared_more_than_four_hundred_days_ago_no_longer_came_directly_before(end, told):
    rows = [grew("a", "pea", "2025-11-01", end), grew("a", "cabbage", "2027-04-20", "2027-09-30")]
    assert (PEAS_FIRST in rules_in(check(plan_of(*rows)))) is told


def test_what_was_lost_young_or_came_by_itself_came_before_nothing():
    peas = grew("a", "pea", "2026-04-01", "2026-07-20")
    lost = grew("a", "leek", "2026-08-01", "2026-08-20", status="lost", cause="slugs")
    wild = grew("a", "potato", "2026-08-01", "2026-10-20", method="volunteer", status="done")
    new = grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new")
    for between in (lost, wild):
        assert (PEAS_FIRST, ("new",)) in order(check(plan_of(peas, between, new)))


def test_cleared_and_planted_on_one_day_is_after_and_relay_is_not():
    new = grew("a", "cabbage", "2027-06-30", "2027-10-30")
    assert PEAS_FIRST in rules_in(check(plan_of(grew("a", "pea", "2027-03-10", "2027-06-30"), new)))
    assert PEAS_FIRST not in rules_in(check(plan_of(grew("a", "pea", "2027-03-10", "2027-07-01"), new)))


def test_crops_that_were_cleared_together_came_before_together():
    rows = [
        grew("a", "sweetcorn", "2026-05-15", "2026-09-20"),
        grew("a", "runner bean", "2026-05-20", "2026-09-05"),
        grew("a", "cabbage", "2027-04-20", "2027-09-30", id="new"),
    ]
    assert order(check(plan_of(*rows))) == [(PEAS_FIRST, ("new",))]


def test_what_stood_over_winter_came_before_a_crop_known_by_its_year():
    rows = [grew("a", "Brussels sprouts", "2026-05-20", "2027-04-20"), grew("a", "potato", "2027")]
    assert rules_in(check(plan_of(*rows))) == ["sequence.potatoes-after-brassicas"]


def test_two_rows_of_one_year_have_no_order():
    assert order(check(plan_of(grew("a", "pea", "2027"), grew("a", "cabbage", "2027")))) == []


def test_ground_goes_with_a_bed_and_ends_with_new_soil():
    old = grew("old", "pea", "2026-04-01", "2026-07-20")
    new = grew("new", "cabbage", "2027-04-20", "2027-09-30")
    beds = ["old", {"id": "new", "kind": "raised", "from": "2027-03-01", "replaces": [{"bed": "old"}]}]
    assert rules_in(check(plan_of(old, new, beds=beds))) == [PEAS_FIRST]
    fresh = [{"bed": "new", "date": "2027-03-02", "kind": "new_soil"}]
    assert order(check(plan_of(old, new, beds=beds, amendments=fresh))) == []


def test_a_pot_with_new_mix_follows_nothing():
    rows = [grew("a", "onion", "2026"), grew("a", "tomato", "2027-05-20", "2027-10-01")]
    pot = [{"id": "a", "kind": "container"}]
    assert rules_in(check(plan_of(*rows, beds=pot))) == [HUNGRY]
    mix = [{"bed": "a", "date": "2027-05-01", "kind": "new_soil"}]
    assert order(check(plan_of(*rows, beds=pot, amendments=mix))) == []


# -- words for several crops, crops of one's own


def test_a_group_word_counts_where_all_its_members_do():
    assert HUNGRY in rules_in(check(plan_of(grew("a", "onion", "2026"), grew("a", "tomato", "2027"))))
    assert PEAS_FIRST in rules_in(check(plan_of(grew("a", "legumes", "2026"), grew("a", "brassicas", "2027"))))
    # only some alliums are hungry
    assert HUNGRY not in rules_in(check(plan_of(grew("a", "alliums", "2026"), grew("a", "tomato", "2027"))))


def test_a_crop_of_ones_own_counts_by_its_family_and_has_no_traits():
    own = [{"id": "our-bean", "family": "Fabaceae"}]
    assert order(check(plan_of(grew("a", "our-bean", "2026"), grew("a", "tomato", "2027"), crops=own))) == []


# -- either hemisphere


def test_years_and_days_are_read_in_the_south_as_in_the_north():
    south = {"garden": {"latitude": -37.8}}
    by_year = plan_of(grew("a", "pea", "2026"), grew("a", "cabbage", "2027"), **south)
    assert rules_in(check(by_year)) == [PEAS_FIRST]
    by_day = plan_of(
        grew("a", "rye", "2027-03-15", "2027-10-20"), grew("a", "carrot", "2027-10-27", "2028-02-20"), **south
    )
    assert rules_in(check(by_day)) == [RYE]


# -- waits counted in days


@pytest.mark.parametrize(("start", "told"), [("2027-05-03", True), ("2027-05-04", False)])
def test_a_wait_ends_on_its_day(start, told):
    rows = [grew("a", "rye", "2026-09-15", "2027-04-20"), grew("a", "carrot", start, "2027-10-01", id="new")]
    report = check(plan_of(*rows))
    assert (RYE in rules_in(report)) is told
    if told:
        assert "4 May 2027" in finding(report, RYE).fix.text


@pytest.mark.parametrize(
    ("rye", "carrots"),
    [
        (grew("a", "rye", "2026-09-15"), grew("a", "carrot", "2027-05-01", "2027-10-01")),  # the rye's end is assumed
        (grew("a", "rye", "2026-09-15", "2027-03-01"), grew("a", "carrot", "2027-spring")),
        (grew("a", "rye", "2026-09-15", "2027-03-25"), grew("a", "carrot", "2027")),
    ],
)
def test_a_wait_of_days_passes_over_what_is_not_known_to_the_day(rye, carrots):
    assert RYE not in rules_in(check(plan_of(rye, carrots)))


def test_only_what_is_sown_in_place_waits():
    rye = grew("a", "rye", "2026-09-15", "2027-04-20")
    for crop, method, told in (
        ("carrot", None, True),  # counted from sowing, so sown
        ("sweet pepper", None, False),  # counted from transplanting
        ("leaf lettuce", "sow", True),
        ("leaf lettuce", "transplant", False),
    ):
        rest = {} if method is None else {"method": method}
        report = check(plan_of(rye, grew("a", crop, "2027-04-25", "2027-09-30", **rest)))
        assert (RYE in rules_in(report)) is told, (crop, method)


def test_the_fix_of_a_wait_is_a_later_start_that_was_tried():
    rows = [grew("a", "rye", "2026-09-15", "2027-04-20"), grew("a", "carrot", "2027-04-27", "2027-09-15", id="new")]
    plan = plan_of(*rows)
    fix = finding(check(plan), RYE).fix
    assert [(a.op, a.planting, a.start) for a in fix.actions] == [("shift", "new", date(2027, 5, 4))]
    assert RYE not in rules_in(check(apply(plan, fix.actions)))


def test_grass_counts_for_two_years_even_by_the_year():
    sod = [{"bed": "a", "date": "2025-10-10", "kind": "broke_sod"}]
    rows = [grew("a", "pea", "2026"), grew("a", "potato", "2027", id="new")]
    assert (GRASS, ("new",)) in order(check(plan_of(*rows, amendments=sod)))
    sod = [{"bed": "a", "date": "2025-03-10", "kind": "broke_sod"}]
    assert GRASS not in rules_in(check(plan_of(*rows, amendments=sod)))


def test_potatoes_in_new_ground_are_offered_another_bed():
    sod = [{"bed": "a", "date": "2026-10-10", "kind": "broke_sod"}]
    rows = [grew("a", "potato", "2027-04-10", "2027-08-31", id="new"), grew("b", "pea", "2026")]
    plan = plan_of(*rows, amendments=sod)
    fix = finding(check(plan), GRASS).fix
    assert [(a.op, a.bed) for a in fix.actions] == [("move", "b")]
    assert GRASS not in rules_in(check(apply(plan, fix.actions)))


def test_potatoes_that_grow_in_new_ground_are_not_told_to_rest():
    sod = [{"bed": "a", "date": "2026-10-10", "kind": "broke_sod"}]
    rows = [grew("a", "potato", "2027-04-10", "2027-08-31", status="growing")]
    fix = finding(check(plan_of(*rows, amendments=sod, as_of=date(2027, 6, 1))), GRASS).fix
    assert not fix.text.startswith("It stands already")


# -- one line for one thing


def test_of_several_benefits_the_strongest_is_told():
    rows = [grew("a", "hairy vetch", "2026-08-25", "2027-05-01"), grew("a", "broccoli", "2027-06-01", "2027-10-01")]
    report = check(plan_of(*rows))
    assert rules_in(report) == ["sequence.legume-cover-before-brassica"]
    assert report.score["sequence"] == 2


def test_what_counts_against_an_order_silences_its_praise():
    rows = [grew("a", "rye", "2026-09-15", "2027-04-20"), grew("a", "carrot", "2027-04-27", "2027-09-15")]
    assert rules_in(check(plan_of(*rows))) == [RYE]


def test_a_named_order_speaks_before_a_general_word():
    assert rules_in(check(plan_of(grew("a", "sweetcorn", "2026"), grew("a", "potato", "2027")))) == [
        "sequence.potatoes-after-sweetcorn"
    ]
    assert HUNGRY in rules_in(check(plan_of(grew("a", "sweetcorn", "2026"), grew("a", "tomato", "2027"))))


def test_a_bed_hears_at_most_two_lines_of_advice():
    rows = [
        grew("a", "beetroot", "2026-05-01", "2026-10-20"),
        grew("a", "rye", "2026-10-25", "2027-05-20", part=[0, 0.5]),
        grew("a", "tomato", "2027-06-01", "2027-10-01", part=[0, 0.5]),
        grew("a", "carrot", "2027-04-20", "2027-09-01", part=[0.5, 0.7]),
        grew("a", "spinach", "2027-04-20", "2027-07-01", part=[0.7, 1]),
        grew("a", "celery", "2027-05-20", "2027-10-01", part=[0.7, 1]),
    ]
    fed = [{"bed": "a", "date": "2027-03-20", "kind": "lime"}]
    report = check(plan_of(*rows, grew("a", "potato", "2027-04-20", "2027-09-01", part=[0.6, 0.7]), amendments=fed))
    advice = [f for f in report.findings if f.severity == "advice" and f.rule.startswith("sequence.")]
    assert len(advice) == MOST_ADVICE
    assert [f.points for f in advice] == [-1, -1]  # the weaker ones and the quiet ones give way


def test_of_earlier_years_only_faults_are_told():
    rows = [
        grew("a", "rye", "2023-09-15", "2024-04-20"),
        grew("a", "carrot", "2024-04-27", "2024-09-15"),
        grew("a", "parsnip", "2025"),
        grew("a", "onion", "2026"),
        grew("a", "tomato", "2027", id="new"),
    ]
    assert order(check(plan_of(*rows))) == [(HUNGRY, ("new",))]
    told = [f for f in check(plan_of(*rows), history=True).findings if f.rule.startswith("sequence.")]
    assert [(f.rule, f.in_window) for f in told] == [(RYE, False), (HUNGRY, True)]


def test_quiet_rules_speak_once_a_plan_and_only_where_nothing_else_is_said():
    beds = [row for bed in "abcdef" for row in (grew(bed, "aubergine", "2026"), grew(bed, "lettuce", "2027"))]
    report = check(plan_of(*beds))
    assert rules_in(report) == [TURNS]
    assert finding(report, TURNS).title.endswith("bed a, bed b, bed c and 3 more beds")
    assert report.score["sequence"] == 1
    carrots = grew("a", "carrot", "2026")
    assert rules_in(check(plan_of(carrots, grew("a", "leek", "2027")))) == [WEAKER]
    assert WEAKER not in rules_in(check(plan_of(carrots, grew("a", "beetroot", "2027"))))


def test_one_finding_for_a_rule_and_bed():
    rows = [grew("a", "pea", "2026"), grew("a", "cabbage", "2027", id="c"), grew("a", "kale", "2027", id="k")]
    found = finding(check(plan_of(*rows)), PEAS_FIRST)
    assert found.plantings == ("c", "k")
    assert "Cabbages and kale after peas" in found.title


def test_a_relative_directly_before_is_left_to_the_rotation():
    report = check(plan_of(grew("a", "tomato", "2026"), grew("a", "aubergine", "2027")))
    assert order(report) == []
    assert [f.rule for f in report.findings] == ["rotation.family-too-soon"]


def test_a_quick_root_is_no_root_crop_before_a_root():
    for before in (grew("a", "radish", "2026"), grew("a", "radish", "2027-03-10", "2027-04-20")):
        assert ROOTS not in rules_in(check(plan_of(before, grew("a", "carrot", "2027-05-01", "2027-09-20"))))


def test_food_given_in_between_silences_the_hungry_pair():
    rows = [grew("a", "onion", "2026-03-20", "2026-08-10"), grew("a", "tomato", "2027-05-20", "2027-10-01")]
    for day, told in (("2026-06-01", True), ("2026-08-01", False), ("2027-05-30", False), ("2027-07-30", True)):
        given = [{"bed": "a", "date": day, "kind": "compost"}]
        assert (HUNGRY in rules_in(check(plan_of(*rows, amendments=given)))) is told, day


def test_the_order_of_rows_changes_nothing():
    rows = [
        grew(bed, crop, year)
        for bed, crops in {"a": ("pea", "cabbage"), "b": ("onion", "tomato"), "c": ("beetroot", "carrot")}.items()
        for crop, year in zip(crops, ("2026", "2027"), strict=True)
    ]
    assert check(plan_of(*rows)) == check(plan_of(*reversed(rows)))


# -- raw manure


def manured(*rows, day="2027-03-01", **parts):
    return check(plan_of(*rows, amendments=[{"bed": "a", "date": day, "kind": "raw_manure"}], **parts))


def test_the_harvest_follows_from_the_days_to_maturity_where_it_is_not_told():
    days = load_knowledge().find_crop("carrot").maturity.least
    safe = date(2027, 3, 1) + timedelta(days=120)
    for start, told in ((safe - timedelta(days=days + 1), True), (safe - timedelta(days=days), False)):
        report = manured(grew("a", "carrot", start.isoformat(), "2027-10-01"))
        assert (TOO_NEAR in rules_in(report)) is told


def test_what_hangs_clear_of_soil_waits_ninety_days():
    fruit, root = (
        grew("a", crop, "2027-04-01", "2027-09-01", first_harvest="2027-06-10", id=crop) for crop in ("pea", "turnip")
    )
    assert order(manured(fruit, root)) == [(TOO_NEAR, ("turnip",))]


def test_where_nothing_is_known_of_the_soil_the_longer_wait_is_taken_and_said():
    own = [{"id": "oca", "family": "Oxalidaceae"}]
    report = manured(grew("a", "oca", "2027-04-20", "2027-10-01", first_harvest="2027-06-10"), crops=own)
    found = finding(report, TOO_NEAR)
    assert found.because["wait_days"] == 120
    assert found.because["soil_contact"] == "not known"
    assert "not known whether" in found.why


def test_autumn_sowings_go_by_their_own_days():
    # Broad beans of November ripen in June or July: their spring days would have them picked in February.
    report = manured(grew("a", "broad bean", "2026-11-05", "2027-07-20"), day="2026-11-01")
    assert order(report) == []


def test_manure_on_a_crop_that_is_being_picked():
    picked = grew("a", "kale", "2026-05-20", "2027-04-20", first_harvest="2026-09-01", id="kale")
    assert (TOO_NEAR, ("kale",)) in order(manured(picked, day="2027-02-01"))
    gone = grew("a", "kale", "2026-05-20", "2027-02-01", first_harvest="2026-09-01")
    assert order(manured(gone, day="2027-02-01")) == []
    # no day of clearing on record: the crop is taken to be gone when the manure comes
    assert order(manured(grew("a", "courgette", "2027-05-20", first_harvest="2027-07-10"), day="2027-10-01")) == []


@pytest.mark.parametrize(
    "row",
    [
        grew("a", "beetroot", "2027"),
        grew("a", "beetroot", "2027-spring"),
        grew("a", "asparagus", "2020-04-01"),  # picked every year; this year's first day is not told
    ],
)
def test_where_no_harvest_is_known_the_first_safe_day_is_told(row):
    report = manured(row)
    found = finding(report, OPEN)
    assert found.severity == "advice"
    assert found.because["first_safe_harvest"] == date(2027, 6, 29)
    assert "29 June 2027" in found.title


def test_compost_new_soil_and_old_manure_need_no_wait():
    lettuce = grew("a", "leaf lettuce", "2027-04-10", "2027-06-20", first_harvest="2027-05-20")
    assert order(manured(lettuce, day="2027-01-10")) == []
    soil = [
        {"bed": "a", "date": "2027-03-01", "kind": "raw_manure"},
        {"bed": "a", "date": "2027-03-20", "kind": "new_soil"},
    ]
    assert order(check(plan_of(lettuce, amendments=soil))) == []


def test_manure_goes_with_the_ground_and_not_with_its_neighbours():
    beds = ["a", "b", {"id": "new", "from": "2027-03-10", "replaces": [{"bed": "a"}]}]
    rows = [grew(bed, "leaf lettuce", "2027-04-10", "2027-06-20", id=bed) for bed in ("b", "new")]
    assert order(manured(*rows, beds=beds)) == [(TOO_NEAR, ("new",))]


def test_a_start_is_put_off_where_that_is_enough_and_the_season_allows_it():
    late = grew("a", "leaf lettuce", "2027-04-10", "2027-07-01", first_harvest="2027-06-01", id="late")
    plan = plan_of(late, amendments=[{"bed": "a", "date": "2027-03-01", "kind": "raw_manure"}])
    fix = finding(check(plan), TOO_NEAR).fix
    assert [(a.op, a.start) for a in fix.actions] == [("shift", date(2027, 5, 8))]
    assert "29 June 2027" in fix.text
    assert order(check(apply(plan, fix.actions))) == []
    soon = grew("a", "leaf lettuce", "2027-03-05", "2027-06-01", first_harvest="2027-04-10")
    far = finding(manured(soon), TOO_NEAR)
    assert (date(2027, 6, 29) - date(2027, 4, 10)).days > MOST_PUT_OFF
    assert far.fix.actions == ()


def test_a_breach_of_the_manure_wait_carries_its_cautions():
    found = finding(
        manured(grew("a", "leaf lettuce", "2027-04-01", "2027-06-01", first_harvest="2027-05-10")), TOO_NEAR
    )
    assert found.cautions[:1] == ("raw_manure",)


# -- what moving does not help against


def seen(of, day="2026-06-10", **parts):
    rows = [grew("a", "lettuce", "2026"), grew("b", "kale", "2027", id="kale"), grew("c", "leek", "2027", id="leek")]
    return check(plan_of(*rows, sightings=[{"bed": "a", "date": day, "of": of}], judge="2027", **parts))


def test_a_pest_that_moves_is_told_once_with_what_helps():
    report = seen("imported_cabbageworm")
    found = finding(report, ANYWAY)
    assert found.plantings == ("kale",)
    assert found.because["mesh_mm"] == 5
    assert "5 mm" in found.fix.text
    assert "netting_and_wildlife" in found.cautions
    twice = [{"bed": bed, "date": "2026-06-10", "of": "imported_cabbageworm"} for bed in "ab"]
    rows = [grew("a", "kale", "2026"), grew("b", "kale", "2027")]
    assert [f.rule for f in check(plan_of(*rows, sightings=twice)).findings].count(ANYWAY) == 1


def test_no_net_is_advised_against_what_lives_in_the_soil_below_it():
    found = finding(seen("slugs"), ANYWAY)
    assert found.because["mesh_mm"] is None
    assert "holes" not in found.fix.text


@pytest.mark.parametrize(
    ("of", "day", "told"),
    [
        ("imported_cabbageworm", "2025-01-02", True),
        ("imported_cabbageworm", "2024-12-20", False),  # more than two years before the season
        ("cabbage_root_maggot", "2026-06-10", False),  # winters where its host stood: moving helps
        ("pea_aphid", "2026-06-10", False),  # no host of it is in the plan
        ("clubroot", "2026-06-10", False),
    ],
)
def test_only_for_pests_of_the_last_two_years_that_moving_does_not_stop(of, day, told):
    assert (ANYWAY in [f.rule for f in seen(of, day).findings]) is told


# -- the options of a rule


def faults(options):
    evidence = "{grade: practice, sources: [judgement]}"
    text = (
        "rules:\n  sequence.two-crops:\n    since: '1'\n    kind: follow\n    severity: advice\n"
        f"    options: {options}\n    title: t\n    why: w.\n    fix: f.\n    exceptions: [e]\n"
        f"    evidence: {evidence}\n    examples:\n      flag: [{{}}, {{}}]\n      ok: [{{}}, {{}}]\n"
    )
    return [problem.message for problem in lint(text, "club.yaml")]


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ("{after: {crops: [leek]}}", "name the crops that come before, or an amendment"),
        ("{before: {crops: [pea]}, after: {crops: [leek]}, sighted: [clubrot]}", "did you mean 'clubroot'?"),
        ("{before: {crops: [pea]}, after: {crops: [leek]}, credit_g_m2: [3, 1]}", "two numbers are needed"),
        ("{amendment: lime, after: {crops: [leek]}, both: true}", "cannot change places"),
        ("{amendment: lyme, after: {crops: [leek]}}", "did you mean 'lime'?"),
        ("{before: {crops: [peas]}, after: {crops: [leek]}}", "unknown crop 'peas'"),
    ],
)
def test_faults_of_a_rule_are_told(options, message):
    assert any(message in fault for fault in faults(options)), faults(options)


def test_sound_options_have_no_fault():
    assert faults("{before: {crops: [pea]}, after: {crops: [leek]}, credit_g_m2: [0, 3]}") == []
