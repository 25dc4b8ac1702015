"""Answers that a client may keep: what is known changes with a release or an overlay, not with a request."""

from __future__ import annotations

import hashlib

from flask import Response, request

from service.negotiate import JSON

CACHE = "public, max-age=300"


def cached(body: bytes, media_type: str = JSON) -> Response:
    """An answer that a client may keep, with a strong ETag; 304 where it has it already."""
    response = Response(body, content_type=media_type if media_type == JSON else f"{media_type}; charset=utf-8")
    response.set_etag(hashlib.blake2b(body, digest_size=16).hexdigest())
    response.headers["Cache-Control"] = CACHE
    response.make_conditional(request)
    response.headers.pop("Date", None)  # the server sends its own
    return response
