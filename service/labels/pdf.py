"""Labels as PDF, with the TrueType faces that come with reportlab (the ``pdf`` extra)."""

from __future__ import annotations

import io
import unicodedata
from collections.abc import Sequence
from typing import Any

from service.labels.code import code_runs
from service.labels.fitting import POINTS
from service.labels.label import Label
from service.labels.layout import laid_out
from service.labels.sheets import Sheet

_FACES = {False: ("breakcrop-label", "Vera.ttf"), True: ("breakcrop-label-bold", "VeraBd.ttf")}


class NoPdf(Exception):
    """The library that writes PDF is not installed."""

    def __init__(self) -> None:
        super().__init__("PDF needs a library that is not installed here: pip install 'breakcrop[pdf]'. HTML works.")


class NotInFont(ValueError):
    """Letters that the typeface of the PDF does not have."""

    def __init__(self, letters: str) -> None:
        self.letters = letters
        super().__init__(f"The typeface of the PDF has no {', '.join(letters[:20])}. Print the HTML page instead.")


def labels_pdf(labels: Sequence[Label], sheet: Sheet, *, first: int = 1, title: str = "Labels") -> bytes:
    """The sheets, with the first label at place ``first`` (from 1); the same labels give the same bytes.

    Raises
    ------
    NoPdf
        without reportlab.
    NotInFont
        for texts in a script that its faces do not have; letters with rare accents lose these.
    """
    try:
        from reportlab.pdfgen.canvas import Canvas
    except ImportError:
        raise NoPdf from None
    faces = _faces()
    labels = _in_font(labels, faces)
    wide, high = (side * POINTS for side in sheet.page)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(wide, high), invariant=True, initialFontName=_FACES[False][0])
    canvas.setTitle(title)
    canvas.setCreator("breakcrop")

    def measure(text: str, size: float, bold: bool) -> float:
        return float(faces[bold].stringWidth(text, size))

    for page in laid_out(labels, sheet, first, measure):
        for placed in page:
            if sheet.cut:
                canvas.setStrokeGray(0.5)
                canvas.setLineWidth(0.5)
                foot = high - (placed.y + sheet.label[1]) * POINTS
                canvas.rect(placed.x * POINTS, foot, sheet.label[0] * POINTS, sheet.label[1] * POINTS)
            for line in placed.lines:
                canvas.setFont(_FACES[line.bold][0], line.size * POINTS)
                canvas.drawString(line.x * POINTS, high - line.y * POINTS, line.text)
            if placed.code:
                _draw_code(canvas, placed.label.link, placed.code, sheet.code_side, high)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw_code(canvas: Any, link: str, corner: tuple[float, float], side: float, high: float) -> None:
    modules, runs = code_runs(link)
    unit = side * POINTS / modules
    left, top = corner[0] * POINTS, high - corner[1] * POINTS
    path = canvas.beginPath()
    for row, column, length in runs:
        path.rect(left + column * unit, top - (row + 1) * unit, length * unit, unit)
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.linkURL(link, (left, top - modules * unit, left + modules * unit, top))


def _faces() -> dict[bool, Any]:
    from reportlab.pdfbase.pdfmetrics import getFont, getRegisteredFontNames, registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    for name, file in _FACES.values():
        if name not in getRegisteredFontNames():
            registerFont(TTFont(name, file))
    return {bold: getFont(name) for bold, (name, _) in _FACES.items()}


def _in_font(labels: Sequence[Label], faces: dict[bool, Any]) -> list[Label]:
    known = faces[True].face.charToGlyph.keys() & faces[False].face.charToGlyph.keys()
    missing: dict[str, None] = {}

    def letter(mark: str) -> str:
        if ord(mark) in known:
            return mark
        plain = "".join(part for part in unicodedata.normalize("NFKD", mark) if not unicodedata.combining(part))
        if plain and all(ord(part) in known for part in plain):
            return plain
        missing[mark] = None
        return ""

    def text(said: str) -> str:
        return "".join(letter(mark) for mark in unicodedata.normalize("NFC", said))

    found = [one._replace(crop=text(one.crop), variety=text(one.variety), bed=text(one.bed)) for one in labels]
    if missing:
        raise NotInFont("".join(missing))
    return found
