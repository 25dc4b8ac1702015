"""What can go wrong with the store, each under one name; only a door knows what HTTP says to it."""

from __future__ import annotations

from service.store.keys import LONGEST


class StoreError(Exception):
    """Anything that the store refuses; ``detail`` is one sentence that may be spoken."""

    def __init__(self, detail: str) -> None:
        self.detail = detail
        super().__init__(detail)


class Busy(StoreError):
    """Another writer held its lock too long, or no connection came free; try again (503)."""

    retry_after = 1

    def __init__(self, detail: str = "The record is busy. Try again in a moment.") -> None:
        super().__init__(detail)


class Unavailable(StoreError):
    """The database cannot be reached, or is not set up (503)."""

    def __init__(self, detail: str = "The record cannot be reached.") -> None:
        super().__init__(detail)


class NotFound(StoreError):
    """No such row, or none that the asker may see (404)."""

    def __init__(self, what: str, name: str | int) -> None:
        self.what, self.name = what, name
        super().__init__(f"There is no {what} {_on_one_line(str(name))}.")


class Stale(StoreError):
    """The row was changed since it was read (412)."""

    def __init__(
        self, detail: str = "Somebody changed this in the meantime. Read it again and then change it."
    ) -> None:
        super().__init__(detail)


class Conflict(StoreError):
    """It does not fit what is on record (409)."""


class KeyReused(StoreError):
    """An idempotency key came back with another request (422)."""

    def __init__(self) -> None:
        super().__init__("This idempotency key was used for another request.")


def _on_one_line(name: str) -> str:
    """A name from an address as a sentence may hold it: cut, and without signs that nobody sees."""
    return "".join(sign if sign.isprintable() else "?" for sign in name[:LONGEST])
