"""Puts the application together: settings, hooks, errors, resources, document."""

from __future__ import annotations

import logging
from typing import Any

from flask import Flask, Response
from flask_cors import CORS
from werkzeug.middleware.proxy_fix import ProxyFix

from service import errors, hooks
from service.config import MAX_BODY, Config, read_config
from service.openapi_doc import OPTIONS, Api
from service.pages import pages
from service.pages.gardens import garden_pages
from service.resources.answers import answers
from service.resources.batch import batches
from service.resources.beds import beds
from service.resources.board import board
from service.resources.checks import checks
from service.resources.gardens import gardens
from service.resources.jobs import jobs
from service.resources.journal import journal
from service.resources.knowledge import knowledge
from service.resources.labels import labels
from service.resources.pairs import pairs
from service.resources.pictures import pictures
from service.resources.planning import planning
from service.resources.plantings import plantings
from service.resources.proposals import proposals
from service.resources.sheets import sheets
from service.resources.stored import stored
from service.resources.system import system
from service.state import KEY, load_state

#: Everything that the document describes.
BLUEPRINTS = (
    checks,
    batches,
    answers,
    planning,
    knowledge,
    pairs,
    system,
    gardens,
    beds,
    plantings,
    jobs,
    journal,
    stored,
    board,
    pictures,
    labels,
    sheets,
    proposals,
)
EXPOSED = ("Content-Location", "ETag", "Link", "Location", "Retry-After", "X-Request-ID")


def build(config: Config | None = None) -> Flask:
    """An application with its own knowledge and counters; it migrates nothing and makes no token."""
    config = config or read_config()
    app = Flask("service", static_folder="pages/static", template_folder="pages/templates")
    app.config.update(MAX_CONTENT_LENGTH=MAX_BODY, **OPTIONS)
    logging.getLogger("breakcrop").setLevel(config.log_level.upper())
    # A redirect would answer with HTML, and automations rarely follow one.
    app.url_map.strict_slashes = False
    app.url_map.merge_slashes = False
    app.extensions[KEY] = load_state(config)
    hooks.register(app, config)
    if config.cors_origins:
        _share(app, config.cors_origins)
    api = Api(app)
    for blueprint in BLUEPRINTS:
        api.register_blueprint(blueprint)
    app.register_blueprint(pages)
    app.register_blueprint(garden_pages)
    errors.register(app)
    if config.proxies:
        hops = config.proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops, x_prefix=hops)  # type: ignore[method-assign]
    return app


def _share(app: Flask, allowed: tuple[str, ...]) -> None:
    """Let pages of other origins read what stands under ``/v1``."""
    origins = "*" if "*" in allowed else list(allowed)
    # A module script is fetched by the rules of CORS as well.
    paths: Any = {path: {"origins": origins} for path in (r"/v1/.*", r"/static/breakcrop-garden\.js")}
    CORS(app, resources=paths, expose_headers=list(EXPOSED), max_age=3600, vary_header=False)
    if origins != "*":

        @app.after_request
        def vary(response: Response) -> Response:
            # Also where the origin is missing or refused: a cache may keep that answer.
            response.vary.add("Origin")
            return response
