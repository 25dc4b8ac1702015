"""The QR code of a link: as inline SVG, and as the dark runs of its rows."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

import segno

#: Modules of white around a code; a reader needs them (ISO/IEC 18004).
QUIET = 4


def code(link: str) -> segno.QRCode:
    """The code; up to 15 % of it may be scratched or muddy."""
    return segno.make_qr(link, error="m")


def code_svg(link: str) -> str:
    """The code as an SVG element without a size of its own."""
    return code(link).svg_inline(border=QUIET, omitsize=True, svgclass=None, lineclass=None)


def code_runs(link: str) -> tuple[int, Iterator[tuple[int, int, int]]]:
    """How many modules a side has, and the dark runs as (row, column, length), from the upper left."""
    made = code(link)
    return made.symbol_size(border=QUIET)[0], _runs(made)


def _runs(made: segno.QRCode) -> Iterator[tuple[int, int, int]]:
    for row, modules in enumerate(made.matrix_iter(border=QUIET)):
        column = 0
        for dark, run in groupby(modules):
            length = len(list(run))
            if dark:
                yield row, column, length
            column += length
