"""When crops go into the ground where they are to grow, where that does not follow from their hardiness alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from rules.knowledge.common import Hardiness, is_span
from rules.knowledge.factreader import FactReader
from rules.knowledge.shapes import Key, did_you_mean
from rules.knowledge.yamlfile import Located

#: How a crop takes to a greenhouse: it is the place for it, it does no harm, or ("no") it belongs outside.
Glass = Literal["best", "fine", "no"]
_SETTING = {
    "hardiness": Key("text"),
    "spring": Key("any"),
    "autumn": Key("any"),
    "glass": Key("text"),
    "src": Key("maps", needed=True),
}


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """Days on which a crop is set, first and last, and whether it likes a greenhouse.

    ``spring`` counts from the median last spring frost, ``autumn``, for what is to stand over winter, from the median
    first autumn frost (negative: before it).  With ``autumn`` alone it is set at no other time.
    """

    hardiness: Hardiness | None
    spring: tuple[int, int] | None
    autumn: tuple[int, int] | None
    glass: Glass
    sources: Mapping[str, tuple[str, ...]]


def read_setting(
    located: Located, reader: FactReader, crops: Mapping[str, object], classes: Mapping[str, Hardiness]
) -> dict[str, Setting]:
    """The settings by crop; a fault for each unknown crop or word and for days that are no span."""
    found: dict[str, Setting] = {}
    for i, v in reader.entries(located, "setting", _SETTING):
        hardiness, glass = v.get("hardiness"), v.get("glass", "no")
        if i not in crops:
            reader.fault(i, (), f"unknown crop {i!r}{did_you_mean(i, crops)}")
        elif hardiness is not None and hardiness not in classes:
            reader.fault(i, ("hardiness",), f"unknown hardiness {hardiness!r}{did_you_mean(hardiness, classes)}")
        elif glass not in ("best", "fine", "no"):
            reader.fault(i, ("glass",), "write best or fine, or leave it out")
        elif wrong := [key for key in ("spring", "autumn") if not is_span(v.get(key))]:
            reader.fault(i, (wrong[0],), "two numbers of days are needed, the smaller first")
        else:
            spring, autumn = ((v[key][0], v[key][1]) if key in v else None for key in ("spring", "autumn"))
            sources = reader.srcs(v["src"], i)
            found[i] = Setting(classes[hardiness] if hardiness else None, spring, autumn, glass, sources)
    return found
