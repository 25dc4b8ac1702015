"""The checks: one function a kind of rule, a generator of hits.

``CHECKS`` is the whole registry; a kind that is not listed here does not exist.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from rules.checks import cross_break, disease_break, disease_spread, family_break, family_repeat
from rules.checks.context import Context, Hit
from rules.knowledge.ruleset import Kind, Rule

Check = Callable[[Context, Rule], Iterator[Hit]]

CHECKS: dict[str, Check] = {
    "family-break": family_break.check,
    "family-repeat": family_repeat.check_repeat,
    "family-beside": family_repeat.check_beside,
    "family-parts": family_repeat.check_parts,
    "disease-break": disease_break.check,
    "disease-carrier": disease_spread.check_carrier,
    "disease-elsewhere": disease_spread.check_elsewhere,
    "disease-reduced": disease_spread.check_reduced,
    "cross-break": cross_break.check,
}

KINDS: dict[str, Kind] = {
    "family-break": family_break.KIND,
    "family-repeat": family_repeat.REPEAT,
    "family-beside": family_repeat.BESIDE,
    "family-parts": family_repeat.PARTS,
    "disease-break": disease_break.KIND,
    "disease-carrier": disease_spread.CARRIER,
    "disease-elsewhere": disease_spread.ELSEWHERE,
    "disease-reduced": disease_spread.REDUCED,
    "cross-break": cross_break.KIND,
}
