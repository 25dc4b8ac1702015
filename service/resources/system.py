"""Health, readiness, the machine-readable document and where to find it."""

from __future__ import annotations

from functools import lru_cache

from flask import Flask, Response, current_app, request
from flask_smorest import Blueprint

from service.caching import cached
from service.encode import to_bytes
from service.openapi_doc import describe, document, problems
from service.schemas.system import CatalogSchema, HealthSchema, ReadySchema
from service.state import current, record_fault

HEALTH = "application/health+json"
LINKSET = 'application/linkset+json; profile="https://www.rfc-editor.org/info/rfc9727"'
OPENAPI = "application/vnd.oai.openapi+json;version=3.1"

system = Blueprint("system", __name__, description="Health, readiness and discovery.")


@system.route("/healthz")
@system.doc(operationId="health")
@describe(
    system.alt_response(200, schema=HealthSchema, content_type=HEALTH, description="It runs.", success=True),
    *problems(system, 500),
)
def health() -> Response:
    """Whether the process is up"""
    return _fresh({"status": "pass"}, 200)


@system.route("/readyz")
@system.doc(operationId="ready")
@describe(
    system.alt_response(200, schema=ReadySchema, content_type=HEALTH, description="It can judge.", success=True),
    system.alt_response(503, schema=ReadySchema, content_type=HEALTH, description="Something is missing."),
    *problems(system, 500),
)
def ready() -> Response:
    """Whether plans can be judged and the record can be used

    The version and digest of the knowledge in use.
    """
    facts = current().knowledge
    if facts is None:
        return _fresh({"status": "fail", "output": "The knowledge could not be loaded; the log says why."}, 503)
    used = {"version": facts.version, "digest": facts.digest, "overlay": facts.overlay}
    if (fault := record_fault()) is not None:
        return _fresh({"status": "fail", "output": fault, "rules": used}, 503)
    return _fresh({"status": "pass", "rules": used}, 200)


@system.route("/openapi.json")
@system.doc(operationId="openapi")
@describe(
    system.alt_response(200, schema={"type": "object"}, description="The OpenAPI document.", success=True),
    *problems(system, 304, 500),
)
def openapi() -> Response:
    """This document"""
    body = _document(current_app._get_current_object())  # type: ignore[attr-defined]
    return cached(body)


@system.route("/.well-known/api-catalog")
@system.doc(operationId="catalog")
@describe(
    system.alt_response(
        200,
        schema=CatalogSchema,
        content_type="application/linkset+json",
        description="A linkset.",
        success=True,
    ),
    *problems(system, 500),
)
def catalog() -> Response:
    """Where the interface and its documents are

    The catalog of RFC 9727.
    """
    root = request.script_root
    links = {
        "anchor": f"{root}/",
        "service-desc": [{"href": f"{root}/openapi.json", "type": OPENAPI}],
        "service-doc": [{"href": f"{root}/docs", "type": "text/html"}],
        "status": [{"href": f"{root}/healthz", "type": HEALTH}],
    }
    link = f'<{root}/.well-known/api-catalog>; rel="api-catalog"'
    return Response(to_bytes({"linkset": [links]}), headers={"Link": link}, content_type=LINKSET)


@lru_cache(maxsize=4)
def _document(app: Flask) -> bytes:
    return to_bytes(document(app))


def _fresh(value: dict[str, object], status: int) -> Response:
    return Response(to_bytes(value), status, {"Cache-Control": "no-store"}, content_type=HEALTH)
