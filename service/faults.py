"""What is wrong with a body, as the problem that a client gets: every fault by its place."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from service.errors import Problem
from service.reading import MOST_ERRORS, Path, PlanError, PlanRejected, Unreadable, pointer


def refused(rejected: PlanRejected, slug: str) -> Problem:
    """The problem of a readable document that is not what it should be."""
    errors = [fault(error) for error in rejected.errors]
    more = f" That is 1 of {rejected.total} things to mend." if rejected.total > 1 else ""
    return Problem(slug, sentence(errors[0]["detail"]) + more, errors=errors, total=rejected.total)


def unreadable(error: Unreadable) -> Problem:
    """The problem of bytes that are no document."""
    return Problem("too-large" if error.status == 413 else "unreadable", sentence(error.detail))


def rejected(faults: Iterable[tuple[Path, str]]) -> PlanRejected:
    """Faults by path as one refusal."""
    told = [PlanError(pointer(path), detail) for path, detail in faults]
    return PlanRejected(told[:MOST_ERRORS], len(told))


def sentence(text: str) -> str:
    """A sentence that can be read aloud: a key such as as_of at its head becomes words."""
    key, _, rest = text.partition(" ")
    if "_" in key and key.isidentifier():
        text = f"{key.replace('_', ' ')} {rest}"
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")


def fault(error: PlanError) -> dict[str, Any]:
    """One fault as problem details give it."""
    plain: dict[str, Any] = {"in": "body", "pointer": error.pointer, "detail": error.detail}
    if error.line is not None:
        plain |= {"line": error.line, "column": error.column}
    return plain
