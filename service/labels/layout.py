"""Labels laid out on sheets, in millimetres: what HTML and PDF both draw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from service.labels.fitting import LINE, POINTS, Measure, fit
from service.labels.label import Label
from service.labels.sheets import Sheet

#: How far a line's foot lies below its upper edge, in sizes.
_FOOT = (LINE - 1) / 2 + 0.77


class Text(NamedTuple):
    """A line of text by the left end of its foot; size in millimetres."""

    x: float
    y: float
    size: float
    bold: bool
    text: str


class Placed(NamedTuple):
    """A label on a page: its upper left corner, its lines, and its code's corner (None without a link)."""

    label: Label
    x: float
    y: float
    lines: tuple[Text, ...]
    code: tuple[float, float] | None


def laid_out(labels: Sequence[Label], sheet: Sheet, first: int, measure: Measure) -> Iterator[list[Placed]]:
    """Page by page the labels, each line in its place, the first label at place ``first`` (from 1)."""
    for page in sheet.pages(len(labels), first):
        yield [_placed(labels[at], sheet, corner, measure) for at, corner in page]


def _placed(label: Label, sheet: Sheet, corner: tuple[float, float], measure: Measure) -> Placed:
    left, wide, high = sheet.text_box(beside_code=bool(label.link))
    lines = fit(label, wide, high, measure)
    x, y = corner
    middle = y + sheet.label[1] / 2
    top = middle - sum(line.size for line in lines) * LINE / POINTS / 2
    texts = []
    for line in lines:
        size = line.size / POINTS
        texts.append(Text(x + left, top + _FOOT * size, size, line.bold, line.text))
        top += LINE * size
    code = (x + sheet.inset / 2, middle - sheet.code_side / 2) if label.link else None
    return Placed(label, x, y, tuple(texts), code)
