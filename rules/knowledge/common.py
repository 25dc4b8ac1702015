"""Crops that most gardens grow, and how much frost they stand: when each may go into open ground."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rules.knowledge.factreader import FactReader
from rules.knowledge.facts import Crop
from rules.knowledge.shapes import Key, did_you_mean
from rules.knowledge.yamlfile import Located

_SRC = Key("maps", needed=True)
_DAYS = Key("whole", needed=True)
_HARDINESS = {"from_last_frost": _DAYS, "before_first_frost": _DAYS, "src": _SRC}
_COMMON = {"hardiness": Key("text", needed=True), "autumn": Key("any"), "src": _SRC}


@dataclass(frozen=True, slots=True, eq=False)
class Hardiness:
    """How much frost crops stand, as days: the first to set them, and how long before frost to begin picking.

    ``from_last_frost`` counts from the median last spring frost and is negative before it;
    ``before_first_frost`` are days from the first harvest to the median first autumn frost.
    """

    id: str
    from_last_frost: int
    before_first_frost: int
    sources: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Common:
    """A crop that most gardens grow; ``autumn`` are days from the first autumn frost to set it for winter."""

    crop: Crop
    hardiness: Hardiness
    autumn: tuple[int, int] | None
    sources: Mapping[str, tuple[str, ...]]


def read_hardiness(located: Located, reader: FactReader) -> dict[str, Hardiness]:
    """The classes of hardiness by id."""
    return {
        i: Hardiness(i, v["from_last_frost"], v["before_first_frost"], reader.srcs(v["src"], i))
        for i, v in reader.entries(located, "hardiness", _HARDINESS)
    }


def read_common(
    located: Located, reader: FactReader, crops: Mapping[str, Crop], classes: Mapping[str, Hardiness]
) -> dict[str, Common]:
    """The common crops by id, in the order in which they are offered; a fault for each unknown crop or class."""
    found: dict[str, Common] = {}
    for i, v in reader.entries(located, "common", _COMMON):
        if i not in crops:
            reader.fault(i, (), f"unknown crop {i!r}{did_you_mean(i, crops)}")
        elif v["hardiness"] not in classes:
            word = v["hardiness"]
            reader.fault(i, ("hardiness",), f"unknown hardiness {word!r}{did_you_mean(word, classes)}")
        elif not is_span(v.get("autumn")):
            reader.fault(i, ("autumn",), "two numbers of days are needed, the smaller first")
        else:
            autumn = (v["autumn"][0], v["autumn"][1]) if "autumn" in v else None
            found[i] = Common(crops[i], classes[v["hardiness"]], autumn, reader.srcs(v["src"], i))
    return found


def is_span(value: object) -> bool:
    """True for two whole numbers, the smaller first, and for nothing at all."""
    if value is None:
        return True
    whole = isinstance(value, list) and len(value) == 2 and all(type(number) is int for number in value)
    return whole and value[0] <= value[1]  # type: ignore[index]
