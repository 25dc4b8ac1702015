"""Problem details (RFC 9457) for every error, whoever raised it.

``KINDS`` is the list of problem types.  Each ``type`` is a relative address that opens a
help page (``/problems/plan-rejected``), and stays what it is once published.
"""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import Any, NamedTuple

from flask import Flask, Response, g, request
from werkzeug.exceptions import HTTPException

from service.encode import to_bytes
from service.store.errors import Busy, Conflict, KeyReused, NotFound, Stale, StoreError, Unavailable

MEDIA_TYPE = "application/problem+json"

log = logging.getLogger("breakcrop")


class Kind(NamedTuple):
    """A problem type: its status, its title and what its help page says."""

    slug: str
    status: int
    title: str
    help: str

    @property
    def type(self) -> str:
        """The stable address of the type."""
        return f"/problems/{self.slug}"


KINDS: dict[str, Kind] = {
    kind.slug: kind
    for kind in (
        Kind(
            "plan-rejected",
            422,
            "The plan was not accepted",
            "The plan could be read, but something in it is unknown, missing or contradicts something else. "
            "All faults are listed at once in errors: pointer is the place in the plan (a JSON pointer), "
            "detail says what is wrong and, for names, the nearest known ones; "
            "for YAML, line and column count from 1. Nothing was checked.",
        ),
        Kind(
            "sheet-rejected",
            422,
            "The sheet was not accepted",
            "The heading of the sheet has columns that are unknown, missing or there twice, nothing says which "
            "season to judge, or what all gardens share has a fault. errors names each by its line or its place. "
            "Nothing was checked. What is wrong with one garden is no error of the sheet: that garden's own line "
            "tells it.",
        ),
        Kind(
            "question-rejected",
            422,
            "What was asked does not fit the plan",
            "A parameter in the address names a bed that the plan does not have, a measure that no hoop can have, "
            "or days that make no span. All faults are listed at once in errors, with the nearest right name.",
        ),
        Kind(
            "unreadable",
            400,
            "The body could not be read",
            "The body is not UTF-8, or not the JSON or YAML that its content type says. "
            "YAML is read without aliases, tags and duplicate keys.",
        ),
        Kind(
            "too-large",
            413,
            "The body is too large",
            "A plan may have 4 MB as JSON and 256 KB as YAML. Send one garden at a time.",
        ),
        Kind(
            "unsupported-media-type",
            415,
            "The content type is not one that is read here",
            "Say what you send with a Content-Type header; accepted lists what is read here. "
            "Text must be UTF-8, and the body is not compressed.",
        ),
        Kind(
            "bad-query",
            400,
            "A query parameter was not accepted",
            "A parameter in the address is unknown, stands twice, or has a value that is not allowed. "
            "errors names each.",
        ),
        Kind(
            "not-written",
            422,
            "What was sent could not be written down",
            "A key is unknown or missing, a value is not allowed, or it does not fit what is on record. "
            "All faults are listed at once in errors, each by its place in what was sent (a JSON pointer), "
            "with the nearest right name. Nothing was stored.",
        ),
        Kind(
            "token-needed",
            401,
            "A token is needed here",
            "Send the header Authorization: Bearer, a blank and a token that whoever runs the service made for you. "
            "A token that was revoked or never existed gives this answer as well.",
        ),
        Kind(
            "scope-missing",
            403,
            "This token may not do that",
            "The token is good, but for less: a publishable token reads what a page shows, a reading token "
            "reads all of a garden, a writing one also logs and plans, and a club admin's does all in its club.",
        ),
        Kind(
            "not-on-record",
            404,
            "Nothing is on record under this name",
            "No such garden, bed, planting, line or job is on record, or none that this token may see.",
        ),
        Kind(
            "conflict",
            409,
            "It does not fit what is on record",
            "The id is taken, or something else on record needs what would be changed. detail says what.",
        ),
        Kind(
            "job-goes-on",
            409,
            "The job is not over yet",
            "Its results can be read once it is done or cancelled. Ask again after Retry-After seconds.",
        ),
        Kind(
            "too-many-jobs",
            429,
            "Too many jobs are open",
            "A club may have only so many jobs that wait or run. Nothing was stored. GET /v1/jobs lists them: wait "
            "until one is done, or cancel one, and send this again.",
        ),
        Kind(
            "changed-meanwhile",
            412,
            "It was changed in the meantime",
            "If-Match names a version that is no longer the present one. Read it again, then change it.",
        ),
        Kind(
            "version-needed",
            428,
            "Say which version you change",
            "Send If-Match with the ETag that you read, so that nobody's change is lost.",
        ),
        Kind(
            "key-reused",
            422,
            "This key came with another request",
            "An Idempotency-Key stands for one request; it came before with another method, address or body. "
            "Use a new key for a new request.",
        ),
        Kind(
            "busy",
            503,
            "The record is busy",
            "Another write held the record for too long. Nothing was stored; try again after Retry-After seconds.",
        ),
        Kind(
            "record-unavailable",
            503,
            "The record cannot be reached",
            "The database does not answer, or is not in the shape that this version needs. Nothing was stored.",
        ),
        Kind(
            "no-proposal",
            503,
            "No proposal was worked out",
            "Either others are being worked out, and Retry-After says when to ask again; or the search failed or "
            "had no time for even a quick answer: ask for fewer years, for some of the beds, or with seconds=0.",
        ),
        Kind("bad-request", 400, "The request was not understood", "Something in the request is malformed."),
        Kind(
            "unknown-name",
            404,
            "No such entry",
            "Nothing is known under this name. nearest lists the ids most like it, if any is.",
        ),
        Kind("not-found", 404, "There is no such page", "The address does not exist. /docs lists all that do."),
        Kind(
            "method-not-allowed",
            405,
            "The method is not allowed here",
            "The address exists, but not for this method. The Allow header lists those that work.",
        ),
        Kind(
            "too-many-requests",
            429,
            "Too many checks in a short time",
            "Checks are counted for each client address; a plan costs one, and one more for every 64 KB. "
            "Retry-After says how many seconds to wait.",
        ),
        Kind(
            "internal-error",
            500,
            "Something went wrong on our side",
            "This is a fault of the service and not of the request. "
            "Whoever runs it finds the cause in the log under the request id.",
        ),
        Kind(
            "not-installed",
            501,
            "A library for this is not installed",
            "This form of the answer needs a library that whoever runs the service has left out. detail says which.",
        ),
        Kind(
            "not-ready",
            503,
            "The service is not ready",
            "The knowledge could not be loaded, so nothing can be judged. The log says why.",
        ),
    )
}

