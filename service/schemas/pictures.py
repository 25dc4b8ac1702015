"""What may be asked when a picture of a garden is."""

from __future__ import annotations

from marshmallow import fields, validate

from service.pictures.timeline import FEWEST_YEARS, MOST_YEARS, USUAL_YEARS
from service.schemas.query import SEASON, Pattern, Query, TextNumber

_DAY = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"


def _season() -> fields.String:
    return fields.String(
        validate=Pattern(SEASON, error="Write a year, or a season of one: 2027 or 2027-spring."),
        metadata={"description": "The season whose findings are marked: `2027` or `2027-spring`; else the latest."},
    )


class MapQuery(Query):
    """Parameters of a map."""

    day = fields.String(
        validate=Pattern(_DAY, error="Write a day as YYYY-MM-DD."),
        metadata={
            "description": "The day that is shown, `YYYY-MM-DD`; else today, or the middle of a season that is "
            "asked for and does not hold today.",
            "example": "2027-07-01",
        },
    )
    season = _season()


class TimelineQuery(Query):
    """Parameters of a timeline."""

    years = TextNumber(
        load_default=USUAL_YEARS,
        validate=validate.Range(FEWEST_YEARS, MOST_YEARS),
        metadata={"description": "Growing years to show, the last being the one after the judged season's."},
    )
    season = _season()
