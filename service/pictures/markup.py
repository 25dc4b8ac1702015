"""Shapes as SVG elements.

Written here and not by the template around them: a timeline of 300 beds and 20 years has ninety thousand
shapes, and took 5.3 s with a template that wrote each, 1.1 s like this (2 cores, August 2026).
"""

from __future__ import annotations

from html import escape

from service.pictures.shapes import Area, Group, Label, Mark, MarkKind, Shape

#: Fills ground of which nothing is on record.
SILENT = "silent"
#: Our marks, drawn within 12 by 12 about their centre: a stone broken in two, a dish half full, an eye, a heap.
_MARKS: dict[MarkKind, str] = {
    "breach": '<path class="bc-solid" d="M-1.2-6L-6.6 0L-1.2 6L-2.4 2L-.6-1.5zM2.2-6L6.6 0L1.2 6L.4 2L2.4-1.5z"/>',
    "caution": '<circle class="bc-hollow" r="5"/><path class="bc-solid" d="M-5 0A5 5 0 0 0 5 0z"/>',
    "sighting": '<circle class="bc-hollow" r="4.6"/><circle class="bc-solid" r="1.7"/>',
    "soil": '<path class="bc-hollow" d="M-6 5Q-3-5 0-5Q3-5 6 5z"/>'
    '<path class="bc-thin" d="M-1.5 2H-.5M1.5 3H2.5M-.2-1.5H.8"/>',
}


def number(value: float) -> str:
    """A number with at most one decimal.

    >>> number(3.04), number(-0.01), number(2.25)
    ('3', '0', '2.2')
    """
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def written(shape: Shape, prefix: str) -> str:
    """A shape as an element; ``prefix`` begins every id of the picture."""
    if isinstance(shape, Area):
        return _area(shape, prefix)
    if isinstance(shape, Label):
        return _label(shape)
    if isinstance(shape, Group):
        return _group(shape, prefix)
    return _mark(shape)


def _group(group: Group, prefix: str) -> str:
    named = f' id="{prefix}-{escape(group.id)}"' if group.id else ""
    title = f"<title>{escape(group.title)}</title>" if group.title else ""
    return f"<g{named}>{title}{''.join(written(shape, prefix) for shape in group.shapes)}</g>\n"


def _area(area: Area, prefix: str) -> str:
    css = " ".join(f"bc-{name}" for name in area.css.split())
    painted = f' class="{css}"' if css else ""
    if area.family is not None:
        painted += f' fill="url(#{fill_id(prefix, area.family)})"'
    elif area.fill:
        painted += f' fill="{area.fill}"'
    path = "L".join(f"{number(x)} {number(y)}" for x, y in area.points)
    return f'<path{painted} d="M{path}{"z" if area.closed else ""}"/>'


def _label(label: Label) -> str:
    names = ([f"bc-{label.css}"] if label.css else []) + (["bc-bold"] if label.bold else [])
    told = f' textLength="{number(label.told)}" lengthAdjust="spacingAndGlyphs"' if label.told else ""
    fill = f' fill="{label.fill}"' if label.fill else ""
    title = f"<title>{escape(label.whole)}</title>" if label.whole else ""
    return (
        f'<text {_place(label.x, label.y, label.turn)} class="{" ".join(names)}" font-size="{number(label.size)}"'
        f"{fill}{told}>{escape(label.text)}{title}</text>"
    )


def _mark(mark: Mark) -> str:
    turn = f" rotate({number(mark.turn)})" if mark.turn else ""
    return f'<g transform="translate({number(mark.x)} {number(mark.y)}){turn}">{_MARKS[mark.mark]}</g>'


def _place(x: float, y: float, turn: float) -> str:
    if turn:
        return f'transform="translate({number(x)} {number(y)}) rotate({number(turn)})"'
    return f'x="{number(x)}" y="{number(y)}"'


def fill_id(prefix: str, family: str) -> str:
    """The id of a family's pattern, or of the one for ground without a record."""
    return f"{prefix}-{SILENT}" if family == SILENT else f"{prefix}-family-{family or 'several'}"
