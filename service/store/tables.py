"""The tables.  Columns carry the names of the plan's keys and hold what its schema reads.

A bed and a planting go by the id that the plan gives them, within their garden: ids never change,
so what was logged keeps pointing at them.  ``version`` counts the changes of a row (If-Match),
``revision`` of a garden counts every write to anything in it, and ``arranged`` is that count at the
last write to anything but the journal.  ``extra`` keeps keys starting x-.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, ClassVar

from sqlalchemy import (
    JSON,
    CheckConstraint,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    LargeBinary,
    MetaData,
    String,
    Text,
    UniqueConstraint,
    event,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from rules.model import FrostDate
from service.store.columns import Frost, Moment, Pair

#: Every constraint has a name of its own, so that a later migration can find it in either database.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

#: Who may do what; ``calendar`` is the secret of a calendar's own link and opens nothing else.
SCOPES = ("club_admin", "garden_write", "garden_read", "publishable_read", "calendar")

Json = Mapping[str, Any]
_JSON = JSON(none_as_null=True)
_SLUG = String(64)
_NAME = String(80)
_KEY = String(16)


class Base(DeclarativeBase):
    """What all tables share."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        datetime: Moment(),
        FrostDate: Frost(),
        tuple[float, float]: Pair(),
        Json: _JSON,
    }


class Club(Base):
    """A club, or a household: who owns gardens."""

    __tablename__ = "clubs"
    id: Mapped[str] = mapped_column(_KEY, primary_key=True)
    name: Mapped[str] = mapped_column(_NAME)
    created_at: Mapped[datetime]


class Garden(Base):
    """A garden and what all its beds share."""

    __tablename__ = "gardens"
    KEYS: ClassVar = (
        *("name", "site", "latitude", "longitude", "country", "time_zone", "last_spring_frost"),
        *("first_autumn_frost", "units", "rotation", "soil"),
    )
    id: Mapped[str] = mapped_column(_KEY, primary_key=True)
    club_id: Mapped[str] = mapped_column(ForeignKey("clubs.id"), index=True)
    version: Mapped[int] = mapped_column()
    revision: Mapped[int]
    arranged: Mapped[int] = mapped_column(server_default="0", default=0)
    created_at: Mapped[datetime]
    name: Mapped[str | None] = mapped_column(_NAME)
    site: Mapped[str | None] = mapped_column(_SLUG)
    latitude: Mapped[float | None]
    longitude: Mapped[float | None]
    country: Mapped[str | None] = mapped_column(String(6))
    time_zone: Mapped[str | None] = mapped_column(String(100))
    last_spring_frost: Mapped[FrostDate | None]
    first_autumn_frost: Mapped[FrostDate | None]
    units: Mapped[str | None] = mapped_column(String(16))
    rotation: Mapped[str | None] = mapped_column(String(16))
    soil: Mapped[Json | None]
    extra: Mapped[Json | None]
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012


class OwnCrop(Base):
    """A crop of the grower's own, outside the catalogue."""

    __tablename__ = "own_crops"
    KEYS: ClassVar = ("id", "family", "name", "lifecycle")
    garden_id: Mapped[str] = mapped_column(ForeignKey("gardens.id"), primary_key=True)
    id: Mapped[str] = mapped_column(_SLUG, primary_key=True)
    place: Mapped[int]
    family: Mapped[str] = mapped_column(_NAME)
    name: Mapped[str | None] = mapped_column(_NAME)
    lifecycle: Mapped[str | None] = mapped_column(String(16))
    extra: Mapped[Json | None]


class Bed(Base):
    """A bed, container or greenhouse border."""

    __tablename__ = "beds"
    KEYS: ClassVar = (
        *("id", "name", "kind", "length", "width", "depth", "position", "turn", "irrigation", "soil"),
        *("from", "until"),
    )
    garden_id: Mapped[str] = mapped_column(ForeignKey("gardens.id"), primary_key=True)
    id: Mapped[str] = mapped_column(_SLUG, primary_key=True)
    place: Mapped[int]
    version: Mapped[int] = mapped_column()
    name: Mapped[str | None] = mapped_column(_NAME)
    kind: Mapped[str | None] = mapped_column(String(16))
    length: Mapped[float | None]
    width: Mapped[float | None]
    depth: Mapped[float | None]
    position: Mapped[tuple[float, float] | None]
    turn: Mapped[float | None]
    irrigation: Mapped[Json | None]
    soil: Mapped[Json | None]
    from_: Mapped[date | None] = mapped_column("from_day")
    until: Mapped[date | None] = mapped_column("until_day")
    extra: Mapped[Json | None]
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012


class Ground(Base):
    """Ground that a bed took over from an earlier one: history follows the ground."""

    __tablename__ = "grounds"
    KEYS: ClassVar = ("bed", "from", "until")
    garden_id: Mapped[str] = mapped_column(_KEY, primary_key=True)
    newer: Mapped[str] = mapped_column(_SLUG, primary_key=True)
    place: Mapped[int] = mapped_column(primary_key=True)
    bed: Mapped[str] = mapped_column(_SLUG)
    from_: Mapped[date | None] = mapped_column("from_day")
    until: Mapped[date | None] = mapped_column("until_day")
    __table_args__ = (
        ForeignKeyConstraint(["garden_id", "newer"], ["beds.garden_id", "beds.id"]),
        ForeignKeyConstraint(["garden_id", "bed"], ["beds.garden_id", "beds.id"]),
    )


