"""Two crops by the words that people use for them, and what is known of the pair as plain values.

``service.schemas.pairs`` documents the shape; the pages and the command write the same in words.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, NamedTuple

from rules.knowledge.facts import FALLOW, Crop, Disease
from rules.knowledge.known import Knowledge
from rules.pairing.answer import PairAnswer, Shared, Statement
from service.entries import cautions, grounds
from service.schemas.words import LONGEST_NAME
from service.words import as_list, capital

Plain = dict[str, Any]

#: Crops that stand for a family that was named in place of a crop.
_SAMPLE = 3


class NoCrop(NamedTuple):
    """Why a word names no crop: what it is, what to write in its place, and the ids of that."""

    what: str
    hint: str
    nearest: list[str]

    @property
    def sentence(self) -> str:
        """All of it in one or two sentences."""
        return f"{capital(self.what)}." + (f" {capital(self.hint)}." if self.hint else "")


def find_crop(word: str, knowledge: Knowledge) -> Crop | NoCrop:
    """The crop, or the word for several crops, that a word names."""
    crop = knowledge.find_crop(word) if len(word) <= LONGEST_NAME else None
    if crop is None:
        return _no_crop(word, knowledge)
    return NoCrop(f"{word!r} is empty ground, not a crop", "", []) if crop.id == FALLOW else crop


def _no_crop(word: str, knowledge: Knowledge) -> NoCrop:
    shown = word[:LONGEST_NAME]
    if word.strip().casefold() in knowledge.rules:
        return NoCrop(f"{shown!r} is a rule, not a crop", "name the two crops that it speaks of", [])
    family = knowledge.find_family(word) if len(word) <= LONGEST_NAME else None
    if family is not None:
        sample = [crop for crop in knowledge.crops.values() if crop.family == family][:_SAMPLE]
        hint = f"name one of its crops, such as {as_list(crop.name for crop in sample)}" if sample else ""
        return NoCrop(f"{shown!r} is a plant family, not a crop", hint, [crop.id for crop in sample])
    trouble = knowledge.find_trouble(word) if len(word) <= LONGEST_NAME else None
    if trouble is not None:
        kind = "disease" if isinstance(trouble, Disease) else "pest"
        return NoCrop(f"{shown!r} is a {kind}, not a crop", "", [])
    near = knowledge.nearest(word) if len(word) <= LONGEST_NAME else []
    found = (knowledge.find_crop(name) for name in near)
    hint = f"nearest: {', '.join(near)}" if near else ""
    return NoCrop(f"no crop is called {shown!r}", hint, list(dict.fromkeys(crop.id for crop in found if crop)))


def pair_entry(answer: PairAnswer, knowledge: Knowledge) -> Plain:
    """What is known of two crops side by side."""
    return {
        "a": _crop(answer.a),
        "b": _crop(answer.b),
        "verdict": answer.verdict,
        "summary": answer.summary,
        "points": dict(answer.points),
        "statements": [_statement(one, knowledge) for one in answer.statements],
        "family": answer.family,
        "shared_pests": [_shared(one) for one in answer.shared_pests],
        "shared_diseases": [_shared(one) for one in answer.shared_diseases],
        "traits": list(answer.traits),
        "notes": list(notes(answer, knowledge)),
    }


def notes(answer: PairAnswer, knowledge: Knowledge) -> Iterator[str]:
    """How the answer is to be read."""
    if answer.a.id == answer.b.id:
        return
    if not answer.statements:
        yield "No trial, guidance or saying about this pair is on record here; that is not the same as harmless."
    if any(one.conditions and one.points for one in answer.statements):
        yield "Points count only where every condition of a statement is met."
    for one in answer.statements:
        if one.behind is None and not one.sure:
            yield f"{one.rule} {meant(one, knowledge)}"
    for crop in (answer.a, answer.b):
        if crop.members:
            members = as_list(knowledge.crops[key].plural for key in crop.members if key in knowledge.crops)
            yield f'"{capital(crop.plural)}" here means {members}; what is said holds for all of them.'


def meant(one: Statement, knowledge: Knowledge) -> str:
    """Which of several crops a statement holds for, where a word stands for more than it speaks of."""
    pair = knowledge.rules[one.rule].compiled
    told = []
    for side, crop in ((pair.a, one.acts), (pair.b, one.on)):
        if side.match(crop) == "maybe":
            held = [knowledge.crops[key].plural for key in crop.members if side.match(knowledge.crops[key]) == "yes"]
            told.append(f"{as_list(held)}, not for all {crop.plural}")
    return f"holds for {'; and for '.join(told)}, so it is not counted."


def _crop(crop: Crop) -> Plain:
    return {"id": crop.id, "name": crop.name, "plural": crop.plural, "members": sorted(crop.members)}


def _shared(one: Shared) -> Plain:
    return {"id": one.id, "name": one.name, "wide": one.wide}


def _statement(one: Statement, knowledge: Knowledge) -> Plain:
    return {
        "rule": one.rule,
        "severity": one.severity,
        "acts": one.acts.id,
        "on": one.on.id,
        "both_ways": one.both_ways,
        "about": one.about,
        "title": one.title,
        "why": one.why,
        "fix": one.fix,
        "effect": one.effect,
        "points": one.points,
        "pests": list(one.pests),
        "conditions": list(one.conditions),
        "measured": [asdict(figure) for figure in one.measured],
        "evidence": grounds(one.evidence),
        "against": one.against,
        "cautions": cautions(one.cautions, knowledge),
        "sure": one.sure,
        "behind": one.behind,
    }
