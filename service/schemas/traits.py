"""The traits of a crop as a schema; ``service.entries`` writes them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from marshmallow import fields, validate

from rules.knowledge.traits import FEEDERS, HEIGHTS, PARTS, POLLINATION, ROOTS
from service.schemas.report import Closed, text


def known_word(about: str, known: Iterable[str]) -> fields.String:
    """A word out of a fixed list, or null where it is not known."""
    return text(about, validate=validate.OneOf([*known, None]), allow_none=True)


def known_yes(about: str) -> fields.Boolean:
    """True, false, or null where it is not known."""
    return fields.Boolean(required=True, allow_none=True, metadata={"description": about})


def span(about: str) -> fields.List[Any]:
    """Least and most, or null where they are not known."""
    return fields.List(
        fields.Float(),
        required=True,
        allow_none=True,
        validate=validate.Length(equal=2),
        metadata={"description": f"least and most in cm: {about}"},
    )


def figure(about: str) -> fields.Float:
    """A number, or null where it is not known."""
    return fields.Float(required=True, allow_none=True, metadata={"description": about})


class TraitsSchema(Closed):
    """How a crop grows, feeds, roots and is eaten; null where it is not known."""

    height = known_word("height class", HEIGHTS)
    habit = text("how it grows, in words", allow_none=True)
    roots = known_word("rooting depth class", ROOTS)
    root_cm = span("how deep most of the roots reach")
    feeder = known_word("how much it takes from the soil; fixer: grown for the nitrogen it makes", FEEDERS)
    fixes_nitrogen = known_yes("it fixes nitrogen from the air")
    pollination = known_word("what the crop that is harvested needs", POLLINATION)
    in_row_cm = span("between plants, or hills of plants, of a row")
    between_rows_cm = span("between rows")
    each_way_cm = span("between plants at one distance in both directions")
    depletion = figure("share of the water a soil holds for plants that may be used up before it suffers (FAO-56 p)")
    kc_mid = figure("crop coefficient at full growth (FAO-56)")
    part = known_word("part that is harvested", PARTS)
    soil_contact = known_yes("the part that is eaten touches the soil or its splash")
    small_seed = known_yes("its seed is fine and sown shallow")
