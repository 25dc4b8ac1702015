"""The plan's own schemas without their quick readers: what plain marshmallow makes of the same fields."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

from marshmallow import Schema, fields, validate

from service.schemas.plan import PlanSchema
from service.schemas.rows import Group, Rows


class Ordinary(fields.Nested):
    """marshmallow's own nested mapping, with the last step of a ``Group``."""

    def __init__(self, schema: type[Schema], finish: Callable[[Any], Any] | None = None, **kwargs: Any) -> None:
        self.finish = finish
        super().__init__(schema, **kwargs)

    def _deserialize(self, value: Any, attr: Any, data: Any, **kwargs: Any) -> Any:
        typed = super()._deserialize(value, attr, data, **kwargs)
        return self.finish(typed) if self.finish else typed


@cache
def plain(schema: type[Schema]) -> type[Schema]:
    """The same schema with ``Nested(many=True)`` for every ``Rows`` and ``Nested`` for every ``Group``."""
    swapped: dict[str, Any] = {}
    for name, field in schema._declared_fields.items():
        same = {"required": field.required, "data_key": field.data_key, "attribute": field.attribute}
        if isinstance(field, Rows):
            inner: Any = field.inner
            most = validate.Length(max=field.most)
            swapped[name] = fields.Nested(plain(inner.nested), many=True, validate=most, **same)
        elif isinstance(field, Group):
            nested: Any = field.nested
            swapped[name] = Ordinary(plain(nested), finish=field.finish, **same)
    return type(f"Ordinary{schema.__name__}", (schema,), swapped) if swapped else schema


@cache
def plain_plan() -> Schema:
    """One instance for the whole document."""
    return plain(PlanSchema)()
