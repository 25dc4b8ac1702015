"""What routes of a stored garden share when they read: who may, what is there, and whether it changed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date
from typing import NamedTuple

from flask import Response, request

from rules.model import Plan
from rules.reading import PlanFaults
from service.access import garden_for, garden_there
from service.errors import Problem
from service.mapping import garden_plan
from service.negotiate import JSON
from service.resources.checks import today
from service.state import knowledge, store
from service.store.repository import Contents, Repository

#: What a client may keep of a garden, if it asks each time whether that still holds.
PRIVATE = "private, no-cache"


class Seen(NamedTuple):
    """A garden that the caller may see: its name, its count of writes, and the day where it lies."""

    id: str
    name: str
    revision: int
    day: date
    scope: str


def seen(garden_id: str, need: str) -> Seen:
    """The garden, for a caller who may do what is needed; ``Problem`` (401, 403, 404) otherwise."""
    asked, row = garden_for(need, garden_id), garden_there(garden_id)
    return Seen(row.id, row.name or "Garden", row.revision, today(row.time_zone), asked.scope)


def contents_of(garden_id: str, need: str) -> Contents:
    """All of a garden, for a caller who may do what is needed."""
    garden_for(need, garden_id)
    with store().read() as session:
        return Repository(session).contents(garden_id)


def plan_of(garden: Seen, season: str | None = None) -> Plan:
    """The plan of a garden today, to judge a season (else its latest growing year).

    ``Problem`` (409) where nothing is on record yet, or the season is none.
    """
    contents = store().remembered(garden.id, garden.revision)
    if contents is None:
        with store().read() as session:
            contents = Repository(session).contents(garden.id)
    if not contents.beds:
        raise Problem("conflict", f"{garden.name} has no beds on record yet. Add one first.")
    try:
        return garden_plan(contents, knowledge(), as_of=garden.day, season=season)
    except PlanFaults as found:  # what is stored can be read, so this is about the season
        raise Problem("conflict", found.faults[0].detail) from None


def derived(garden: Seen, make: Callable[[], bytes], media_type: str = JSON) -> Response:
    """What follows from a garden, a day and the address alone: 304 where the client has it, without working it out.

    The scope is part of the tag, since a publishable token is told less.
    """
    told = (garden.id, garden.revision, garden.day, garden.scope, knowledge().digest, request.full_path, media_type)
    tag = hashlib.blake2b(repr(told).encode(), digest_size=16).hexdigest()
    kind = media_type if media_type == JSON else f"{media_type}; charset=utf-8"
    # By the weak comparison: a proxy that packs answers makes their tags weak.
    has_it = request.if_none_match.contains_weak(tag)
    response = Response(status=304) if has_it else Response(make(), content_type=kind)
    response.set_etag(tag)
    response.headers["Cache-Control"] = PRIVATE
    response.headers["Vary"] = "Authorization, Accept"
    return response
