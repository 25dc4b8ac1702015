"""Tokens: made, found by their secret, listed and revoked.  The secret itself is never kept."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from service.store.errors import Conflict, NotFound
from service.store.keys import digest, new_id, new_secret
from service.store.repository import Repository
from service.store.tables import SCOPES, Token


def create_token(
    session: Session,
    club_id: str,
    scope: str,
    *,
    garden_id: str | None = None,
    label: str | None = None,
    now: datetime,
) -> tuple[Token, str]:
    """A new token and its secret, which is shown this once.

    Parameters
    ----------
    scope
        ``club_admin`` reaches the whole club; all others of ``SCOPES`` reach one garden.

    Raises
    ------
    NotFound
        for a club, or a garden of that club, that is not there.
    Conflict
        for a scope that does not exist, or one that needs a garden and has none or the reverse.
    """
    if scope not in SCOPES:
        raise Conflict(f"There is no scope {scope}. The scopes are {', '.join(SCOPES)}.")
    if (scope == "club_admin") != (garden_id is None):
        raise Conflict("A club admin's token is for the whole club; every other is for one garden.")
    repository = Repository(session)
    repository.club(club_id)
    if garden_id is not None:
        repository.garden(garden_id, club_id=club_id)
    secret = new_secret()
    token = Token(
        id=new_id(),
        club_id=club_id,
        garden_id=garden_id,
        scope=scope,
        label=label,
        digest=digest(secret),
        created_at=now,
    )
    session.add(token)
    session.flush()
    return token, secret


class Found(NamedTuple):
    """What a token is for; ``garden_id`` is None for a club admin's."""

    id: str
    club_id: str
    garden_id: str | None
    scope: str


_TOKEN = Token.__table__.c
_FOUND = select(*(_TOKEN[name] for name in Found._fields)).where(
    _TOKEN.digest == bindparam("digest"), _TOKEN.revoked_at.is_(None)
)
_HELD = (
    select(_TOKEN.id)
    .where(_TOKEN.id == bindparam("id"), _TOKEN.revoked_at.is_(None))
    .with_for_update(read=True, key_share=True)
)


def find_token(session: Session, secret: str) -> Found | None:
    """The token of a secret; None for one that does not exist or was revoked."""
    row = session.execute(_FOUND, {"digest": digest(secret)}).one_or_none()
    return None if row is None else Found._make(row)


def hold_token(session: Session, token_id: str) -> bool:
    """Keep a token from being taken away until the transaction ends; False where it is gone or was revoked."""
    return session.execute(_HELD, {"id": token_id}).first() is not None


def list_tokens(session: Session, club_id: str) -> Sequence[Token]:
    """All tokens of a club, revoked ones too, oldest first."""
    wanted = select(Token).where(Token.club_id == club_id).order_by(Token.created_at, Token.id)
    return session.scalars(wanted).all()


def revoke_token(session: Session, token_id: str, *, club_id: str | None = None, now: datetime) -> Token:
    """Make a token worthless (again is no fault); ``NotFound`` for none of that club."""
    wanted = select(Token).where(Token.id == token_id)
    if club_id is not None:
        wanted = wanted.where(Token.club_id == club_id)
    token = session.scalars(wanted).one_or_none()
    if token is None:
        raise NotFound("token", token_id)
    token.revoked_at = token.revoked_at or now
    session.flush()
    return token
