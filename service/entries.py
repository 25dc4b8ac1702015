"""Entries of knowledge as plain values, and the collections that are served under ``/v1``.

Everything is made once for each knowledge and kept; ``service.schemas.knowledge`` documents
the shapes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from rules.knowledge.explain import explained
from rules.knowledge.facts import Control, Crop, Disease, Family, Maturity, Pest, Source, Traits
from rules.knowledge.known import Knowledge
from rules.knowledge.names import normal
from rules.knowledge.pestshapes import STEPS, VOCABULARY
from rules.report import Grounds
from service.encode import to_bytes

Plain = dict[str, Any]


class Kept(NamedTuple):
    """An entry ready to be sent: its id, its values, its bytes, and the words it is found by."""

    id: str
    value: Plain
    body: bytes
    brief: Plain
    words: frozenset[str]


@dataclass(frozen=True, slots=True)
class Collection:
    """All entries of one kind, by id in the order of the ids; ``names`` leads names to ids."""

    entries: Mapping[str, Kept]
    names: Mapping[str, str]

    def search(self, query: str | None, after: str | None, limit: int) -> tuple[list[Plain], str | None]:
        """Entries that have every word of ``query``, from the first id after ``after``.

        Returns at most ``limit`` entries and the id to go on after, None at the end.
        """
        wanted = normal(query).split() if query else []
        found: list[Kept] = []
        for key, kept in self.entries.items():
            if after is not None and key <= after:
                continue
            if all(any(word.startswith(start) for word in kept.words) for start in wanted):
                if len(found) == limit:
                    return [one.brief for one in found], found[-1].id
                found.append(kept)
        return [one.brief for one in found], None


def crop(one: Crop, knowledge: Knowledge) -> Plain:
    """A crop of the catalogue."""
    return {
        "id": one.id,
        "name": one.name,
        "plural": one.plural,
        "aliases": sorted(one.aliases),
        "scientific": one.scientific,
        "family": one.family,
        "kind": one.kind,
        "lifecycle": one.lifecycle,
        "maturity": _maturity(one.maturity),
        "over_winter": _maturity(one.over_winter),
        "stands_days": one.stands,
        "note": one.note,
        "traits": _traits(one.traits),
        "groups": sorted(group.id for group in knowledge.groups.values() if one.id in group.members),
        "sources": _sources(one.sources),
    }


def group(one: Crop, knowledge: Knowledge) -> Plain:
    """A word that stands for several crops."""
    return {
        "id": one.id,
        "name": one.name,
        "plural": one.plural,
        "aliases": sorted(one.aliases),
        "members": sorted(one.members),
        "families": sorted(one.families or {one.family} - {""}),
        "traits": _traits(one.traits),
        "sources": _sources(one.sources),
    }


def family(one: Family, knowledge: Knowledge) -> Plain:
    """A family with its break and its crops."""
    view = one.other_view
    other = view and {"crops": sorted(view.crops), "text": view.text, "sources": list(view.sources)}
    return {
        "id": one.id,
        "name": one.name,
        "old_name": one.old_name,
        "least": one.least,
        "better": one.better,
        "exempt": one.exempt,
        "confused": one.confused,
        "other_view": other,
        "crops": sorted(crop.id for crop in knowledge.crops.values() if crop.family == one.id),
        "sources": _sources(one.sources),
    }


def disease(one: Disease, knowledge: Knowledge) -> Plain:
    """A disease with its hosts and years."""
    plain = {name: _plain(getattr(one, name)) for name in Disease.__dataclass_fields__}
    return {**plain, "sources": _sources(one.sources)}


def pest(one: Pest, knowledge: Knowledge) -> Plain:
    """A pest with its hosts, what its words mean, and the controls meant for it, least harm first."""
    plain = {name: _plain(getattr(one, name)) for name in Pest.__dataclass_fields__}
    means = {name: words[plain[name]] for name, words in VOCABULARY.items() if plain[name] is not None}
    return {
        **plain,
        "means": means,
        "controls": [control.id for control in knowledge.controls_of(one.id)],
        "cautions": cautions(one.cautions, knowledge),
        "sources": _sources(one.sources),
    }


def control(one: Control, knowledge: Knowledge) -> Plain:
    """A control with its cautions in full: whoever reads the one must read the others."""
    plain = {name: _plain(getattr(one, name)) for name in Control.__dataclass_fields__}
    return {
        **plain,
        "means": {"step": STEPS[one.step]},
        "cautions": cautions(one.cautions, knowledge),
        "sources": _sources(one.sources),
    }


def rule(one: Any, knowledge: Knowledge) -> Plain:
    """A rule with its reasons, evidence and examples."""
    page = explained(one, knowledge)
    return {
        **rule_brief(one),
        "effect": one.effect,
        "looks_at": list(page.looks_at),
        "why": one.why,
        "fix": one.fix,
        "options": _plain(one.options),
        "exceptions": list(one.exceptions),
        "measured": [asdict(figure) for figure in page.measured],
        "evidence": grounds(one.evidence),
        "against": page.against,
        "cautions": list(one.cautions),
        "examples": _plain(one.examples),
    }


def rule_brief(one: Any) -> Plain:
    """A rule as the list shows it."""
    return {
        "id": one.id,
        "title": one.title,
        "kind": one.kind,
        "severity": one.severity,
        "points": one.points,
        "since": str(one.since),
    }


def source(one: Source, knowledge: Knowledge) -> Plain:
    """A publication."""
    return asdict(one)


MAKERS: dict[str, Callable[[Any, Knowledge], Plain]] = {
    "crops": crop,
    "groups": group,
    "families": family,
    "diseases": disease,
    "pests": pest,
    "controls": control,
    "rules": rule,
    "sources": source,
}


@lru_cache(maxsize=16)
def collection(knowledge: Knowledge, kind: str) -> Collection:
    """A collection of this knowledge, made at its first use."""
    things: Mapping[str, Any] = getattr(knowledge, kind)
    make = MAKERS[kind]
    entries: dict[str, Kept] = {}
    names: dict[str, str] = {}
    for key in sorted(things):
        value = make(things[key], knowledge)
        brief = rule_brief(things[key]) if kind == "rules" else value
        entries[key] = Kept(key, value, to_bytes(value), brief, _words(value))
        for name in (key, value.get("name"), value.get("old_name"), *value.get("aliases", ())):
            if name:
                names.setdefault(normal(name), key)
    return Collection(entries, names)


def _words(value: Plain) -> frozenset[str]:
    texts = [value.get(key) for key in ("id", "name", "plural", "scientific", "family", "old_name", "group")]
    texts += [value.get("title"), value.get("publisher"), value.get("pathogen"), *value.get("aliases", ())]
    return frozenset(word for text in texts if text for word in normal(text.replace(".", " ")).split())


def _maturity(days: Maturity | None) -> Plain | None:
    return days and {"days": [days.least, days.most], "from": days.counted_from}


def _traits(traits: Traits) -> Plain:
    return {name: _plain(value) for name, value in asdict(traits).items()}


def _sources(sources: Mapping[str, tuple[str, ...]]) -> Plain:
    return {name: list(keys) for name, keys in sorted(sources.items())}


def cautions(keys: tuple[str, ...], knowledge: Knowledge) -> list[Plain]:
    """Cautions in full, with who to defer to."""
    known = (knowledge.cautions[key] for key in keys)
    return [{"id": one.id, "text": one.text, "defer_to": one.defer_to, "sources": list(one.sources)} for one in known]


def grounds(found: Grounds) -> Plain:
    """How strong the evidence is, and where it stands."""
    return {
        "grade": found.grade,
        "sources": list(found.sources),
        "contested_by": list(found.contested_by),
    }


def _plain(value: Any) -> Any:
    if isinstance(value, frozenset | set):
        return sorted(value)
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value
