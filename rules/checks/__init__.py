"""The checks: one function a kind of rule, a generator of hits.

``CHECKS`` is the whole registry; a kind that is not listed here does not exist.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterator

from rules.checks import (
    cover_faults,
    cover_trap,
    cross_break,
    disease_break,
    disease_spread,
    family_break,
    family_repeat,
    follow,
    green_bridge,
    hosts_later,
    hosts_together,
    manure_wait,
    pair,
    rotation_limit,
    treatment_ban,
    treatment_wait,
)
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
    "pair": pair.check,
    "follow": follow.check,
    "manure-wait": manure_wait.check,
    "rotation-limit": rotation_limit.check,
    "relatives-together": hosts_together.check_relatives,
    "hosts-together": hosts_together.check_hosts,
    "hosts-next-season": hosts_later.check_next,
    "hosts-after-sighting": hosts_later.check_here,
    "green-bridge": green_bridge.check,
    "cover-trap": cover_trap.check,
    "cover-mesh": cover_faults.check_mesh,
    "cover-late": cover_faults.check_late,
    "cover-open": cover_faults.check_open,
    "cover-bloom": cover_faults.check_bloom,
    "cover-wildlife": cover_faults.check_wildlife,
    "cover-heat": cover_faults.check_heat,
    "treatment-wait": treatment_wait.check,
    "treatment-ban": treatment_ban.check,
}

#: For kinds of many rules of which few speak: the ids of those that do, of all or of the grave ones alone.
SPEAKING: dict[str, Callable[[Context, bool], Container[str]]] = {"pair": pair.speaking, "follow": follow.speaking}

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
    "pair": pair.KIND,
    "follow": follow.KIND,
    "manure-wait": manure_wait.KIND,
    "rotation-limit": rotation_limit.KIND,
    "relatives-together": hosts_together.RELATIVES,
    "hosts-together": hosts_together.HOSTS,
    "hosts-next-season": hosts_later.NEXT,
    "hosts-after-sighting": hosts_later.HERE,
    "green-bridge": green_bridge.KIND,
    "cover-trap": cover_trap.KIND,
    "cover-mesh": cover_faults.MESH,
    "cover-late": cover_faults.LATE,
    "cover-open": cover_faults.OPEN,
    "cover-bloom": cover_faults.BLOOM,
    "cover-wildlife": cover_faults.WILDLIFE,
    "cover-heat": cover_faults.HEAT,
    "treatment-wait": treatment_wait.KIND,
    "treatment-ban": treatment_ban.KIND,
}
