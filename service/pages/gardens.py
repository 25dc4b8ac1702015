"""Pages of a stored garden for people: the garden, a planting's record, and the garden in a frame.

A page is the same for every id and holds nothing secret.  Its script takes the key from behind "#"
in the address, which no server and no log sees, and asks the service with it; without a key it asks
for one.  So these pages tell nobody whether a garden exists.
"""

from __future__ import annotations

from flask import Blueprint, Response, render_template

from service.hooks import policy
from service.labels import SHEETS
from service.labels.page import style_source
from service.pages import CACHE
from service.state import current

garden_pages = Blueprint("garden_pages", __name__)


@garden_pages.route("/gardens/<garden>")
def show(garden: str) -> Response:
    """A garden: its beds today, findings, pictures, and labels to print."""
    # Labels open as a page made here, which keeps this policy: their style sheets must be let by.
    styles = " ".join(dict.fromkeys(["'self'", *map(style_source, SHEETS.values())]))
    return _page("garden.html", policy(style_src=styles, **_SCRIPTED), garden=garden, sheets=SHEETS.values())


@garden_pages.route("/gardens/<garden>/plantings/<planting>")
def planting(garden: str, planting: str) -> Response:
    """The record of a planting: what a label's code opens."""
    return _page("planting.html", policy(**_SCRIPTED), garden=garden, planting=planting)


@garden_pages.route("/embed/<garden>")
def embed(garden: str) -> Response:
    """A garden in a frame, for sites whose editor strips scripts; the sites that may are those of CORS."""
    sites = " ".join(current().config.cors_origins) or "'none'"
    return _page("embed.html", policy(frame_ancestors=sites, **_SCRIPTED), garden=garden)


_SCRIPTED = {"script_src": "'self'", "connect_src": "'self'", "img_src": "'self' data: blob:"}


def _page(template: str, rules: str, **values: object) -> Response:
    headers = {"Cache-Control": CACHE, "Content-Security-Policy": rules}
    return Response(render_template(template, **values), headers=headers)
