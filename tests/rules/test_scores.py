"""Points: they add up, they stay within their evidence, and they belong to what stands together."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from tiny_plans import grew, plan_of

import rules
from rules.knowledge.ruleset import MOST_POINTS
from rules.knowledge.selectors import Selector

KNOWLEDGE = rules.load_knowledge()
PAIRS = KNOWLEDGE.by_kind["pair"]
#: Crops that at least one pair rule names on either side by crop or group: where there is something to add up.
SPOKEN_OF = sorted(
    {
        crop
        for rule in PAIRS
        for side in (rule.compiled.a, rule.compiled.b)
        for crop, level in side.levels.items()
        if level <= 1 and crop in KNOWLEDGE.crops
    }
)
#: A crop of a family that no rule of the set speaks of, and a place that nothing reaches.
STRANGER, FAR_M = "oca", 500.0

crops = st.sampled_from(SPOKEN_OF)
starts = st.integers(0, 120).map(lambda days: date(2027, 3, 1) + timedelta(days=days))
rows = st.lists(
    st.tuples(st.sampled_from(["a", "b", "c"]), crops, starts, st.integers(20, 150)), min_size=2, max_size=7
)


def place(bed: str, x: float) -> dict[str, object]:
    return {"id": bed, "length": 300.0, "width": 120.0, "position": (x, 0.0)}


BEDS = [place("a", 0.0), place("b", 3.5), place("c", 12.0), place("far", FAR_M)]


def plan(drawn: list[tuple[str, str, date, int]], *more: dict[str, object]) -> rules.Plan:
    made = [
        grew(bed, crop, start.isoformat(), (start + timedelta(days=days)).isoformat(), id=f"p{n}")
        for n, (bed, crop, start, days) in enumerate(drawn)
    ]
    own = [{"id": STRANGER, "family": "Oxalidaceae"}]
    return plan_of(*made, *more, judge="2027", beds=BEDS, crops=own)


@given(rows)
@settings(max_examples=150)
def test_the_score_is_the_sum_of_what_is_told(drawn: list[tuple[str, str, date, int]]) -> None:
    report = rules.check(plan(drawn))
    sums = {"pest": 0, "yield": 0, "sequence": 0}
    for finding in report.findings:
        part = "sequence" if finding.rule.startswith("sequence.") else finding.effect
        if part in sums:
            sums[part] += finding.points
        else:
            assert finding.points == 0
    assert report.score == sums


@given(rows)
@settings(max_examples=150)
def test_a_stranger_in_a_far_bed_changes_no_score(drawn: list[tuple[str, str, date, int]]) -> None:
    before = rules.check(plan(drawn))
    after = rules.check(plan(drawn, grew("far", STRANGER, "2027-04-01", "2027-09-30", id="stranger")))
    assert after.score == before.score
    assert [(f.rule, f.plantings, f.points) for f in after.findings] == [
        (f.rule, f.plantings, f.points) for f in before.findings
    ]


@given(rows)
@settings(max_examples=100)
def test_no_finding_carries_more_than_its_evidence(drawn: list[tuple[str, str, date, int]]) -> None:
    for finding in rules.check(plan(drawn)).findings:
        least = 1 if finding.evidence.contested_by else 0
        assert abs(finding.points) <= MOST_POINTS[KNOWLEDGE.rules[finding.rule].evidence.grade] - least


@given(crops, crops)
@settings(max_examples=300)
def test_a_pair_is_worth_the_same_whichever_is_named_first(one: str, other: str) -> None:
    first = rules.pairs(KNOWLEDGE.crops[one], KNOWLEDGE.crops[other], KNOWLEDGE)
    second = rules.pairs(KNOWLEDGE.crops[other], KNOWLEDGE.crops[one], KNOWLEDGE)
    assert first.points == second.points
    assert first.verdict == second.verdict
    assert {(s.rule, s.acts.id, s.points) for s in first.statements if not s.both_ways} == {
        (s.rule, s.acts.id, s.points) for s in second.statements if not s.both_ways
    }
    assert {s.rule for s in first.statements if s.both_ways} == {s.rule for s in second.statements if s.both_ways}


@given(crops, crops)
@settings(max_examples=300)
def test_the_points_of_a_pair_are_explained_by_its_statements(one: str, other: str) -> None:
    answer = rules.pairs(KNOWLEDGE.crops[one], KNOWLEDGE.crops[other], KNOWLEDGE)
    counted = [s for s in answer.statements if s.behind is None and s.sure]
    for effect in ("pest", "yield"):
        assert answer.points[effect] == sum(s.points for s in counted if s.effect == effect)


def test_severity_and_points_point_the_same_way() -> None:
    for rule in KNOWLEDGE.rules.values():
        if rule.points > 0:
            assert rule.severity == "benefit", rule.id
        if rule.points < 0:
            assert rule.severity in ("advice", "caution"), rule.id
        if rule.severity == "caution" and rule.kind == "pair":
            assert rule.evidence.grade == "trial", rule.id
            assert not rule.evidence.contested_by, rule.id
        assert (rule.effect == "none") == (rule.points == 0) or rule.id.startswith("sequence."), rule.id


def test_a_saying_counts_nothing() -> None:
    sayings = [rule for rule in PAIRS if rule.evidence.grade == "practice"]
    assert sayings
    assert all(rule.points in (0, 1) for rule in sayings)


def test_no_pair_rule_counts_against_relatives_grouped_in_one_bed() -> None:
    for rule in PAIRS:
        if rule.points >= 0:
            continue
        for a in _crops(rule.compiled.a):
            for b in _crops(rule.compiled.b):
                if a.family == b.family and rule.compiled.about == "pest_bridge":
                    spoken = [s for s in KNOWLEDGE.pairs.between(a, b) if s.rule is rule and s.behind is None]
                    assert spoken == [], (rule.id, a.id, b.id)


def _crops(side: Selector) -> list[rules.knowledge.facts.Crop]:
    return side.crops(KNOWLEDGE.facts)
