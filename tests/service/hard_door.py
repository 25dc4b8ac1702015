"""A garden of the record with writers that come together, slowly, or late."""

from __future__ import annotations

from typing import Any

from club import NOW, World
from werkzeug.test import TestResponse

from service.state import KEY
from service.store.session import Store
from service.store.tokens import create_token

FORM = "application/x-www-form-urlencoded"
PAGE = "https://plots.example"


def close_all(world: World) -> None:
    world.store.close()
    own_store(world).close()


def own_store(world: World) -> Store:
    """The store of the application itself."""
    store: Store = world.app.extensions[KEY].store
    return store


class Door:
    """A garden and a token, to speak to it shortly."""

    def __init__(self, world: World, garden: str, headers: dict[str, str]) -> None:
        self.world, self.garden, self.headers = world, garden, headers

    def __call__(self, method: str, path: str = "", body: Any = None, **headers: str) -> TestResponse:
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        sent: dict[str, Any] = {} if body is None else {"json": body}
        return self.raw(method, path, words, **sent)

    def raw(self, method: str, path: str, headers: dict[str, str] | None = None, **sent: Any) -> TestResponse:
        return self.world.client.open(
            f"/v1/gardens/{self.garden}{path}", method=method, headers={**self.headers, **(headers or {})}, **sent
        )

    def form(self, body: bytes, **headers: str) -> TestResponse:
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.raw("POST", "/journal", words, data=body, content_type=FORM)

    def lines(self) -> list[dict[str, Any]]:
        items: list[dict[str, Any]] = self("GET", "/journal?limit=200").get_json()["items"]
        return items


def token_for(world: World, garden: str, scope: str) -> tuple[str, dict[str, str]]:
    with world.store.write() as session:
        token, secret = create_token(session, world.ours.club, scope, garden_id=garden, now=NOW)
        return token.id, {"Authorization": f"Bearer {secret}"}
