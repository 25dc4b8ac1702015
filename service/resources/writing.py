"""What routes of a stored garden share when they write: the body, the version, the key, and one transaction."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from typing import Any
from urllib.parse import parse_qsl

from flask import Response, request
from marshmallow import ValidationError
from sqlalchemy.orm import Session

from service.access import Caller, garden_for, hold
from service.encode import to_bytes
from service.errors import Problem
from service.exporting import plain
from service.faults import refused, rejected, unreadable
from service.negotiate import JSON, MERGE_PATCH, body_bytes, body_type
from service.reading import PlanRejected, Unreadable, flat, parse
from service.record import Record
from service.resources.checks import today
from service.resources.door import KEY_FORM
from service.schemas.rows import PlainSchema
from service.schemas.words import clean
from service.state import knowledge, store
from service.store.errors import Stale
from service.store.once import Answer, Key, once
from service.store.repository import Repository
from service.store.rows import typed_row

Row = dict[str, Any]
_KEY = re.compile(KEY_FORM, re.ASCII)
_VERSION = re.compile(r'"([0-9]{1,9})"')
#: Fields that a form may have at most; a line has fewer than twenty.
MOST_FIELDS = 100


def sent(*accepted: str) -> Any:
    """The JSON in the body; ``Problem`` (400, 413, 415) where there is none."""
    body_type(accepted or (JSON,))
    try:
        return parse(body_bytes(keep=True), "json")[0]
    except Unreadable as error:
        raise unreadable(error) from None


def form_sent() -> Row:
    """The keys and values of the form in the body; ``Problem`` (400) for what is none, or has a key twice."""
    # Read by ourselves: the body is needed again, and Flask would pass over what is wrong with it.
    try:
        pairs = parse_qsl(
            body_bytes(keep=True).decode(), keep_blank_values=True, errors="strict", max_num_fields=MOST_FIELDS
        )
    except UnicodeDecodeError:
        raise Problem("unreadable", "The form is not UTF-8 text.") from None
    except ValueError:
        raise Problem("unreadable", f"The form has more than {MOST_FIELDS} fields.") from None
    counted = Counter(key for key, _ in pairs)
    if twins := [clean(key) for key, times in counted.items() if times > 1]:
        raise Problem("unreadable", f"The form has {twins[0]} more than once. Send each key once.")
    return dict(pairs)


def loaded(schema: PlainSchema, raw: Any) -> Row:
    """What was sent as the plan's schema reads it; ``PlanRejected`` with all faults."""
    try:
        typed: Row = schema.load(raw)
    except ValidationError as error:
        raise rejected(flat(error.messages, ())) from None
    return typed


def patched(schema: PlainSchema, row: Any, raw: Any) -> Row:
    """The keys of a row that a merge patch (RFC 7396) changes, None for one that it takes away.

    The row is read whole as it would become, so that faults are found as in a new one.
    """
    if not isinstance(raw, Mapping):
        raise rejected([((), "must be a group of keys and values")])
    typed = loaded(schema, merged(plain(typed_row(row)), raw))
    return {key: typed.get(key) for key in raw if not key.startswith("x-")}


def merged(value: Any, patch: Any) -> Any:
    """A value with a merge patch applied (RFC 7396): null takes away, lists are replaced whole.

    >>> merged({"soil": {"ph": 6.5, "texture": "loam"}, "name": "Kiln"}, {"soil": {"ph": None}, "name": "Quay"})
    {'soil': {'texture': 'loam'}, 'name': 'Quay'}
    """
    if not isinstance(patch, Mapping):
        return patch
    result = dict(value) if isinstance(value, Mapping) else {}
    for key, part in patch.items():
        if part is None:
            result.pop(key, None)
        else:
            result[key] = merged(result.get(key), part)
    return result


def wanted_version() -> int | None:
    """The version that If-Match names, None for any; ``Problem`` (428) without the header."""
    header = request.headers.get("If-Match", "").strip()
    if not header:
        raise Problem("version-needed", "Send If-Match with the ETag of what you read, so that no change is lost.")
    if header == "*":
        return None
    found = _VERSION.fullmatch(header)
    if found is None:
        raise Stale
    return int(found.group(1))


def write(garden_id: str, work: Callable[[Record], Answer]) -> Response:
    """Change a garden in one transaction, once for each idempotency key; what is wrong leaves nothing behind."""
    asked = garden_for("garden_write", garden_id)

    def whole(session: Session) -> Answer:
        repository = Repository(session)
        held = repository.hold(garden_id)  # first: from here on nobody else changes what this one reads
        day, now = today(held.time_zone), datetime.now(UTC)
        return work(Record(repository, garden_id, knowledge(), today=day, now=now, token_id=asked.token_id, held=held))

    return write_once(asked, whole)


def write_once(asked: Caller, work: Callable[[Session], Answer], body: bytes | None = None) -> Response:
    """Do a write, or give the answer that the same request had before.

    ``body`` stands for the request's own where that was too large to be kept: its digest will do.
    """
    with told_apart():
        now, first = datetime.now(UTC), partial(hold, asked=asked)
        answer, _ = once(store(), _key(asked, body), work, now=now, first=first)
    return Response(answer.body, answer.status, dict(answer.headers))


@contextmanager
def told_apart() -> Iterator[None]:
    """Within the block, what cannot be written down becomes a ``Problem`` (422)."""
    try:
        yield
    except PlanRejected as found:
        raise refused(found, "not-written") from None


def answer(row: Row, status: int = 200, *, version: int | None = None, location: str | None = None) -> Answer:
    """A row as JSON, with its version as ETag and its address."""
    headers = {"Content-Type": JSON, "Cache-Control": "no-store"}
    if version is not None:
        headers["ETag"] = f'"{version}"'
    if location is not None:
        headers["Location"] = f"{request.script_root}{location}"
    return Answer(status, to_bytes(row), headers)


def gone() -> Answer:
    """Nothing is left to tell."""
    return Answer(204, b"", {"Cache-Control": "no-store"})


def patch_sent() -> Any:
    """A merge patch in the body."""
    return sent(MERGE_PATCH, JSON)


def _key(asked: Caller, body: bytes | None) -> Key | None:
    header = request.headers.get("Idempotency-Key")
    if header is None:
        return None
    name = header.strip()
    if not _KEY.fullmatch(name):
        raise Problem("bad-request", "An Idempotency-Key is 1 to 255 letters, digits and signs without blanks.")
    sent = body_bytes(keep=True) if body is None else body
    whole = b"\0".join((request.method.encode(), request.full_path.encode(), sent))
    return Key(asked.token_id, name.strip('"'), hashlib.sha256(whole).hexdigest())
