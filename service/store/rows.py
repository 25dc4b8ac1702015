"""What all rows of the record share: found or not, added or refused, changed and counted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from operator import attrgetter
from typing import Any, TypeVar

from sqlalchemy import Select, func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import flag_modified

from service.store.errors import Conflict, NotFound, Stale
from service.store.tables import Base, Bed, Garden, OwnCrop, Planting

Typed = Mapping[str, Any]
#: Keys of the plan that are words of the language, and the attributes that hold them.
_ATTRIBUTES = {"from": "from_"}
#: Ids never change, and a planting that moves is another planting.
_FIXED = ("id", "bed")

Row = TypeVar("Row", bound=Base)
Versioned = TypeVar("Versioned", Garden, Bed, Planting)


def typed_row(row: Any) -> dict[str, Any]:
    """A row as the plan's schema would read it: the keys that have a value."""
    values = zip(row.KEYS, _values_of(type(row))(row), strict=True)
    return {key: value for key, value in values if value is not None}


@cache
def _values_of(table: Any) -> Callable[[Any], tuple[Any, ...]]:
    """What reads the values of a row's keys, in their order."""
    return attrgetter(*(_ATTRIBUTES.get(key, key) for key in table.KEYS))


def fill(row: Row, typed: Typed) -> Row:
    """Set the keys of a row that are given; None takes one away."""
    for key in row.KEYS:  # type: ignore[attr-defined]
        if key in typed:
            setattr(row, _ATTRIBUTES.get(key, key), typed[key])
    return row


def expect(row: Garden | Bed | Planting, version: int | None) -> None:
    """``Stale`` unless the row has the version that was asked for (None: any)."""
    if version is not None and row.version != version:
        raise Stale


class Rows:
    """Rows within one transaction."""

    def __init__(self, session: Session) -> None:
        self.session = session

    def find(self, table: type[Row], garden_id: str, row_id: str) -> Row | None:
        """The bed, planting or crop of an id, or None."""
        return self.session.get(table, (garden_id, row_id))

    def _found(self, wanted: Select[Row], what: str, name: str | int) -> Row:
        # PostgreSQL has no text with a zero byte, so that it cannot even be asked for one.
        row = None if "\0" in str(name) else self.session.scalars(wanted).one_or_none()
        if row is None:
            raise NotFound(what, name)
        return row

    def _next(self, table: type[OwnCrop | Bed | Planting], garden_id: str) -> int:
        last = self.session.scalar(select(func.max(table.place)).where(table.garden_id == garden_id))
        return 0 if last is None else last + 1

    def _add(self, row: Row, clash: str = "That is there already.") -> Row:
        try:
            with self.session.begin_nested():
                self.session.add(row)
                self.session.flush()
        except IntegrityError as error:
            raise Conflict(clash) from error
        return row

    def _remove(self, row: Base, clash: str) -> None:
        try:
            with self.session.begin_nested():
                self.session.delete(row)
                self.session.flush()
        except IntegrityError as error:
            raise Conflict(clash) from error

    def _changed(self, row: Versioned, typed: Typed, version: int | None, *, more: bool = False) -> Versioned:
        expect(row, version)
        for key in _FIXED:
            if hasattr(row, key) and key in row.KEYS and typed.get(key, getattr(row, key)) != getattr(row, key):
                raise Conflict(f"The {key} cannot be changed.")
        fill(row, typed)
        if more and not self.session.is_modified(row):
            self._bump(row)  # what changes stands in another table; the version is the row's all the same
        self.session.flush()
        return row

    def _bump(self, row: Garden | Bed | Planting) -> None:
        # Only beds and plantings keep part of what they are in other tables.
        flag_modified(row, "place")
        self.session.flush()
