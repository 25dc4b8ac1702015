"""``x-record`` of an exported garden: its journal, and what was planned where it came otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from marshmallow import ValidationError, fields

from service.schemas.entry import EntrySchema
from service.schemas.fields import IsoDate, Name, OneOf, SeasonWord, Slug, StrictBool, WholeNumber
from service.schemas.plan import MOST_OTHERS, PlantingSchema
from service.schemas.rows import PlainSchema, Several
from service.store.projection import MOST_PLANTS


class Moment(fields.AwareDateTime):
    """A moment with its zone, in ISO form."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="iso", **kwargs)

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> datetime:
        if not isinstance(value, str):
            raise ValidationError("must be a moment such as 2027-04-20T09:30:00+00:00")
        try:
            return super()._deserialize(value, attr, data, **kwargs).astimezone(UTC)
        except OverflowError:
            raise ValidationError("must be a moment of the years 1 to 9999") from None


class LineSchema(EntrySchema):
    """A line of the journal with the moment at which it was written."""

    date = IsoDate(required=True)
    made = StrictBool()
    joined = StrictBool()
    recorded = Moment(attribute="recorded_at")


class PlannedSchema(PlainSchema):
    """What a planting's plan was before the journal spoke."""

    season = SeasonWord()
    start = IsoDate()
    end = IsoDate()
    first_harvest = IsoDate()
    status = OneOf(("planned", "growing", "done", "lost"))
    cause = Name()
    count = WholeNumber(1, MOST_PLANTS)
    replaces = Slug()


class WithdrawnSchema(PlantingSchema):
    """A planting that a line of the journal made, and that went when the line was taken back."""

    id = Slug(required=True)


class RecordSchema(PlainSchema):
    """The whole of it."""

    journal = Several(fields.Nested(LineSchema), most=5 * MOST_OTHERS)
    planned = fields.Dict(keys=Slug(), values=fields.Nested(PlannedSchema))
    attempts = Several(Slug(), most=MOST_OTHERS)
    withdrawn = Several(fields.Nested(WithdrawnSchema), most=MOST_OTHERS)


def record_faults(raw: Any) -> list[tuple[tuple[str | int, ...], str]]:
    """What is wrong with a record, by path: shapes first, then lines that take back what they cannot."""
    try:
        data = RecordSchema().load(raw)
    except ValidationError as error:
        return list(_flat(error.messages, ()))
    faults: list[tuple[tuple[str | int, ...], str]] = []
    lines, taken = data.get("journal") or [], set[int]()
    for i, line in enumerate(lines):
        wanted = line.get("corrects")
        if wanted is None:
            continue
        if wanted > i or lines[wanted - 1]["did"] == "undo" or wanted in taken:
            faults.append((("journal", i, "corrects"), f"line {wanted} cannot be taken back here"))
        taken.add(wanted)
    return faults


def _flat(messages: Any, path: tuple[str | int, ...]) -> Any:
    if isinstance(messages, Mapping):
        for key, value in messages.items():
            yield from _flat(value, path if key in ("_schema", "value") else (*path, key))
    elif isinstance(messages, list):
        for value in messages:
            yield from _flat(value, path)
    else:
        yield path, str(messages)
