"""How far pests get by themselves, by the word for their mobility."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rules.knowledge.factreader import FactReader
from rules.knowledge.factshapes import NEEDED
from rules.knowledge.pestshapes import MOBILITY
from rules.knowledge.shapes import Key, did_you_mean
from rules.knowledge.yamlfile import Located

_REACH = {"metres": Key("number", needed=True), "basis": NEEDED, "src": Key("words", needed=True)}


@dataclass(frozen=True, slots=True, eq=False)
class Reach:
    """How far a pest gets within a season, in metres, and what the figure rests on."""

    metres: float
    basis: str
    sources: tuple[str, ...]


def read_reach(located: Located, reader: FactReader) -> Mapping[str, Reach]:
    """The reach of every word of ``pestshapes.MOBILITY``; a fault for each that is missing or unknown."""
    entries = dict(reader.entries(located, "reach", _REACH))
    for word in entries:
        if word not in MOBILITY:
            reader.fault(word, (), f"unknown word for mobility {word!r}{did_you_mean(word, MOBILITY)}")
        elif entries[word]["metres"] < 0:
            reader.fault(word, ("metres",), "metres (0 or more) are needed")
    told = located.value.get("reach") if isinstance(located.value, dict) else None
    if isinstance(told, dict):
        for word in (word for word in MOBILITY if word not in told):
            reader.add(located, ("reach",), f"the reach of {word!r} is missing")
    return {
        word: Reach(v["metres"], v["basis"], reader.src(v["src"], word, "src"))
        for word, v in entries.items()
        if word in MOBILITY
    }
