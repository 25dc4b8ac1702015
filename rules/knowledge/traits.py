"""Traits of crops: the words they are written in, their shape in the fact files, and how they are read.

A crop's ``traits:`` is a map of values and, under ``src``, the source keys of each value.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import TYPE_CHECKING, Any

from rules.knowledge.facts import Crop, Traits
from rules.knowledge.shapes import Key

if TYPE_CHECKING:
    from rules.knowledge.factreader import FactReader

HEIGHTS = ("low", "low_to_medium", "medium", "medium_to_tall", "tall")
ROOTS = ("shallow", "medium", "deep")
FEEDERS = ("light", "light_medium", "medium", "medium_heavy", "heavy", "fixer")
POLLINATION = ("none", "self", "wind", "insect")
PARTS = ("root", "bulb", "stem", "leaf", "head", "flower", "fruit", "seed", "pod", "tuber", "none")
#: Ranges and the most that each may be, in cm.
RANGES = {"root_cm": 500.0, "in_row_cm": 2000.0, "between_rows_cm": 2000.0, "each_way_cm": 2000.0}
#: Single figures and the range that each may lie in (shares; crop coefficients of FAO-56).
FIGURES = {"depletion": (0.05, 0.95), "kc_mid": (0.1, 1.6)}

TRAITS = {
    "height": Key("text", among=HEIGHTS),
    "habit": Key("text"),
    "roots": Key("text", among=ROOTS),
    "feeder": Key("text", among=FEEDERS),
    "fixes_nitrogen": Key("yes/no"),
    "pollination": Key("text", among=POLLINATION),
    "part": Key("text", among=PARTS),
    "soil_contact": Key("yes/no"),
    "small_seed": Key("yes/no"),
    "src": Key("maps", needed=True),
    **dict.fromkeys(RANGES, Key("any")),
    **dict.fromkeys(FIGURES, Key("number")),
}
FIELDS = tuple(field.name for field in fields(Traits))


def read_traits(reader: FactReader, crop: str, value: Mapping[str, Any] | None) -> Traits:
    """The traits of a crop's entry; a fault of the reader for each value that cannot be."""
    if value is None:
        return Traits()
    given = {name: value[name] for name in FIELDS if name in value}
    for name, most in RANGES.items():
        if name in given:
            given[name] = _pair(reader, crop, name, given[name], most)
    for name, (least, most) in FIGURES.items():
        if name in given and not least <= given[name] <= most:
            reader.fault(crop, ("traits", name), f"a figure from {least:g} to {most:g} is needed")
    if given.get("feeder") == "fixer" and not given.get("fixes_nitrogen"):
        reader.fault(crop, ("traits", "feeder"), "a fixer fixes nitrogen; set fixes_nitrogen: true")
    return Traits(**given)


def trait_sources(reader: FactReader, crop: str, value: Mapping[str, Any] | None) -> dict[str, tuple[str, ...]]:
    """The source keys of each trait; a fault for a trait without its source, and for a source without its trait."""
    if value is None:
        return {}
    for name in FIELDS:
        if name in value and name not in value["src"]:
            reader.fault(crop, ("traits", name), f"src does not name the source of {name}")
    for name in value["src"]:
        if name not in value or name not in FIELDS:
            reader.fault(crop, ("traits", "src", name), f"src names {name!r}, which is not given here")
    return {name: reader.src(keys, crop, "traits", "src", name) for name, keys in value["src"].items()}


def shared(crops: Iterable[Crop]) -> Traits:
    """What all of some crops share: equal words and figures, and of ranges the envelope where every crop has one."""
    every = [crop.traits for crop in crops]
    if not every:
        return Traits()
    common: dict[str, Any] = {}
    for name in FIELDS:
        values = [getattr(one, name) for one in every]
        if None in values:
            continue
        if name in RANGES:
            common[name] = (min(low for low, _ in values), max(high for _, high in values))
        elif len(set(values)) == 1:
            common[name] = values[0]
    return Traits(**common)


def _pair(reader: FactReader, crop: str, name: str, value: Any, most: float) -> tuple[float, float] | None:
    numbers = isinstance(value, list) and all(isinstance(n, int | float) and not isinstance(n, bool) for n in value)
    if numbers and len(value) == 2 and 0 < value[0] <= value[1] <= most:
        return value[0], value[1]
    reader.fault(crop, ("traits", name), f"two numbers of cm up to {most:g} are needed, the smaller first")
    return None