class Planting(Base):
    """A planting as planned or as first written down; what became of it stands in the journal."""

    __tablename__ = "plantings"
    KEYS: ClassVar = (
        *("id", "bed", "part", "crop", "variety", "season", "start", "end", "first_harvest", "status"),
        *("cause", "replaces", "method", "count", "spacing"),
    )
    garden_id: Mapped[str] = mapped_column(ForeignKey("gardens.id"), primary_key=True)
    id: Mapped[str] = mapped_column(_SLUG, primary_key=True)
    place: Mapped[int]
    version: Mapped[int] = mapped_column()
    bed: Mapped[str] = mapped_column(_SLUG)
    part: Mapped[tuple[float, float] | None]
    crop: Mapped[str] = mapped_column(_NAME)
    variety: Mapped[Json | None]
    season: Mapped[str | None] = mapped_column(String(16))
    start: Mapped[date | None] = mapped_column("start_day")
    end: Mapped[date | None] = mapped_column("end_day")
    first_harvest: Mapped[date | None]
    status: Mapped[str | None] = mapped_column(String(16))
    cause: Mapped[str | None] = mapped_column(_NAME)
    replaces: Mapped[str | None] = mapped_column(_SLUG)
    method: Mapped[str | None] = mapped_column(String(16))
    count: Mapped[int | None]
    spacing: Mapped[float | None]
    extra: Mapped[Json | None]
    __table_args__ = (
        ForeignKeyConstraint(["garden_id", "bed"], ["beds.garden_id", "beds.id"]),
        # Looked at when the transaction ends: rows of an import may name each other in any order.
        ForeignKeyConstraint(
            ["garden_id", "replaces"],
            ["plantings.garden_id", "plantings.id"],
            deferrable=True,
            initially="DEFERRED",
        ),
        Index(None, "garden_id", "bed"),
    )
    __mapper_args__ = {"version_id_col": version}  # noqa: RUF012


class Token(Base):
    """A right to use the service; only the digest of its secret is kept."""

    __tablename__ = "tokens"
    id: Mapped[str] = mapped_column(_KEY, primary_key=True)
    club_id: Mapped[str] = mapped_column(ForeignKey("clubs.id"), index=True)
    garden_id: Mapped[str | None] = mapped_column(ForeignKey("gardens.id"), index=True)
    scope: Mapped[str] = mapped_column(String(20))
    label: Mapped[str | None] = mapped_column(_NAME)
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    __table_args__ = (
        CheckConstraint(f"scope IN ({', '.join(map(repr, SCOPES))})", name="scope"),
        CheckConstraint("(scope = 'club_admin') = (garden_id IS NULL)", name="reach"),
    )


class Entry(Base):
    """One line of the journal: what was done or seen on a day.  Lines are only ever added."""

    __tablename__ = "journal"
    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    garden_id: Mapped[str] = mapped_column(ForeignKey("gardens.id"))
    bed: Mapped[str | None] = mapped_column(_SLUG)
    planting: Mapped[str | None] = mapped_column(_SLUG)
    date: Mapped[date]
    did: Mapped[str] = mapped_column(String(16))
    detail: Mapped[Json | None]
    note: Mapped[str | None] = mapped_column(Text)
    corrects: Mapped[int | None] = mapped_column(ForeignKey("journal.id"))
    recorded_at: Mapped[datetime]
    token_id: Mapped[str | None] = mapped_column(ForeignKey("tokens.id"))
    extra: Mapped[Json | None]
    __table_args__ = (
        ForeignKeyConstraint(["garden_id", "bed"], ["beds.garden_id", "beds.id"]),
        ForeignKeyConstraint(["garden_id", "planting"], ["plantings.garden_id", "plantings.id"]),
        # An entry is corrected once; of two who try at once, the database lets one through.
        UniqueConstraint("corrects"),
        CheckConstraint("(did = 'undo') = (corrects IS NOT NULL)", name="undo"),
        Index(None, "garden_id", "id"),
        Index(None, "garden_id", "planting"),
        {"sqlite_autoincrement": True},
    )


@event.listens_for(Entry, "before_update")
@event.listens_for(Entry, "before_delete")
def _never_changed(mapper: Any, connection: Any, entry: Entry) -> None:
    raise TypeError("a line of the journal is corrected by another line, never changed")


class Answered(Base):
    """The answer to a write that came with an idempotency key; kept for a day."""

    __tablename__ = "answered"
    token_id: Mapped[str] = mapped_column(ForeignKey("tokens.id"), primary_key=True)
    key: Mapped[str] = mapped_column(String(255), primary_key=True)
    body_hash: Mapped[str] = mapped_column(String(64))
    status: Mapped[int | None]
    headers: Mapped[Json | None]
    body: Mapped[bytes | None] = mapped_column(LargeBinary)
    created_at: Mapped[datetime] = mapped_column(index=True)