_BY_STATUS = {
    400: "bad-request",
    401: "token-needed",
    404: "not-found",
    405: "method-not-allowed",
    413: "too-large",
    415: "unsupported-media-type",
    500: "internal-error",
}
#: What the store refuses, by the type of problem that says so.
_REFUSED: dict[type[StoreError], str] = {
    NotFound: "not-on-record",
    Stale: "changed-meanwhile",
    Conflict: "conflict",
    KeyReused: "key-reused",
    Busy: "busy",
    Unavailable: "record-unavailable",
}
#: Details in our own words for errors that Werkzeug raises in its own.
_DETAILS = {
    400: "The request was not understood, or it ended before all of it had come.",
    404: "There is nothing at this address. /docs lists what there is.",
    405: "This method does not work at this address.",
    411: "Say how long the body is, with a Content-Length header.",
    413: "The body is larger than 4 MB.",
    500: "The service met a fault of its own. Try again later, and quote the request id if it stays.",
}


class Problem(HTTPException):
    """An error as a value: raise it anywhere and the client gets problem details.

    ``members`` are extension members of the body (``errors``, ``nearest``, ``accepted``).
    """

    def __init__(self, slug: str, detail: str, headers: dict[str, str] | None = None, **members: Any) -> None:
        super().__init__(detail)
        self.kind = KINDS[slug]
        self.code = self.kind.status
        self.headers, self.members = headers or {}, members


def handle(error: HTTPException) -> Response:
    """The problem details of any HTTP error, with the headers it brings (such as Allow)."""
    status = error.code or 500
    if status < 400:  # a redirect: nothing went wrong
        return error.get_response()  # type: ignore[return-value]
    slug = _BY_STATUS.get(status)
    kind = error.kind if isinstance(error, Problem) else KINDS[slug] if slug else None
    body: dict[str, Any] = {
        "type": kind.type if kind else "about:blank",
        "title": kind.title if kind else HTTPStatus(status).phrase,
        "status": status,
        "detail": _detail(error, status),
        "instance": request.path,
        "request_id": g.get("request_id", ""),
    }
    if isinstance(error, Problem):
        body.update(error.members)
    response = Response(to_bytes(body), status, content_type=MEDIA_TYPE)
    headers = error.headers.items() if isinstance(error, Problem) else error.get_headers()
    for name, value in headers:
        if name.lower() not in ("content-type", "content-length"):
            response.headers[name] = value
    response.headers["Cache-Control"] = "no-store"
    return response


def of_store(error: StoreError) -> Response:
    """The problem details of what the store refuses."""
    slug = next((slug for kind, slug in _REFUSED.items() if isinstance(error, kind)), "record-unavailable")
    if isinstance(error, Unavailable):
        log.error("request %s: %s", g.get("request_id", "-"), error.__cause__ or error)
    wait = {"Retry-After": str(Busy.retry_after)} if slug in ("busy", "record-unavailable") else {}
    return handle(Problem(slug, error.detail, wait))


def _detail(error: HTTPException, status: int) -> str:
    if isinstance(error, Problem):
        return error.description or error.kind.title
    if status == 500:
        log.error("request %s failed: %s %s", g.get("request_id", "-"), request.method, request.path)
    return _DETAILS.get(status) or error.description or HTTPStatus(status).phrase


def register(app: Flask) -> None:
    """Answer every error of the application with problem details."""
    # Flask turns an exception that nobody caught into a 500, which comes here as well.
    app.register_error_handler(HTTPException, handle)
    app.register_error_handler(StoreError, of_store)
