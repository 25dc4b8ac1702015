"""Which form a body has and which form its answer shall have."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from flask import request
from werkzeug.exceptions import HTTPException

from service.errors import Problem

JSON, TEXT, HTML, CALENDAR = "application/json", "text/plain", "text/html", "text/calendar"
YAML_TYPES = ("application/yaml", "application/x-yaml", "text/yaml", "text/x-yaml")
ACCEPTED = (JSON, *YAML_TYPES)
PDF, CSV, SVG = "application/pdf", "text/csv", "image/svg+xml"
NDJSON = "application/x-ndjson"
MERGE_PATCH, FORM = "application/merge-patch+json", "application/x-www-form-urlencoded"
_UTF8 = frozenset({"utf-8", "utf8", "us-ascii"})


def body_kind() -> Literal["json", "yaml"]:
    """What the plan in the body of this request is written in; ``Problem`` (415) for any other type."""
    return "json" if body_type(ACCEPTED) == JSON else "yaml"


def body_type(accepted: Sequence[str]) -> str:
    """The content type of the body of this request, one of those that are accepted.

    Raises ``Problem`` (415) for any other type, another charset, or a compressed body.
    """
    mimetype = request.mimetype
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    coding = request.headers.get("Content-Encoding", "").strip().lower() or "identity"
    if charset in _UTF8 and coding == "identity" and mimetype in accepted:
        return mimetype
    which = "Accept-Patch" if request.method == "PATCH" else "Accept-Post"
    raise Problem(
        "unsupported-media-type",
        _complaint(mimetype, charset, coding, accepted),
        {which: ", ".join(accepted), "Accept-Encoding": "identity"},
        accepted=list(accepted),
    )


def body_bytes(*, keep: bool = False) -> bytes:
    """The body; ``keep`` it when it will be asked for again.

    Raises ``Problem`` (400) where it does not arrive as it was announced.
    """
    try:
        return request.get_data(cache=keep)
    except HTTPException:
        raise
    except Exception as error:  # broken chunks: each server raises an exception of its own
        detail = "The body ended early or was cut into broken chunks. Send it again, with a Content-Length header."
        raise Problem("bad-request", detail, {"Connection": "close"}) from error


def _complaint(mimetype: str, charset: str, coding: str, accepted: Sequence[str]) -> str:
    right = " or ".join(accepted[:2])
    if coding != "identity":
        return f"A body compressed with {coding[:40]} is not read here; send it as it is."
    if charset not in _UTF8:
        return f"Text in {charset[:40]} is not read here; send UTF-8."
    if not mimetype:
        return f"The Content-Type header is missing. Send {right}."
    return f"The content type {mimetype[:80]} is not read here. Send {right}."


def answer_type(offers: Sequence[str], wanted: str | None) -> str:
    """The media type to answer with: ``?format=`` if given, else the best of Accept.

    The first offer is the default, also where Accept asks for something that is not offered:
    an answer in the wrong form helps more than none.
    """
    if wanted:
        return {"json": JSON, "text": TEXT, "html": HTML, "ics": CALENDAR}[wanted]
    accept = request.headers.get("Accept", "*/*")
    if accept in ("*/*", offers[0]):
        return offers[0]
    return request.accept_mimetypes.best_match(offers, default=offers[0]) or offers[0]
