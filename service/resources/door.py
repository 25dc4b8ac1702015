"""What the routes of the record are documented with: a token, and how each can fail."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import request
from flask_smorest import Blueprint

from service.access import caller
from service.negotiate import JSON, MERGE_PATCH
from service.openapi_doc import HEADERS, describe, problems
from service.schemas.query import QueryParser

#: Every route of the record needs a token.
SECURITY = [{"bearer": []}]
#: How any route of the record can fail.
ALWAYS = (401, 403, 404, 500, 503)
_ETAG = {"ETag": HEADERS["ETag"]}
_LOCATION = {"Location": {"schema": {"type": "string"}, "description": "where it is"}}


#: A calendar brings its own secret in the address.
BY_ADDRESS = "stored.calendar"


class RecordBlueprint(Blueprint):
    """A blueprint that asks for a good token before anything else, and reads query parameters strictly."""

    ARGUMENTS_PARSER = QueryParser()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.before_request(_known)


def _known() -> None:
    if request.method != "OPTIONS" and not (request.endpoint == BY_ADDRESS and "key" in request.args):
        caller()


def _header(name: str, about: str, pattern: str) -> dict[str, Any]:
    form = {"type": "string", "pattern": pattern}
    return {"in": "header", "name": name, "description": about, "schema": form}


#: An idempotency key: the draft standard writes it in quotes.
KEY_FORM = r'^"?[!#-~]{1,255}"?$'
IF_MATCH = _header(
    "If-Match", "Needed: the ETag that was read, or * for any. What changed since is not lost.", '^([*]|"[0-9]{1,9}")$'
)
KEY = _header("Idempotency-Key", "Any text of your own: what comes again with it is done once (24 hours).", KEY_FORM)


def reads(
    blueprint: Blueprint,
    operation: str,
    schema: Any,
    about: str,
    *more: Any,
    faults: tuple[int, ...] = (),
    again: bool = True,
) -> Callable[[Any], Any]:
    """What documents a route that reads and answers with JSON (and in other forms, if any).

    ``again`` is False where a client that asks again is always told anew, and never 304.
    """
    told = blueprint.alt_response(200, schema=schema, description=about, headers=_ETAG, success=True)
    documented = describe(
        told, *more, *problems(blueprint, *sorted({400, *ALWAYS, *faults, *([304] if again else [])}))
    )

    def decorate(view: Any) -> Any:
        return blueprint.doc(operationId=operation, security=SECURITY)(documented(view))

    return decorate


def adds(
    blueprint: Blueprint, operation: str, body: Any, schema: Any, about: str, *more: Any, other: tuple[str, ...] = ()
) -> Callable[[Any], Any]:
    """What documents a route that adds a row; ``other`` are content types beside JSON."""
    content = {kind: {"schema": body} for kind in (JSON, *other)}
    told = blueprint.alt_response(201, schema=schema, description=about, headers={**_ETAG, **_LOCATION}, success=True)
    documented = describe(told, *more, *problems(blueprint, *sorted({400, 409, 413, 415, 422, *ALWAYS})))

    def decorate(view: Any) -> Any:
        asked = {"required": True, "content": content}
        return blueprint.doc(operationId=operation, security=SECURITY, requestBody=asked, parameters=[KEY])(
            documented(view)
        )

    return decorate


def changes(blueprint: Blueprint, operation: str, body: Any, schema: Any, about: str) -> Callable[[Any], Any]:
    """What documents a route that changes a row by a merge patch."""
    about_body = f"Keys of {body.__name__.removesuffix('Schema')}; null takes one away."
    open_body = {"type": "object", "description": about_body}
    content = {kind: {"schema": open_body} for kind in (MERGE_PATCH, JSON)}
    told = blueprint.alt_response(200, schema=schema, description=about, headers=_ETAG, success=True)
    documented = describe(told, *problems(blueprint, *sorted({400, 409, 412, 413, 415, 422, 428, *ALWAYS})))

    def decorate(view: Any) -> Any:
        asked = {"required": True, "content": content}
        return blueprint.doc(operationId=operation, security=SECURITY, requestBody=asked, parameters=[IF_MATCH, KEY])(
            documented(view)
        )

    return decorate


def removes(blueprint: Blueprint, operation: str) -> Callable[[Any], Any]:
    """What documents a route that takes a row away."""
    told = blueprint.alt_response(204, description="It is gone.", success=True)
    documented = describe(told, *problems(blueprint, *sorted({400, 409, 412, 422, 428, *ALWAYS})))

    def decorate(view: Any) -> Any:
        return blueprint.doc(operationId=operation, security=SECURITY, parameters=[IF_MATCH, KEY])(documented(view))

    return decorate
