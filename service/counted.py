"""So many of a crop, as gardeners count them: 40 garlic cloves go in, 38 plants stand, 36 bulbs come out."""

from __future__ import annotations

from typing import Literal

from rules.knowledge.facts import Crop
from service.answers.spoken import short
from service.schemas.words import number_text

#: When they are counted: as they are sown or set out, while they stand, as they are picked.
Stage = Literal["sown", "planted", "stands", "picked"]

#: What is set of crops whose name is not counted.
_SET = {"garlic": "clove", "elephant_garlic": "clove", "asparagus": "crown", "rhubarb": "crown"}
#: What is picked of them, where the part that is eaten does not tell.
_PICKED = {
    "asparagus": "spear", "rhubarb": "stick", "sweet_corn": "cob", "field_corn": "cob", "celery": "head",
    "florence_fennel": "bulb", "pak_choi": "head", "chicory": "head",
}  # fmt: skip
#: Picked, these are counted by their own name, which is the same for one and many.
_ALIKE = frozenset({"beet", "celeriac", "daikon_radish", "kohlrabi"})
_PARTS = {"bulb": "bulb", "head": "head", "root": "root", "pod": "pod", "flower": "head"}
#: Parts whose name alone, while the crop stands, would be taken for what it bears.
_BORNE = frozenset({"fruit", "seed", "pod", "tuber"})


def plants(crop: Crop | None, count: int | None, stage: Stage = "stands") -> str:
    """ "12 cabbages", "1 cabbage", "12 kale plants", "40 garlic cloves", "5 tomato plants", "cabbages"."""
    if crop is None:
        return "plants" if count is None else f"{number_text(count)} {_many('plant', count)}"
    if count is None:
        return short(crop.plural)
    if thing := _thing(crop, stage):
        return f"{number_text(count)} {short(crop.name)} {_many(thing, count)}"
    return f"{number_text(count)} {short(crop.name if count == 1 else crop.plural)}"


def _thing(crop: Crop, stage: Stage) -> str | None:
    """What is counted of a crop; None where its own name is."""
    if crop.kind == "own":  # seed, tuber or cutting: not known
        return "plant"
    if not crop.uncounted:
        return "plant" if stage == "stands" and (crop.traits.part in _BORNE or crop.name == "Brussels sprout") else None
    if stage in ("sown", "planted"):
        return _SET.get(crop.id) or ("seed" if stage == "sown" else "plant")
    if stage == "picked" and crop.id in _ALIKE:
        return None
    if stage == "picked":
        return _PICKED.get(crop.id) or _PARTS.get(crop.traits.part or "") or "plant"
    return "plant"


def _many(thing: str, count: int) -> str:
    return thing if count == 1 else f"{thing}s"
