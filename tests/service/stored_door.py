"""A garden of the record and the key to it."""

from __future__ import annotations

from datetime import date
from typing import Any

from club import World
from werkzeug.test import TestResponse

TODAY = date(2026, 11, 20)


class Door:
    """A garden and a token, to speak to it shortly."""

    def __init__(self, world: World, garden: str, scope: str = "club_admin") -> None:
        self.client, self.garden, self.headers = world.client, garden, world.ours.headers(scope)

    def __call__(self, method: str, path: str = "", body: Any = None, **headers: str) -> TestResponse:
        words = {name.replace("_", "-"): value for name, value in headers.items()}
        sent: dict[str, Any] = {} if body is None else {"json": body}
        return self.client.open(
            f"/v1/gardens/{self.garden}{path}", method=method, headers={**self.headers, **words}, **sent
        )
