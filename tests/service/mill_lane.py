"""A club with pair rules of its own, and what it is told of two crops."""

from __future__ import annotations

from typing import Any

import pytest
from flask.testing import FlaskClient

import rules
from service.cli import main

#: A club's own pairs; with all of ours turned off, no rule that comes later changes what is tested.
OWN = """
overlay: Mill Lane
pairs:
  interplant.borage-among-okra:
    severity: benefit
    points: 2
    effect: pest
    options:
      a: {crops: [borage]}
      b: {crops: [okra]}
      acts: a_on_b
      about: pest_reduction
      pests: [brown_marmorated_stink_bug]
      others: [leaf hoppers]
      only_if: {a_before_b: [30, 60], plants: [0.2, 0.4], treated: true}
      measured:
        - {of: bugs on the okra, value: "-49", unit: percent}
      against: One count found no difference.
    title: "{a} beside {b} in {bed}: fewer stink bugs"
    why: The bugs stayed on the borage.
    fix: Alternate the rows and pick the bugs off the borage.
    evidence: {grade: trial, sources: [iowa_rotation, judgement], contested_by: [psu_families]}
    cautions: [label_first]
  interplant.borage-among-mallows:
    severity: benefit
    points: 1
    effect: pest
    options:
      a: {crops: [borage]}
      b: {families: [Malvaceae]}
      acts: a_on_b
      about: pest_reduction
    title: "{a} near {b} in {bed}: fewer bugs of all kinds"
    why: The club saw it.
    fix: Sow them together.
    evidence: {grade: practice, sources: [common practice]}
  interplant.okra-crowds-climbers:
    severity: advice
    points: -1
    effect: yield
    options:
      a: {crops: [okra]}
      b: {crops: [pole_bean]}
      acts: a_on_b
      about: competition
    title: "{a} beside {b} in {bed}: the beans give less"
    why: Both grow tall and root in the same layer.
    fix: Give the beans a row of their own.
    evidence: {grade: practice, sources: [common practice]}
  interplant.okra-and-endives:
    severity: advice
    points: 0
    effect: none
    options:
      a: {crops: [okra]}
      b: {crops: [endive]}
      acts: both
      about: none_found
      told: pairs
    title: "{a} and {b}: said to like each other, not shown"
    why: It is often said, but no trial support was found.
    fix: Grow them together if it suits the bed.
    evidence: {grade: practice, sources: [common practice]}
"""


KNOWN = rules.load_knowledge()
CLUB = OWN + "rules:\n" + "".join(f"  {rule.id}: {{off: true}}\n" for rule in KNOWN.by_kind.get("pair", ()))


def ask(client: FlaskClient, a: str, b: str) -> dict[str, Any]:
    answer = client.get("/v1/pairs", query_string={"a": a, "b": b})
    assert answer.status_code == 200
    return dict(answer.get_json())


def command(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["pairs", *words]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80
    return out


def flat(text: str) -> str:
    return " ".join(text.split())
