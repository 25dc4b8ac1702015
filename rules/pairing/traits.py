"""What follows from the traits of two crops that stand side by side: height, roots, water, feeding.

These are conclusions from the crops' own facts, not findings of trials; they carry no points.
"""

from __future__ import annotations

from collections.abc import Iterator

from rules.knowledge.facts import Crop

#: Heights in steps; one that is taller by two steps or more shades the other.
_STEPS = {"low": 0, "low_to_medium": 1, "medium": 2, "medium_to_tall": 3, "tall": 4}
_SHADES = 2
#: FAO-56 depletion fractions (share of the soil's water that may be used up before the crop
#: suffers) that differ by this much or more ask for different watering (judgement).
_THIRST = 0.15
_HUNGRY = ("heavy", "medium_heavy")
_TREE = "tree"


def compare(a: Crop, b: Crop) -> Iterator[str]:
    """Sentences on what the two crops' traits mean for each other; nothing where they are not known."""
    if a.id == b.id:
        return
    yield from _height(a, b)
    yield from _roots(a, b)
    yield from _water(a, b)
    yield from _feeding(a, b)


def _height(a: Crop, b: Crop) -> Iterator[str]:
    trees = [crop for crop in (a, b) if crop.traits.habit == _TREE]
    if len(trees) == 1:
        other = b if trees[0] is a else a
        yield f"Height: {trees[0].plural} are trees and will shade {other.plural} for good."
        return
    heights = a.traits.height, b.traits.height
    if heights[0] is None or heights[1] is None:
        return
    tall, low = (a, b) if _STEPS[heights[0]] >= _STEPS[heights[1]] else (b, a)
    if abs(_STEPS[heights[0]] - _STEPS[heights[1]]) >= _SHADES:
        grows = _does(tall, "grow")
        yield f"Height: {grows} taller and will shade {low.plural}; set the taller on the side away from the sun."
    else:
        yield f"Height: {a.plural} and {b.plural} grow to much the same height."


def _roots(a: Crop, b: Crop) -> Iterator[str]:
    depths = a.traits.roots, b.traits.roots
    if None in depths or _TREE in (a.traits.habit, b.traits.habit):
        return
    if depths[0] == depths[1]:
        yield f"Roots: both root {_depth(depths[0])}, so they draw on the same layer of soil."
    else:
        yield (
            f"Roots: {_does(a, 'root')} {_depth(depths[0])} and {b.plural} {_depth(depths[1])}, "
            "so they draw less on the same layer of soil."
        )


def _depth(depth: str | None) -> str:
    return {"shallow": "near the surface", "medium": "to a middling depth", "deep": "deep down"}[depth or "medium"]


def _water(a: Crop, b: Crop) -> Iterator[str]:
    first, second = a.traits.depletion, b.traits.depletion
    if first is None or second is None:
        return
    if abs(first - second) >= _THIRST:
        thirsty, other = (a, b) if first < second else (b, a)
        wants, stands = _does(thirsty, "want"), _does(other, "stand")
        yield f"Water: {wants} soil that stays moist, {stands} more drying between waterings."
    else:
        yield "Water: both want to be watered about as often."


def _feeding(a: Crop, b: Crop) -> Iterator[str]:
    fixing = [crop for crop in (a, b) if crop.traits.fixes_nitrogen]
    if len(fixing) == 1:
        other = b if fixing[0] is a else a
        fixes = _does(fixing[0], "fix", "es")
        yield (
            f"Feeding: {fixes} nitrogen, but little of it reaches {other.plural} in the same season; "
            "the gain is for the crop that follows."
        )
    elif a.traits.feeder in _HUNGRY and b.traits.feeder in _HUNGRY:
        yield "Feeding: both are hungry, so feed the bed for two."


def _does(crop: Crop, verb: str, ending: str = "s") -> str:
    """A crop and what it does: "onions root", "borage roots"."""
    return f"{crop.plural} {verb}{ending if crop.uncounted else ''}"
