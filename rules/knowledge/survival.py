"""How long pests live on in cleared ground, by the word for where they winter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rules.knowledge.factreader import FactReader
from rules.knowledge.facts import Pest
from rules.knowledge.factshapes import NEEDED
from rules.knowledge.pestshapes import OVERWINTERS
from rules.knowledge.shapes import Key, did_you_mean
from rules.knowledge.yamlfile import Located

#: The entry for pests that do not winter in their bed.
BARE = "bare"
_SURVIVAL = {"days": Key("whole", needed=True), "basis": NEEDED, "src": Key("words", needed=True)}


@dataclass(frozen=True, slots=True, eq=False)
class Survival:
    """Days that a pest lives on without a host in its ground, and what the figure rests on."""

    days: int
    basis: str
    sources: tuple[str, ...]


def read_survival(located: Located, reader: FactReader) -> Mapping[str, Survival]:
    """The survival of every word of ``pestshapes.OVERWINTERS``; a fault for each that is missing or unknown."""
    entries = dict(reader.entries(located, "survival", _SURVIVAL))
    words = (BARE, *OVERWINTERS)
    for word, value in entries.items():
        if word not in words:
            reader.fault(word, (), f"unknown word for winter quarters {word!r}{did_you_mean(word, words)}")
        elif value["days"] < 0:
            reader.fault(word, ("days",), "days (0 or more) are needed")
    for word in words if entries else ():
        if word not in entries:
            reader.add(located, ("survival",), f"the survival of {word!r} is missing")
    return {
        word: Survival(v["days"], v["basis"], reader.src(v["src"], word, "src"))
        for word, v in entries.items()
        if word in words
    }


def days_in_ground(pest: Pest, survival: Mapping[str, Survival]) -> int:
    """How many days a pest lives on where its host was cleared."""
    stays = pest.emerges_from_bed in ("yes", "partly")
    return survival[pest.overwinters if stays else BARE].days
