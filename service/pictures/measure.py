"""How wide a text is, before any browser has drawn it, and what of it fits a room.

A picture is drawn by fonts that we do not know.  Widths here are those of DejaVu Sans (read off in
1/1000 of the size by a browser's own measuring, August 2026), one of the widest faces in common use, so that a text
measured to fit does fit.  Other characters are guessed, and a text
that has any is told its length (``textLength``), which a browser keeps whatever the font.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from service.words import tame

ELLIPSIS = "\N{HORIZONTAL ELLIPSIS}"
#: From the space to the tilde.
_PLAIN = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636,
    636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863,
    748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635,
    615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636,
    337, 636, 838,
)  # fmt: skip
_BOLD = (
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696, 696, 696, 696, 696,
    696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683, 683, 821, 837, 372, 372, 775, 637, 995,
    837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457, 365, 457, 838, 500, 500, 675, 716, 593, 716,
    678, 435, 716, 712, 343, 343, 665, 343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712,
    365, 712, 838,
)  # fmt: skip
_FIRST = ord(" ")
#: What is taken for a character of unknown width: a square where it is a wide one, else about a letter.
_SQUARE, _LETTER = 1000, 680
#: Letters beyond plain ones whose width in either weight is known.
_MORE = {ELLIPSIS: 1000, "ß": 719, "æ": 1048, "Æ": 1085, "œ": 1094, "Œ": 1167, "ø": 687, "ł": 371, "–": 500, "·": 380}


@lru_cache(maxsize=4096)
def _mark_width(mark: str, bold: bool) -> int | None:
    """The width of one character, 0 for what stands on another; None where it is not known."""
    table = _BOLD if bold else _PLAIN
    place = ord(mark) - _FIRST
    if 0 <= place < len(table):
        return table[place]
    if mark in _MORE:
        return _MORE[mark]
    if unicodedata.combining(mark):
        return 0
    base = unicodedata.normalize("NFD", mark)[0]
    return _mark_width(base, bold) if base != mark and base.isascii() else None


def width(text: str, size: float, bold: bool = False) -> float:
    """How wide a text is at most, in the unit of its size."""
    thousandths = 0
    for mark in text:
        known = _mark_width(mark, bold)
        if known is None:
            known = _SQUARE if unicodedata.east_asian_width(mark) in "WF" else _LETTER
        thousandths += known
    return thousandths * size / 1000


def sure(text: str) -> bool:
    """True where the width of every character is known."""
    return all(_mark_width(mark, False) is not None for mark in text)


def fit(text: str, room: float, size: float, bold: bool = False) -> str:
    """As much of a text as fits a room, with an ellipsis where any is left out; empty where nothing does.

    >>> fit("Kiln bed", 200, 10), fit("Kiln bed", 36, 10), fit("Kiln bed", 12, 10)
    ('Kiln bed', 'Kiln\N{HORIZONTAL ELLIPSIS}', '')
    """
    text = " ".join(tame(text).split())
    if width(text, size, bold) <= room:
        return text
    room -= width(ELLIPSIS, size, bold)
    for end in range(1, len(text) + 1):
        if width(text[:end], size, bold) > room:
            kept = text[: end - 1].rstrip(" ,;")
            return kept + ELLIPSIS if kept else ""
    return text


def wrap(text: str, room: float, size: float, bold: bool = False, most: int = 2) -> list[str]:
    """A text in lines that fit a room; the last of at most ``most`` takes what is left, cut short."""
    words = tame(text).split()
    lines: list[str] = []
    while words and len(lines) < most - 1:
        count = 1
        while count < len(words) and width(" ".join(words[: count + 1]), size, bold) <= room:
            count += 1
        lines.append(fit(" ".join(words[:count]), room, size, bold))
        words = words[count:]
    if words:
        lines.append(fit(" ".join(words), room, size, bold))
    return lines
