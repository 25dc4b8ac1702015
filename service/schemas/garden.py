"""The garden's own part of a plan: where it lies, its frosts and its soil."""

from __future__ import annotations

import re
import zoneinfo
from typing import Any

from marshmallow import fields, validate

from rules.model import FrostDate
from service.schemas.fields import DecimalNumber, Name, OneOf, Refused, Slug, Strict, Text
from service.schemas.rows import Either, Group, PlainSchema
from service.schemas.words import did_you_mean, shown

#: Texture by the trade's words; the mixed loams because they are what soil reports say.
TEXTURES = ("sand", "sandy_loam", "loam", "silty_loam", "clay_loam", "silt", "clay", "chalk", "peat")


class MonthDay(Text):
    """A day of any year, MM-DD, as (month, day); 29 February is not a day of any year."""

    form = re.compile(
        r"^((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|1[0-9]|2[0-8]))$"
    )
    what = "a month and a day written MM-DD, such as 05-04"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        # The validator is for the API document only: what comes out is no longer text.
        self.own = ()
        self.validators = []
        self.metadata = {"pattern": self.pattern(), **self.metadata}

    def change(self, text: str) -> Any:
        """The typed form."""
        return int(text[:2]), int(text[3:])


class Country(Text):
    """A country or a part of one by its ISO 3166 code, in capitals."""

    form = re.compile(r"^[A-Za-z]{2}(-[A-Za-z0-9]{1,3})?$")
    what = "an ISO 3166 code, such as FR or US-CA"

    def change(self, text: str) -> str:
        """The typed form."""
        return text.upper()


class TimeZone(Strict, fields.String):
    """A zone of the IANA list, such as Europe/Paris."""

    by_text = True
    _form = re.compile(r"^[A-Za-z][A-Za-z0-9_+\-]{0,30}(/[A-Za-z0-9_+\-]{1,30}){0,2}$")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(validate.Regexp(self._form), **kwargs)

    @classmethod
    def pattern(cls) -> str:
        """The form as JSON schema writes it."""
        return cls._form.pattern

    def read(self, value: Any) -> str:
        """The text in its one spelling, or ``Refused``."""
        if type(value) is str and self._form.fullmatch(value):
            try:
                return zoneinfo.ZoneInfo(value).key
            except (KeyError, ValueError, OSError):  # unknown; not a zone file; a folder of zones
                pass
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        hint = did_you_mean(value, zoneinfo.available_timezones() - {"localtime"}) if isinstance(value, str) else ""
        return f"must be a time zone such as Europe/Paris; got {shown(value)}{hint}"


class SoilSchema(PlainSchema):
    """What is known of a soil."""

    ph = DecimalNumber(3, 10)
    texture = OneOf(TEXTURES)
    drainage = OneOf(("good", "fair", "poor"))


class FrostSchema(PlainSchema):
    """A frost date with the dates of one and of nine years in ten, when they are known."""

    p10 = MonthDay()
    p50 = MonthDay(required=True)
    p90 = MonthDay()


def _frost() -> Either:
    day = {"type": "string", "pattern": MonthDay.pattern()}
    optional = {**day, "type": ["string", "null"]}
    group = {
        "type": "object",
        "properties": {"p10": optional, "p50": day, "p90": optional},
        "required": ["p50"],
        "additionalProperties": False,
    }
    return Either(
        MonthDay(),
        FrostSchema,
        of_text=FrostDate,
        of_group=lambda data: FrostDate(**data),
        forms=[day, group],
    )


class GardenSchema(PlainSchema):
    """What all beds of a garden share."""

    name = Name()
    site = Slug()
    latitude = DecimalNumber(-90, 90)
    longitude = DecimalNumber(-180, 180)
    country = Country()
    time_zone = TimeZone()
    last_spring_frost = _frost()
    first_autumn_frost = _frost()
    units = OneOf(("metric", "imperial"))
    rotation = OneOf(("full", "short"))
    soil = Group(SoilSchema)
