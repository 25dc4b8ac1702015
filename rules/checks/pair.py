"""``pair``: what two crops that stand together do to each other, as far as it was measured.

All pair rules are asked together, once a plan: for each two neighbours the table says which
rules speak, and their conditions are judged.  A help whose condition is not met, or cannot be
known from the plan, is told as advice without points: only if.  A harm whose condition is not
met is no harm.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from rules.checks.conditions import beside, judged
from rules.checks.context import Context, Hit, names_of
from rules.checks.neighbours import Neighbour
from rules.knowledge.pairexamples import examples_of
from rules.knowledge.pairrows import OPTIONS, WORDS, compile_pair
from rules.knowledge.pairtable import Spoken
from rules.knowledge.ruleset import GRAVE, Kind, Rule
from rules.model import Planting
from rules.report import Evidence

KIND = Kind(
    looks_at="What two crops that stand together do to each other.",
    options=OPTIONS,
    words=WORDS,
    compile=compile_pair,
    generate=examples_of,
)
#: Neighbours are looked for this far; only rules that name a longer reach look farther.
NEAR_M = 2.0


class _Met(NamedTuple):
    """Two plantings that a rule speaks for, and the conditions that are not met or not known."""

    a: Planting
    b: Planting
    near: Neighbour
    unmet: tuple[str, ...]


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each bed in which the crop acted on stands."""
    for bed, met in context.once(_grave if rule.severity in GRAVE else _mild).get(rule.id, {}).items():
        least = min(len(one.unmet) for one in met)
        best = [one for one in met if len(one.unmet) == least]
        yield _hit(context, rule, bed, best)


def speaking(context: Context, only_grave: bool) -> set[str]:
    """The ids of the rules that have anything to say."""
    return {*context.once(_grave), *(() if only_grave else context.once(_mild))}


def _grave(context: Context) -> dict[str, dict[str, list[_Met]]]:
    """The harms: by rule, then by the bed of the crop acted on."""
    return _companions(context, grave=True)


def _mild(context: Context) -> dict[str, dict[str, list[_Met]]]:
    """Benefits and advice."""
    return _companions(context, grave=False)


def _companions(context: Context, *, grave: bool) -> dict[str, dict[str, list[_Met]]]:
    found: dict[str, dict[str, list[_Met]]] = {}
    table, absent = context.knowledge.pairs, _pestless_here(context)
    told = table.harms if grave else table.mild
    for near in context.once(_neighbours):
        for spoken in told[near.one.crop, near.other.crop]:
            if spoken.rule.id in absent:
                continue
            if beside(spoken.pair.only_if, near):
                met = _judge(context, spoken, near)
                if met is not None:
                    found.setdefault(spoken.rule.id, {}).setdefault(met.b.bed, []).append(met)
    return found


def _pestless_here(context: Context) -> frozenset[str]:
    country, table = context.plan.garden.country, context.knowledge.pairs
    return context.local.once("pairs", lambda: table.pestless(country))


def _neighbours(context: Context) -> list[Neighbour]:
    """Neighbours close by, and farther ones where a rule that reaches so far acts or is acted on."""
    table, near = context.knowledge.pairs, context.neighbours
    crops = {crop for crop in {p.crop for p in context.plan.plantings} if table.acts_beyond(crop, NEAR_M)}
    acting = {p.id for p in context.plan.plantings if p.crop in crops} if crops else set()
    far = near.pairs(table.reach_m, of=acting) if acting else ()
    return [*near.pairs(NEAR_M), *(one for one in far if one.metres is not None and one.metres > NEAR_M)]


def _judge(context: Context, spoken: Spoken, near: Neighbour) -> _Met | None:
    a, b = (near.one, near.other) if near.one.crop is spoken.a else (near.other, near.one)
    unmet = [] if spoken.sure else [_meant(spoken)]
    unmet += [condition.words for condition in judged(spoken.pair, a, b, near, context) if not condition.holds]
    if unmet and spoken.rule.points <= 0:
        return None
    return _Met(a, b, near, tuple(unmet))


def _meant(spoken: Spoken) -> str:
    """What a word for several crops leaves open."""
    words = [
        crop.plural
        for side, crop in ((spoken.pair.a, spoken.a), (spoken.pair.b, spoken.b))
        if side.match(crop) == "maybe"
    ]
    return f'it is the right kind that stands under "{words[0]}"'


def _hit(context: Context, rule: Rule, bed: str, met: list[_Met]) -> Hit:
    acting, acted_on = _each(one.a for one in met), _each(one.b for one in met)
    plantings = tuple(dict.fromkeys((*acted_on, *acting)))
    words = {
        "a": names_of(acting),
        "b": names_of(acted_on),
        "bed": context.bed_name(bed),
        "crops": names_of(plantings),
    }
    because: dict[str, Evidence] = {
        "partner": tuple(p.id for p in acting),
        "crop": tuple(p.id for p in acted_on),
        "days_together": max(one.near.days for one in met),
    }
    metres = [one.near.metres for one in met if one.near.metres is not None]
    if metres:
        because["metres"] = round(min(metres), 1)
    if rule.compiled.pests:
        because["pests"] = rule.compiled.pests
    return Hit(
        tuple(dict.fromkeys((bed, *(p.bed for p in acting)))),
        plantings,
        words,
        because,
        unmet=met[0].unmet,
    )


def _each(plantings: Iterator[Planting]) -> tuple[Planting, ...]:
    return tuple(sorted(dict.fromkeys(plantings), key=lambda p: (p.start, p.crop.id, p.id)))
