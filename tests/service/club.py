"""Two clubs with gardens and a token of every scope, in a database of their own."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from datetime import UTC, datetime

from flask import Flask
from flask.testing import FlaskClient

from service.app import build
from service.config import Config
from service.store.migrating import migrate
from service.store.repository import Repository
from service.store.session import Store
from service.store.tables import SCOPES
from service.store.tokens import create_token

NOW = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)
GARDEN = {"name": "Tannery Row Plots", "latitude": 46.2, "country": "FR", "time_zone": "Europe/Paris"}


@dataclass
class Member:
    """A club with two gardens, and the secrets of its tokens by scope: those of a garden are for the first."""

    club: str
    garden: str
    second: str
    secrets: dict[str, str] = field(default_factory=dict)

    def headers(self, scope: str, **more: str) -> dict[str, str]:
        """The headers of a request with the token of a scope."""
        return {"Authorization": f"Bearer {self.secrets[scope]}", **more}


@dataclass
class World:
    """An application, its record, and two clubs that must not see each other."""

    app: Flask
    store: Store
    ours: Member
    theirs: Member

    @property
    def client(self) -> FlaskClient:
        """A new client."""
        return self.app.test_client()


def make_world(url: str | None = None, **settings: object) -> World:
    """Everything anew; without a URL in a SQLite file that the system forgets."""
    url = url or f"sqlite:///{tempfile.mkdtemp(prefix='breakcrop-world-')}/record.db"
    store = Store(url)
    migrate(store)
    ours, theirs = (_member(store, name) for name in ("Tannery Row", "Quayside"))
    options = {"checks_per_minute": 0, **settings}
    return World(build(Config(database_url=url, **options)), store, ours, theirs)  # type: ignore[arg-type]


def _member(store: Store, name: str) -> Member:
    with store.write() as session:
        repository = Repository(session)
        club = repository.add_club(name, now=NOW)
        first, second = (repository.add_garden(club.id, GARDEN, now=NOW) for _ in range(2))
        member = Member(club.id, first.id, second.id)
        for scope in SCOPES:
            garden = None if scope == "club_admin" else first.id
            member.secrets[scope] = create_token(session, club.id, scope, garden_id=garden, now=NOW)[1]
        return member
