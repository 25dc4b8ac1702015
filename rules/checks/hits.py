"""All that the checks find in a plan, before anything is put into words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rules.checks import CHECKS, SPEAKING
from rules.checks.context import Context, Hit
from rules.knowledge.ruleset import GRAVE, Rule
from rules.report import SEVERITIES

#: A sighting's finding speaks for the family's own break at the same plantings.
_SPOKEN_FOR = ("family-break", "cross-break", "family-repeat")
_SPEAKS = "disease-break"
#: A pest's route speaks for its hosts near the last bed.
_ROUTES, _ROUTED = "green-bridge", "hosts-next-season"
#: A rule and a planting: what a fix is judged by.
Key = tuple[str, str]


def all_hits(context: Context, *, only_grave: bool = False, first: str = "") -> Iterator[tuple[Rule, Hit]]:
    """Every hit of every rule, less those that a sighting's finding, as grave or graver, speaks for.

    What a pest's route tells of is not told again as a host near its last bed.

    ``only_grave`` leaves out the rules that no fix may be spoiled by: advice and benefits.
    ``first`` is a kind that is asked as early as may be.
    """
    spoken: dict[str, int] = {}
    by_kind = context.knowledge.grave_by_kind if only_grave else context.knowledge.by_kind
    for rule in by_kind.get(_SPEAKS, ()):
        rank = SEVERITIES.index(rule.severity)
        for hit in _own(context.hits(CHECKS[_SPEAKS], rule)):
            for p in hit.plantings:
                spoken[p.id] = min(rank, spoken.get(p.id, rank))
            yield rule, hit
    routed: set[Key] = set()
    late = (_SPEAKS, _ROUTED)
    begin = [kind for kind in (first, _ROUTES) if kind not in late]
    for kind in dict.fromkeys((*begin, *(kind for kind in by_kind if kind not in late), _ROUTED)):
        if kind not in by_kind:
            continue
        speaking = SPEAKING[kind](context, only_grave) if kind in SPEAKING else None
        for rule in by_kind[kind]:
            if speaking is not None and rule.id not in speaking:
                continue
            rank = SEVERITIES.index(rule.severity) if kind in _SPOKEN_FOR else -1
            for hit in _own(context.hits(CHECKS[kind], rule)):
                if kind == _ROUTES:
                    routed |= {(pest, name) for pest in hit.route for name in _named(hit, "reached")}
                elif kind == _ROUTED and routed.issuperset(
                    (pest, p.id) for pest in _named(hit, "pests") for p in hit.plantings
                ):
                    continue
                if rank < 0 or not spoken or not all(spoken.get(p.id, len(SEVERITIES)) <= rank for p in hit.plantings):
                    yield rule, hit


def _named(hit: Hit, key: str) -> tuple[str, ...]:
    names = hit.because[key]
    return names if isinstance(names, tuple) else ()


def _own(hits: list[Hit]) -> list[Hit]:
    """Hits less those that are only inherited: the bed that was replaced tells them itself."""
    return [hit for hit in hits if any(p.bed in hit.beds for p in hit.plantings)] if hits else hits


def spoils(context: Context, before: frozenset[Key]) -> bool:
    """Whether anything counts against a plan that did not before; looks no farther than the first."""
    found = all_hits(context, only_grave=True)
    return any((rule.id, p.id) not in before for rule, hit in found for p in hit.plantings)


def grave_keys(found: Iterable[tuple[Rule, Hit]]) -> frozenset[Key]:
    """Each rule that counts against a plan, with each planting that it names."""
    return frozenset((rule.id, p.id) for rule, hit in found if rule.severity in GRAVE for p in hit.plantings)
