"""Who asks, and what they may see: tokens at the door.

A token that is missing or worthless is 401, one that may less than is asked 403, and whatever
belongs to anyone else is 404, always: an answer never tells that it exists.
"""

from __future__ import annotations

from contextlib import suppress
from typing import NamedTuple

from flask import g, request
from sqlalchemy.orm import Session

from service.errors import Problem
from service.state import store
from service.store.contents import garden_row
from service.store.errors import NotFound
from service.store.tables import Garden
from service.store.tokens import find_token, hold_token

#: What may be asked for; each includes those before it.  A calendar's own secret is none of them.
SCOPES = ("publishable_read", "garden_read", "garden_write", "club_admin")
REALM = 'Bearer realm="breakcrop"'
#: Longer than any token; what is longer is not looked up.
LONGEST = 200

_MAY = {
    "publishable_read": "reads what a page may show",
    "garden_read": "reads one garden",
    "garden_write": "reads and writes one garden",
    "calendar": "opens one calendar",
}


class Caller(NamedTuple):
    """The token that came with a request; ``garden_id`` is None for a club admin's."""

    token_id: str
    club_id: str
    garden_id: str | None
    scope: str

    def may(self, need: str) -> bool:
        """True where the scope includes what is needed."""
        return self.scope in SCOPES and SCOPES.index(self.scope) >= SCOPES.index(need)


def caller() -> Caller:
    """Who sent this request; ``Problem`` (401) without a token that is good."""
    if "caller" not in g:
        kind, _, secret = request.headers.get("Authorization", "").partition(" ")
        if not kind:
            raise Problem("token-needed", "A token is needed here.", {"WWW-Authenticate": REALM})
        found = looked_up(secret.strip(), _asked_of()) if kind.casefold() == "bearer" else None
        if found is None:
            raise _worthless()
        g.caller = found
    asked: Caller = g.caller
    return asked


def looked_up(secret: str, garden_id: str | None = None) -> Caller | None:
    """The caller of a secret, or None; the garden that is asked about is looked up along with it (``garden_there``)."""
    if not 0 < len(secret) <= LONGEST:
        return None
    with store().read() as session:
        token = find_token(session, secret)
        if token is None:
            return None
        if garden_id is not None:
            with suppress(NotFound):
                g.garden = garden_row(session, garden_id)
        return Caller(*token)


def _asked_of() -> str | None:
    """The garden that a reader asks about; a writer looks it up in its own transaction."""
    return (request.view_args or {}).get("garden") if request.method in ("GET", "HEAD") else None


def garden_there(garden_id: str) -> Garden:
    """The row of a garden as it was when the request came, whoever asks; ``NotFound``."""
    found: Garden | None = g.get("garden")
    if found is None or found.id != garden_id:
        with store().read() as session:
            found = g.garden = garden_row(session, garden_id)
    return found


def garden_for(need: str, garden_id: str) -> Caller:
    """The caller, who may do what is needed in a garden; ``Problem`` (401, 403, 404) otherwise."""
    asked = caller()
    if asked.garden_id is None:
        if garden_there(garden_id).club_id != asked.club_id:
            raise NotFound("garden", garden_id)
    elif asked.garden_id != garden_id:
        raise NotFound("garden", garden_id)
    return _allowed(asked, need)


def club_for(need: str, club_id: str | None = None) -> Caller:
    """The caller, who may do what is needed in a club (their own where none is named)."""
    asked = caller()
    if club_id is not None and club_id != asked.club_id:
        raise NotFound("club", club_id)
    return _allowed(asked, need)


def hold(session: Session, asked: Caller) -> None:
    """In the transaction of a write: ``Problem`` (401) where the token was revoked since the request began."""
    if not hold_token(session, asked.token_id):
        raise _worthless()


def _worthless() -> Problem:
    said = "This token is not known here. It may have been revoked."
    return Problem("token-needed", said, {"WWW-Authenticate": f'{REALM}, error="invalid_token"'})


def _allowed(asked: Caller, need: str) -> Caller:
    if not asked.may(need):
        raise Problem("scope-missing", f"This token {_MAY[asked.scope]} and may not do more.")
    return asked
