"""Labels for the plantings of a stored garden."""

from __future__ import annotations

from typing import Any

from flask import Response, request

from service.access import caller
from service.errors import Problem
from service.hooks import policy
from service.labels import NoPdf, NotInFont, labels_html, labels_pdf
from service.labels.asked import Asked, labels_asked
from service.labels.page import style_source
from service.negotiate import HTML, PDF
from service.openapi_doc import describe, problems
from service.resources.door import ALWAYS, SECURITY, RecordBlueprint
from service.resources.planning import file_name, refuse
from service.resources.recorded import plan_of, seen
from service.schemas.labels import LabelsQuery

labels = RecordBlueprint("labels", __name__, description="Labels to print.")

_TEXT = {"type": "string"}


@labels.route("/v1/gardens/<garden>/labels")
@labels.arguments(LabelsQuery(), location="query")
@labels.doc(operationId="printLabels", security=SECURITY)
@describe(
    labels.alt_response(200, schema=_TEXT, content_type=HTML, description="A page to print.", success=True),
    labels.alt_response(200, schema=_TEXT, content_type=PDF, description="The sheets.", success=True),
    *problems(labels, *sorted({400, 409, 422, 429, 501, *ALWAYS})),
)
def sheets(query: dict[str, Any], garden: str) -> Response:
    """Print labels

    Crop, variety, bed and date of each planting, with a QR code that opens its page. Asked for with
    the garden's publishable key the codes carry that key behind `#`, and open by themselves; with any
    other token the page asks for a key.
    """
    there = seen(garden, "publishable_read")
    plan = plan_of(there)
    asked, faults = labels_asked(
        plan,
        beds=_names(query.get("bed")),
        plantings=_names(query.get("planting")),
        sheet=query["sheet"],
        first=query["first"],
        link=_page_of(garden),
    )
    refuse(faults)
    assert asked is not None  # without a fault there is something
    if not asked.labels:
        raise Problem("conflict", f"Nothing is planned or stands in {there.name}, so there is nothing to label.")
    return _sheets(asked, plan.garden.name, query["format"])


def _names(words: str | None) -> list[str]:
    return [name.strip() for name in words.split(",")] if words else []


def _page_of(garden: str) -> str:
    """The garden's page for people; only a key that can do no more than read may stand on a label."""
    key = f"#{request.authorization.token}" if caller().scope == "publishable_read" else ""
    return f"{request.url_root}gardens/{garden}{key}"


def _sheets(asked: Asked, garden: str, form: str) -> Response:
    title = f"Labels for {garden}"
    headers = {"Cache-Control": "no-store", "Vary": "Authorization"}
    if form == "html":
        body = labels_html(asked.labels, asked.sheet, first=asked.first, title=title).encode()
        headers["Content-Security-Policy"] = policy(style_src=style_source(asked.sheet))
        return Response(body, headers=headers, content_type=f"{HTML}; charset=utf-8")
    try:
        body = labels_pdf(asked.labels, asked.sheet, first=asked.first, title=title)
    except NoPdf as error:
        raise Problem("not-installed", str(error)) from None
    except NotInFont as error:
        raise Problem("question-rejected", str(error)) from None
    headers["Content-Disposition"] = f'inline; filename="labels-{file_name(garden)}.pdf"'
    return Response(body, headers=headers, content_type=PDF)
