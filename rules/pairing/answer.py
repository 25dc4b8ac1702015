"""What is known of two crops side by side: the answer to "does this go with that?".

The same table that judges a plan answers here, without a plan: so conditions are told, not
judged, and points are what the pair is worth where they hold.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from rules.checks.conditions import conditions_in_words
from rules.checks.context import sentence
from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.knowledge.pairrows import ABOUT, Measured
from rules.knowledge.pairtable import Spoken
from rules.knowledge.selectors import TRAIT, Selector
from rules.pairing.traits import compare
from rules.report import Effect, Grounds, Severity

#: "good" and "poor" where all that counts points one way, "mixed" where it points both ways,
#: "no_effect" where it was looked at or is only said, "unknown" where no rule speaks for certain.
PairVerdict = Literal["good", "poor", "mixed", "no_effect", "unknown"]
#: Of a word for several crops so many are named one by one.
_MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class Statement:
    """One rule that speaks for the pair; ``acts`` is the crop that acts, ``on`` the one acted on.

    ``conditions`` each complete "only if ..."; ``points`` count where all of them hold.
    ``pests`` are the names of the pests and diseases that it is about; ``behind`` names a more
    specific rule that is counted instead; ``general`` is True where the rule speaks of all crops of
    a trait and not of these.
    """

    rule: str
    severity: Severity
    acts: Crop
    on: Crop
    both_ways: bool
    about: str
    title: str
    why: str
    fix: str
    effect: Effect
    points: int
    pests: tuple[str, ...]
    conditions: tuple[str, ...]
    measured: tuple[Measured, ...]
    evidence: Grounds
    against: str | None
    cautions: tuple[str, ...]
    sure: bool
    behind: str | None
    general: bool


@dataclass(frozen=True, slots=True)
class Shared:
    """A pest or disease that both crops feed; ``wide`` for one that feeds on most crops."""

    id: str
    name: str
    wide: bool


@dataclass(frozen=True, slots=True)
class PairAnswer:
    """All that is known of two crops side by side.

    ``points`` hold the sums by effect of the statements that count; ``family`` is the family
    that both belong to, if they do; ``traits`` are sentences on height, roots, water and feeding.
    """

    a: Crop
    b: Crop
    verdict: PairVerdict
    summary: str
    points: dict[str, int]
    statements: tuple[Statement, ...]
    family: str | None
    shared_pests: tuple[Shared, ...]
    shared_diseases: tuple[Shared, ...]
    traits: tuple[str, ...]


def pairs(a: Crop, b: Crop, knowledge: Knowledge) -> PairAnswer:
    """What is known of two crops (or words for several) side by side; the same whichever is named first."""
    told = knowledge.pairs.between(a, b)
    statements = tuple(
        sorted(
            (_statement(spoken, knowledge) for spoken in told),
            key=lambda one: (one.behind is not None, not one.sure, -abs(one.points), one.rule, one.acts.id),
        )
    )
    points = {"pest": 0, "yield": 0}
    for one in statements:
        if one.behind is None and one.sure and one.effect in points:
            points[one.effect] += one.points
    family = a.family if a.family and a.family == b.family else None
    verdict = _verdict(statements)
    return PairAnswer(
        a,
        b,
        verdict,
        _summary(a, b, verdict, statements, family, knowledge),
        points,
        statements,
        family,
        _shared_pests(a, b, knowledge),
        tuple(
            Shared(disease.id, disease.name, False)
            for disease in knowledge.diseases.values()
            if a.id != b.id and a.id in disease.hosts and b.id in disease.hosts
        ),
        tuple(compare(a, b)),
    )


def _statement(spoken: Spoken, knowledge: Knowledge) -> Statement:
    rule, pair = spoken.rule, spoken.pair
    a, b = _meant(pair.a, spoken.a, knowledge), _meant(pair.b, spoken.b, knowledge)
    words = {
        "a": a.plural,
        "b": b.plural,
        "bed": "a bed" if pair.only_if.reach_m else "one bed",
        "crops": f"{a.plural} {'with' if ' and ' in a.plural else 'and'} {b.plural}",
    }
    return Statement(
        rule.id,
        rule.severity,
        spoken.a,
        spoken.b,
        pair.both,
        pair.about,
        sentence(rule.title.format_map(words)),
        sentence(rule.why.format_map(words)),
        sentence(rule.fix.format_map(words)),
        rule.effect,
        rule.points,
        (
            *(knowledge.pests[pest].name for pest in pair.pests),
            *(knowledge.diseases[disease].name for disease in pair.diseases),
            *pair.others,
        ),
        conditions_in_words(pair, a, b),
        pair.measured,
        rule.evidence,
        pair.against,
        rule.cautions,
        spoken.sure,
        spoken.behind,
        spoken.level == TRAIT,
    )


def _meant(side: Selector, crop: Crop, knowledge: Knowledge) -> Crop:
    """A crop as a statement names it: of a word for several, the few that the statement holds for."""
    held = [knowledge.crops[key].plural for key in crop.members if side.match(knowledge.crops[key]) == "yes"]
    if side.match(crop) != "maybe" or len(held) > _MOST_NAMED:
        return crop
    return replace(crop, plural=" and ".join(filter(None, (", ".join(held[:-1]), held[-1]))))


def _verdict(statements: tuple[Statement, ...]) -> PairVerdict:
    speaking = [one for one in statements if one.behind is None]
    counted = [one.points for one in speaking if one.sure and one.points]
    if not counted:
        return "unknown" if all(one.points or one.general for one in speaking) else "no_effect"
    if min(counted) > 0:
        return "good"
    return "poor" if max(counted) < 0 else "mixed"


def _summary(
    a: Crop, b: Crop, verdict: PairVerdict, statements: tuple[Statement, ...], family: str | None, knowledge: Knowledge
) -> str:
    """One or two sentences that can be read aloud."""
    if a.id == b.id:
        return f"That is one crop: {a.plural} among {b.plural} are no pair."
    names = f"{sentence(a.plural)} and {b.plural}"
    kin = f" Both are of the {knowledge.family_name(family)}, so group them and rotate them as one." if family else ""
    if verdict == "unknown":
        if any(one.points for one in statements):
            return f"{names}: it depends on the kind; what is known holds for some of them only.{kin}"
        known = "Nothing certain is known" if statements else "Nothing known"
        return f"{known} for or against {a.plural} with {b.plural} as neighbours.{kin}"
    passed_on = next(
        (one for one in statements if one.about == "pest_bridge" and one.behind is None and one.sure), None
    )
    if verdict == "no_effect" and passed_on is not None:
        return f"{passed_on.title}.{kin}"
    if verdict == "no_effect":
        return f"{names}: no effect that can be counted on was found.{kin}"
    counted = [one for one in statements if one.points and one.behind is None and one.sure]
    if verdict == "mixed":
        good = next(one for one in counted if one.points > 0)
        poor = next(one for one in counted if one.points < 0)
        return f"{names} help and hinder: {_effect(good)}, but {_effect(poor)}.{_only_if(good)}{kin}"
    ways = {(one.acts.id, one.on.id) for one in counted} | {("", "") for one in counted if one.both_ways}
    best = counted[0]
    if len(ways) == 1:
        verb = "can help" if verdict == "good" else "can harm"
        lead = f"{sentence(best.acts.plural)} {verb} {best.on.plural}"
    else:
        lead = names + (" can help each other" if verdict == "good" else " get in each other's way")
    return f"{lead}: {_effect(best)}.{_only_if(best)}{kin}"


def _effect(one: Statement) -> str:
    """What an effect is about, in words that follow "can help"."""
    if one.about == "yield":
        return "a better yield" if one.points > 0 else "a lower yield"
    return ABOUT[one.about]


def _only_if(one: Statement) -> str:
    """The conditions of a statement as a sentence, the later ones counted where there are many."""
    if not one.conditions:
        return ""
    first, *more = one.conditions
    if len(more) > 1:
        return f" Only if {first}, and {len(more)} more conditions are met."
    return f" Only if {' and '.join(one.conditions)}."


def _shared_pests(a: Crop, b: Crop, knowledge: Knowledge) -> tuple[Shared, ...]:
    """Pests that both crops feed by name, then those that feed on most crops and hit both."""
    shared = [
        Shared(pest.id, pest.name, pest.wide)
        for pest in knowledge.pests.values()
        if a.id != b.id and a.id in pest.hosts and b.id in pest.hosts
    ]
    return tuple(sorted(shared, key=lambda one: (one.wide, one.id)))
