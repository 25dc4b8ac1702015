"""Labels as one HTML page with print CSS: a drawing to scale for each sheet, nothing fetched from elsewhere."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from functools import cache

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from service.labels.code import code_svg
from service.labels.fitting import estimate
from service.labels.label import Label
from service.labels.layout import laid_out
from service.labels.marking import MARKING, PRINTING
from service.labels.sheets import Sheet


def labels_html(labels: Sequence[Label], sheet: Sheet, *, first: int = 1, title: str = "Labels") -> str:
    """The page, with the first label at place ``first`` (from 1) of a sheet that is used in part."""
    return (
        _templates()
        .get_template("labels.html")
        .render(
            title=title,
            css=Markup(style(sheet)),
            sheet=sheet,
            pages=list(laid_out(labels, sheet, first, estimate)),
            code_svg=lambda link: Markup(code_svg(link)),
            number=len(labels),
            printing=PRINTING,
            marking=MARKING,
        )
    )


def style(sheet: Sheet) -> str:
    """The page's style sheet."""
    return _templates().get_template("labels.css").render(sheet=sheet)


def style_source(sheet: Sheet) -> str:
    """The page's one style sheet by its digest, as a Content-Security-Policy names what it lets by."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(style(sheet).encode()).digest()).decode()}'"


@cache
def _templates() -> Environment:
    return Environment(loader=PackageLoader("service.labels"), autoescape=True, trim_blocks=True, lstrip_blocks=True)
