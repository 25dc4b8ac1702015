"""What is wanted of the years to come: the key ``wishes`` of a plan.

A check reads wishes with the rest, so that their faults are told with all others, and does no more
with them.  Names are looked up in ``rules.reading.wishes``.
"""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, validates_schema

from service.proposing.limits import MOST_YEARS
from service.schemas.fields import DecimalNumber, Name, OneOf, Slug, StrictBool, WholeNumber
from service.schemas.rows import PlainSchema, Rows, Several

MOST_BEDS_NAMED, MOST_WANTED = 5_000, 300
_AMOUNTS = ("beds", "plants", "share")


def _about(text: str) -> dict[str, str]:
    return {"description": text}


def _beds(key: str, about: str) -> Several:
    # "in" is a word of the language, so it cannot be the attribute's own name.
    return Several(Slug(), most=MOST_BEDS_NAMED, data_key=key, attribute=key, metadata=_about(about))


class WishSchema(PlainSchema):
    """A crop that is wanted: how much of it in each year, where, and when; a quarter of a bed if no amount is given.

    A word for several crops of one family, such as beans, leaves the choice to the proposal, which says what it chose.
    """

    crop = Name(required=True)
    beds = DecimalNumber(0, 1000, above=True, metadata=_about("how many beds of middling size; 0.5 is half a bed"))
    plants = WholeNumber(1, 1_000_000, metadata=_about("how many plants, in place of beds"))
    share = DecimalNumber(0, 1, above=True, metadata=_about("what part of all beds, in place of beds"))
    must = StrictBool(metadata=_about("comes before all that is not a must"))
    in_ = _beds("in", "ids of the only beds for it")
    not_in = Several(Slug(), most=MOST_BEDS_NAMED, metadata=_about("ids of beds that are not for it"))
    years = Several(WholeNumber(1900, 2199), most=MOST_YEARS, metadata=_about("only in these growing years"))
    slot = OneOf(
        ("main", "overwinter", "any"),
        metadata=_about("set in the main season, in autumn to stand over winter, or whichever suits it"),
    )

    @validates_schema
    def _one_amount(self, data: dict[str, Any], **kwargs: Any) -> None:
        given = [key for key in _AMOUNTS if key in data]
        if len(given) > 1:
            raise ValidationError(f"give one of beds, plants and share; this has {' and '.join(given)}")


class DislikeSchema(PlainSchema):
    """A crop that is not wanted, in some beds or (without beds) anywhere."""

    crop = Name(required=True)
    beds = Several(Slug(), most=MOST_BEDS_NAMED)


class WishesSchema(PlainSchema):
    """What a proposal shall bring; what the plan holds for those years already stays and counts."""

    from_ = WholeNumber(
        1900,
        2199,
        data_key="from",
        attribute="from",
        metadata=_about("the first growing year; the first that nothing is planned for, if not given"),
    )
    years = WholeNumber(1, MOST_YEARS, metadata=_about("how many years; 4 if not given"))
    crops = Rows(WishSchema, most=MOST_WANTED)
    dislikes = Rows(DislikeSchema, most=MOST_WANTED)
    winter_beds = WholeNumber(0, 5_000, metadata=_about("crops stand over winter in this many beds at most"))
    catch_crops = StrictBool(metadata=_about("fill gaps with green manures"))
