"""Clubs and gardens: who has which, made, changed and taken away."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime
from typing import Any

from flask import Response, request
from sqlalchemy.orm import Session

from service.access import caller, club_for, garden_for
from service.encode import to_bytes
from service.exporting import plain
from service.negotiate import JSON
from service.record import Record
from service.resources.door import RecordBlueprint, adds, changes, reads, removes
from service.resources.recorded import PRIVATE
from service.resources.writing import (
    answer,
    gone,
    loaded,
    patch_sent,
    patched,
    sent,
    told_apart,
    wanted_version,
    write,
    write_once,
)
from service.schemas.garden import GardenSchema
from service.schemas.knowledge import page_of
from service.schemas.query import Query
from service.schemas.stored import ClubSchema, GardenRowSchema
from service.state import store
from service.store.once import Answer
from service.store.repository import Repository
from service.store.rows import typed_row
from service.store.tables import Club, Garden

gardens = RecordBlueprint("gardens", __name__, description="Clubs and gardens of the record.")

#: What a page that anyone may open is not told.
_WHERE = ("latitude", "longitude", "site")


@gardens.route("/v1/clubs")
@gardens.arguments(Query(), location="query")
@reads(gardens, "listClubs", page_of(ClubSchema), "The club of the token.")
def clubs(query: dict[str, Any]) -> Response:
    """List clubs

    The one that the token belongs to.
    """
    asked = club_for("garden_read")
    return told({"items": [_club(asked.club_id)], "next": None})


@gardens.route("/v1/clubs/<club>")
@gardens.arguments(Query(), location="query")
@reads(gardens, "readClub", ClubSchema, "The club.")
def club(query: dict[str, Any], club: str) -> Response:
    """Read a club"""
    return told(_club(club_for("garden_read", club).club_id))


@gardens.route("/v1/gardens")
@gardens.arguments(Query(), location="query")
@reads(gardens, "listGardens", page_of(GardenRowSchema), "The gardens that the token may see.")
def every(query: dict[str, Any]) -> Response:
    """List gardens

    All of the club for its admin, else the one garden that the token is for.
    """
    asked = club_for("publishable_read")
    with store().read() as session:
        repository = Repository(session)
        found = repository.gardens(asked.club_id)
    items = [garden_row(row, asked.scope) for row in found if asked.garden_id in (None, row.id)]
    return told({"items": items, "next": None})


@gardens.route("/v1/gardens", methods=["POST"])
@gardens.arguments(Query(), location="query")
@adds(gardens, "addGarden", GardenSchema, GardenRowSchema, "The new garden.")
def add(query: dict[str, Any]) -> Response:
    """Add a garden

    A club admin's token makes a garden in its club. Beds and plantings follow, or an import.
    """
    asked, raw = club_for("club_admin"), sent()
    with told_apart():
        typed = loaded(GardenSchema(), raw)

    def work(session: Session) -> Answer:
        row = Repository(session).add_garden(asked.club_id, typed, now=datetime.now(UTC))
        return answer(garden_row(row, asked.scope), 201, version=row.version, location=f"/v1/gardens/{row.id}")

    return write_once(asked, work)


@gardens.route("/v1/gardens/<garden>")
@gardens.arguments(Query(), location="query")
@reads(gardens, "readGarden", GardenRowSchema, "The garden.", again=False)
def one(query: dict[str, Any], garden: str) -> Response:
    """Read a garden

    Its ETag is its version, for If-Match; the revision counts on without it.
    """
    asked = garden_for("publishable_read", garden)
    with store().read() as session:
        row = Repository(session).garden(garden)
    return told(garden_row(row, asked.scope), version=row.version, again=False)


@gardens.route("/v1/gardens/<garden>", methods=["PATCH"])
@gardens.arguments(Query(), location="query")
@changes(gardens, "changeGarden", GardenSchema, GardenRowSchema, "The garden as it is now.")
def change(query: dict[str, Any], garden: str) -> Response:
    """Change a garden"""
    asked, raw, version = garden_for("garden_write", garden), patch_sent(), wanted_version()

    def work(record: Record) -> Answer:
        before = record.repository.garden(garden)
        row = record.change_garden(patched(GardenSchema(), before, raw), version=version)
        return answer(garden_row(row, asked.scope), version=row.version)

    return write(garden, work)


@gardens.route("/v1/gardens/<garden>", methods=["DELETE"])
@gardens.arguments(Query(), location="query")
@removes(gardens, "removeGarden")
def remove(query: dict[str, Any], garden: str) -> Response:
    """Take a garden away

    With all that is in it and the tokens that are for it; only a club admin may. Export it first.
    """
    # A club's garden is looked up in the write: the answer to a key that comes again outlives the garden.
    asked = club_for("club_admin") if caller().garden_id is None else garden_for("club_admin", garden)
    version = wanted_version()

    def work(session: Session) -> Answer:
        Repository(session).remove_garden(garden, club_id=asked.club_id, version=version)
        return gone()

    return write_once(asked, work)


def garden_row(row: Garden, scope: str) -> dict[str, Any]:
    """A garden as it is told to a caller of a scope."""
    values: dict[str, Any] = plain(typed_row(row))
    if scope == "publishable_read":
        values = {key: value for key, value in values.items() if key not in _WHERE}
    return {"id": row.id, **values, "version": row.version, "revision": row.revision}


def told(values: dict[str, Any], *, version: int | None = None, again: bool = True) -> Response:
    """A row or page as JSON, with its version as ETag or else one of its bytes; 304 where the client has it.

    Without ``again`` it is always told: its version does not count all that it tells.
    """
    body = to_bytes(values)
    tag = hashlib.blake2b(body, digest_size=16).hexdigest() if version is None else str(version)
    # By the weak comparison: a proxy that packs answers makes their tags weak.
    has_it = again and request.if_none_match.contains_weak(tag)
    response = Response(status=304) if has_it else Response(body, content_type=JSON)
    response.set_etag(tag)
    response.headers["Cache-Control"] = PRIVATE
    response.headers["Vary"] = "Authorization"
    return response


def _club(club_id: str) -> dict[str, Any]:
    with store().read() as session:
        row: Club = Repository(session).club(club_id)
    return {"id": row.id, "name": row.name}
