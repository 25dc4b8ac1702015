"""The sheet that a picture is drawn on: shapes, a pen that writes downwards, and the SVG that comes out."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from math import ceil, inf
from typing import cast, get_args

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from rules.report import Finding
from service.pictures.looks import PATTERNS, THEMES, Look
from service.pictures.markup import SILENT, fill_id, number, written
from service.pictures.measure import width, wrap
from service.pictures.shapes import (
    ASCENT,
    LEADING,
    Area,
    Box,
    Label,
    Mark,
    MarkKind,
    Shape,
    cut_to,
    line,
    rectangle,
)
from service.words import tame

MARGIN = 20.0
TITLE, TEXT, SMALL, CODE = 21.0, 13.0, 12.0, 11.0
CHIP_WIDTH, CHIP_HEIGHT = 22.0, 16.0
#: Lines of findings that are written out; the rest are counted.
MOST_FINDINGS = 8
#: Between columns, and lines for which one column is enough.
_BETWEEN, _FEW = 12.0, 8
#: One tile of 12 by 12 of each pattern.
_TILES = dict(
    zip(
        PATTERNS,
        (
            "M-2 2 L2 -2 M-2 8 L8 -2 M-2 14 L14 -2 M4 14 L14 4 M10 14 L14 10",
            "M-2 10 L2 14 M-2 4 L8 14 M-2 -2 L14 14 M4 -2 L14 8 M10 -2 L14 2",
            "M0 2 H12 M0 6 H12 M0 10 H12",
            "M2 0 V12 M6 0 V12 M10 0 V12",
            "M0 3 H12 M0 9 H12 M3 0 V12 M9 0 V12",
            "M-2 -2 L14 14 M-2 14 L14 -2 M4 14 L14 4 M-2 8 L8 -2 M4 -2 L14 8 M-2 4 L8 14",
            "M1.8 3 H4.2 M2.2 2 H3.8 M2.2 4 H3.8 M7.8 9 H10.2 M8.2 8 H9.8 M8.2 10 H9.8",
            "M6 2.5 A3.5 3.5 0 0 1 6 9.5 A3.5 3.5 0 0 1 6 2.5",
            "M3 .5 V5.5 M.5 3 H5.5 M9 6.5 V11.5 M6.5 9 H11.5",
            "M0 3 L3 0 L6 3 L9 0 L12 3 M0 9 L3 6 L6 9 L9 6 L12 9",
            "M0 .5 H12 M0 6.5 H12 M3 .5 V6.5 M9 6.5 V12",
        ),
        strict=True,
    )
)


class Sheet:
    """Shapes in the order in which they are drawn, and a pen at ``y`` that writes line under line."""

    def __init__(self, prefix: str, sheet_width: float, looks: Mapping[str, Look]) -> None:
        self.prefix, self.width, self.looks = prefix, sheet_width, looks
        self.shapes: list[Shape] = []
        self.y = MARGIN

    @property
    def room(self) -> float:
        """Between the margins."""
        return self.width - 2 * MARGIN

    def add(self, *shapes: Shape | None) -> None:
        """Draw on top of all that was drawn."""
        self.shapes += [shape for shape in shapes if shape is not None]

    def write(
        self,
        text: str,
        size: float = TEXT,
        css: str = "ink",
        bold: bool = False,
        indent: float = 0,
        most: int = 2,
        keep: float = 0,
    ) -> None:
        """Write a paragraph at the pen, ``keep`` free at its right."""
        lines = wrap(text, self.room - indent - keep, size, bold, most)
        cut = tame(text) if lines and lines[-1] not in text else None
        for count, told in enumerate(lines, 1):
            whole = cut if count == len(lines) else None
            label = Label(MARGIN + indent, self.y + ASCENT * size, told, size, css, bold, whole=whole)
            self.add(label)
            self.y += LEADING * size

    def columns(self, lines: Sequence[str], narrowest: float) -> None:
        """Write paragraphs in columns, all down the first, then the next, so that many do not make a long page."""
        count = max(1, min(int(self.room // narrowest), ceil(len(lines) / _FEW)))
        step, top, deepest = self.room / count, self.y, self.y
        each = ceil(len(lines) / count)
        for column in range(count):
            self.y = top
            for text in lines[column * each : (column + 1) * each]:
                self.write(text, SMALL, indent=column * step, keep=self.room - (column + 1) * step + _BETWEEN)
                self.y += 2
            deepest = max(deepest, self.y)
        self.y = deepest

    def heading(self, text: str) -> None:
        """Write the heading of a part."""
        self.y += 14
        self.write(text, TEXT, bold=True, most=1)
        self.y += 3

    def head(self, title: str, under: str, keep: float = 0) -> None:
        """Write what the picture is."""
        self.write(title, TITLE, bold=True, most=1, keep=keep)
        self.y += 1
        self.write(under, TEXT, "quiet", most=2, keep=keep)
        self.y += 20

    def family_key(self, families: Iterable[str]) -> None:
        """Write what the patterns and letters mean, as many beside each other as there is room for."""
        entries = [(family, self.looks[family].name) for family in self.looks if family in set(families)]
        if not entries:
            return
        self.heading("Families")
        longest = max(width(name, SMALL) for _, name in entries) + 34 + CHIP_WIDTH + 28
        columns = max(1, int(self.room // min(longest, self.room)))
        step = self.room / columns
        for count, (family, name) in enumerate(entries):
            column = count % columns
            if column == 0 and count:
                self.y += 24
            x = MARGIN + column * step
            swatch = Box(x, self.y, x + 34, self.y + 18)
            self.add(rectangle(swatch, "framed", family))
            self.chip(family, x + 39, self.y + 1)
            start = x + 39 + CHIP_WIDTH + 5
            self.add(cut_to(name, start, self.y + 13.5, x + step - start - 6, SMALL))
        self.y += 24

    def chip(self, family: str, x: float, y: float) -> None:
        """The letters of a family on its colour."""
        self.add(*chip(self.looks[family], x, y))

    def signs(self, entries: Iterable[tuple[str, str, bool]]) -> None:
        """Write what marks and lines mean, those that are used: the sign, its words, and whether it is."""
        used = [(sign, words) for sign, words, wanted in entries if wanted]
        x = MARGIN
        self.y += 8 if used else 0
        for sign, words in used:
            long = 38 + width(words, SMALL) + 22
            if x > MARGIN and x + long > self.width - MARGIN:
                x, self.y = MARGIN, self.y + 22
            self._sign(sign, x)
            self.add(cut_to(words, x + 39, self.y + 13, self.width - MARGIN - x - 39, SMALL))
            x += long
        self.y += 22 if used else 0

    def _sign(self, sign: str, x: float) -> None:
        box = Box(x + 1, self.y + 1, x + 33, self.y + 17)
        if sign in get_args(MarkKind):
            self.add(Mark(cast(MarkKind, sign), x + 17, self.y + 9))
        elif sign == "cover":
            self.add(rectangle(box, "soil"), rectangle(box, "cover"))
        elif sign == "break":
            self.add(*tail(x + 2, x + 18, x + 32, self.y + 9))
        elif sign == SILENT:
            self.add(rectangle(box, family=SILENT))
        else:
            self.add(rectangle(box, sign))

    def findings(self, heading: str, findings: Sequence[Finding]) -> None:
        """Write the findings that count against the plan, each with its mark."""
        self.heading(heading)
        for finding in findings[:MOST_FINDINGS]:
            self.add(Mark("breach" if finding.severity == "breach" else "caution", MARGIN + 8, self.y + 8.5))
            self.write(finding.title + ".", SMALL, indent=22)
            self.y += 3
        left = len(findings) - MOST_FINDINGS
        if left > 0:
            self.write(f"and {left} more in the report", SMALL, "quiet", indent=22)

    def svg(self, title: str, desc: str) -> str:
        """The picture as an SVG document of its own."""
        return (
            _templates()
            .get_template("picture.svg")
            .render(
                prefix=self.prefix,
                width=self.width,
                height=self.y + MARGIN,
                title=tame(title),
                desc=tame(desc),
                style=style(),
                looks=self.looks,
                patterns=_TILES,
                fill_id=fill_id,
                shapes=Markup("".join(written(shape, self.prefix) for shape in self.shapes)),
            )
        )


def chip(look: Look, x: float, y: float, scale: float = 1.0) -> tuple[Area, Label]:
    """The letters of a family on its colour, upright, from the upper left corner."""
    right, bottom, size = x + CHIP_WIDTH * scale, y + CHIP_HEIGHT * scale, CODE * scale
    corners = ((x, y), (right, y), (right, bottom), (x, bottom))
    start = (x + right - width(look.code, size, True)) / 2
    css = ("framed", "") if look.colour else ("framed soil", "ink")
    label = Label(start, y + 12 * scale, look.code, size, css[1], True, fill=look.ink)
    return Area(corners, css[0], fill=look.colour), label


def tail(since: float, least: float, better: float, y: float, edge: float = inf) -> list[Shape]:
    """A break that runs: strong to its least end, thin to the better one, with a tick at each.

    Where it runs on beyond ``edge`` it has a point there instead.
    """
    strong, thin = min(least, edge), min(better, edge)
    shapes: list[Shape] = [line(((since, y), (strong, y)), "thick"), line(((strong, y), (thin, y)), "thin")]
    shapes += [line(((x, y - 4), (x, y + 4)), "edge") for x in dict.fromkeys((least, better)) if x < edge]
    if better >= edge:
        shapes.append(line(((edge - 5, y - 4), (edge, y), (edge - 5, y + 4)), "edge"))
    return shapes


@cache
def style() -> Markup:
    """The style sheet inside every picture."""
    return Markup(_templates().get_template("style.css").render(themes=THEMES))


def style_source() -> str:
    """That style sheet by its digest, as a Content-Security-Policy names what it lets by."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(style().encode()).digest()).decode()}'"


@cache
def _templates() -> Environment:
    found = Environment(loader=PackageLoader("service.pictures"), autoescape=True, undefined=StrictUndefined)
    found.filters["number"] = number
    return found
