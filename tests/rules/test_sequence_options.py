"""What moving does not help against, and the options of a rule of order."""

from __future__ import annotations

import pytest
from bed_order import finding
from tiny_plans import grew, plan_of

from rules import check
from rules.knowledge.lint import lint

ANYWAY = "rotation.pest-comes-anyway"


def seen(of, day="2026-06-10", **parts):
    rows = [grew("a", "lettuce", "2026"), grew("b", "kale", "2027", id="kale"), grew("c", "leek", "2027", id="leek")]
    return check(plan_of(*rows, sightings=[{"bed": "a", "date": day, "of": of}], judge="2027", **parts))


# -- what moving does not help against


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


def faults(options):
    evidence = "{grade: practice, sources: [judgement]}"
    text = (
        "rules:\n  sequence.two-crops:\n    since: '1'\n    kind: follow\n    severity: advice\n"
        f"    options: {options}\n    title: t\n    why: w.\n    fix: f.\n    exceptions: [e]\n"
        f"    evidence: {evidence}\n    examples:\n      flag: [{{}}, {{}}]\n      ok: [{{}}, {{}}]\n"
    )
    return [problem.message for problem in lint(text, "club.yaml")]


# -- the options of a rule


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
