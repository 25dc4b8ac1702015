"""Ids and secrets."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Container

#: The longest id that the plan takes.
LONGEST = 64

#: No vowels and nothing that reads like another: an id may be read aloud and spells no word.
_LETTERS = "bcdfghjkmnpqrstvwxz23456789"


def new_id() -> str:
    """An id of 12 letters that nobody guesses by counting (57 bits)."""
    return "".join(secrets.choice(_LETTERS) for _ in range(12))


def new_secret() -> str:
    """A secret of 32 random bytes, as it may stand in a URL."""
    return secrets.token_urlsafe(32)


def digest(secret: str) -> str:
    """SHA-256 of a secret: enough, since nobody can try 2**256 of them."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def short_id(name: str, taken: Container[str]) -> str:
    """A name as an id that is free: at most 64 characters, with a number where it is taken.

    >>> short_id("kiln.kale.2027", {"kiln.kale.2027"})
    'kiln.kale.2027.2'
    """
    if len(name) > LONGEST:
        name = f"{name[: LONGEST - 9]}.{digest(name)[:8]}"
    free, number = name, 1
    while free in taken:
        number += 1
        free = f"{name[: LONGEST - 1 - len(str(number))]}.{number}"
    return free
