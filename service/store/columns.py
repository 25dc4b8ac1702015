"""Column types for the values of the plan that no database has a type for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, Dialect
from sqlalchemy.types import TypeDecorator

from rules.model import FrostDate


class Moment(TypeDecorator[datetime]):
    """A moment with its zone, kept as UTC without one: SQLite has no zones."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """To the database."""
        return None if value is None else value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """From the database."""
        return None if value is None else value.replace(tzinfo=UTC)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any] | None:
        """From the database; text, as SQLite keeps it, in one step, since every line of a journal has a moment."""
        return _from_text if dialect.name == "sqlite" else super().result_processor(dialect, coltype)


def _from_text(value: str | None) -> datetime | None:
    return None if value is None else datetime.fromisoformat(f"{value}+00:00")


class Pair(TypeDecorator[tuple[float, float]]):
    """Two numbers: a position in metres, or a part of a bed's length."""

    impl = JSON(none_as_null=True)
    cache_ok = True

    def process_bind_param(self, value: tuple[float, float] | None, dialect: Dialect) -> Any:
        """To the database."""
        return None if value is None else list(value)

    def process_result_value(self, value: Any, dialect: Dialect) -> tuple[float, float] | None:
        """From the database."""
        return None if value is None else (float(value[0]), float(value[1]))


class Frost(TypeDecorator[FrostDate]):
    """A frost date as its median and, when known, its 10 and 90 % days, each (month, day)."""

    impl = JSON(none_as_null=True)
    cache_ok = True

    def process_bind_param(self, value: FrostDate | None, dialect: Dialect) -> Any:
        """To the database."""
        if value is None:
            return None
        return {key: list(day) for key in ("p10", "p50", "p90") if (day := getattr(value, key))}

    def process_result_value(self, value: Any, dialect: Dialect) -> FrostDate | None:
        """From the database."""
        return None if value is None else FrostDate(**{key: (day[0], day[1]) for key, day in value.items()})
