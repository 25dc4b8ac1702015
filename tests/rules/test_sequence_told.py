"""One line for one thing, where several orders meet."""

from __future__ import annotations

from bed_order import HUNGRY, PEAS_FIRST, ROOTS, RYE, finding, order, rules_in
from tiny_plans import grew, plan_of

from rules import check
from rules.checks.follow import MOST_ADVICE

TURNS, WEAKER = "sequence.deep-and-shallow-by-turns", "sequence.after-carrot-or-beetroot"


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
