"""The traits of a crop in words that a member understands."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rules.knowledge.facts import Traits

#: From here on a distance is told to the nearest 5 cm: most were printed in whole inches.
_ROUGH = 20
_FEEDING = {
    "light_medium": "light to medium",
    "medium_heavy": "medium to heavy",
    "fixer": "grown for the nitrogen that it fixes",
}
_POLLINATION = {
    "none": "needs no pollinator",
    "self": "sets by itself",
    "wind": "by wind",
    "insect": "by insects",
}


def trait_lines(traits: Traits) -> Iterator[tuple[str, str]]:
    """Each label with what is known under it: ("roots", "deep, 90 to 120 cm")."""
    height = traits.height and traits.height.replace("_", " ")
    if height or traits.habit:
        yield "grows", ", ".join(word for word in (height, traits.habit) if word)
    if traits.roots:
        yield "roots", traits.roots + (f", {span(traits.root_cm)}" if traits.root_cm else "")
    if traits.feeder or traits.fixes_nitrogen:
        fixes = "fixes nitrogen" if traits.fixes_nitrogen and traits.feeder != "fixer" else None
        feeding = traits.feeder and _FEEDING.get(traits.feeder, traits.feeder)
        yield "feeding", "; ".join(word for word in (feeding, fixes) if word)
    if traits.depletion is not None:
        yield "water", f"water again before {traits.depletion:.0%} of what the soil holds for it is used up"
    ways = {
        "in the row": traits.in_row_cm,
        "between rows": traits.between_rows_cm,
        "each way in a block": traits.each_way_cm,
    }
    spacing = ", ".join(f"{span(cm)} {where}" for where, cm in ways.items() if cm)
    if spacing:
        yield "spacing", spacing
    if traits.pollination and traits.part != "none":
        yield "pollination", _POLLINATION[traits.pollination]
    if traits.part and traits.part != "none":
        touch = {True: ", touched by the soil or its splash", False: ", clear of the soil", None: ""}
        yield "harvest", traits.part + touch[traits.soil_contact]


def span(cm: tuple[float, float]) -> str:
    """A range of distances as people say it.

    >>> span((45.5, 61)), span((2.5, 2.5)), span((91.5, 122))
    ('45 to 60 cm', '2.5 cm', '90 to 120 cm')
    """
    least, most = (f"{5 * round(one / 5) if one >= _ROUGH else one:g}" for one in cm)
    return f"{least} cm" if least == most else f"{least} to {most} cm"
