"""Text into a box: shrunk as far as it stays readable, broken between words, then cut with "…"."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from typing import NamedTuple

from service.labels.label import Label
from service.words import capital

#: Width of a text in points, by its size in points and whether it is bold.
Measure = Callable[[str, float, bool], float]

POINTS = 72 / 25.4  # points to a millimetre
LINE = 1.2  # from one line's foot to the next one's, in sizes
#: Sizes in points of crop, variety and the rest, before anything is shrunk; the least is 6 points.
CROP, VARIETY, REST = 18.0, 12.0, 10.5
SCALES = tuple(step / 100 for step in range(100, 56, -4))


class Line(NamedTuple):
    """A line of a label: its text, size in points and weight."""

    text: str
    size: float
    bold: bool


def fit(label: Label, width: float, height: float, measure: Measure) -> list[Line]:
    """The lines of a label for a box in millimetres, as large as they fit.

    Crop and variety may take two lines each, in a low box one; a text is shrunk by itself to fit the
    width, and all are shrunk together to fit the height.  What is too long at the least size is cut.
    """
    wide, high = width * POINTS, height * POINTS
    lines: list[Line] = []
    for most in (2, 1):
        for scale in SCALES:
            lines = _crop_and_variety(label, scale, wide, most, measure) + _place(label, scale, wide, measure)
            if sum(line.size for line in lines) * LINE <= high:
                return lines
    return lines


def _crop_and_variety(label: Label, scale: float, wide: float, most: int, measure: Measure) -> list[Line]:
    lines = _shrunk(label.crop, CROP, True, most, scale, wide, measure)[0]
    return lines + (_shrunk(label.variety, VARIETY, False, most, scale, wide, measure)[0] if label.variety else [])


def _place(label: Label, scale: float, wide: float, measure: Measure) -> list[Line]:
    """Bed and date, on one line where both fit."""
    together, whole = _shrunk(f"{label.bed}, {label.when}", REST, False, 1, scale, wide, measure)
    if whole and together[0].size == REST * scale:
        return together
    apart = [_shrunk(text, REST, False, 1, scale, wide, measure)[0][0] for text in (label.bed, capital(label.when))]
    size = min(line.size for line in apart)
    return [line._replace(size=size) for line in apart]


def _shrunk(
    text: str, size: float, bold: bool, most: int, scale: float, wide: float, measure: Measure
) -> tuple[list[Line], bool]:
    """A text as large as it fits the width, at most at a scale, and whether it is whole."""
    for step in (step for step in SCALES if step <= scale):
        points = size * step
        pieces, whole = broken(text, wide, most, lambda piece, points=points: measure(piece, points, bold))
        if whole:
            break
    return [Line(piece, points, bold) for piece in pieces], whole


def broken(text: str, wide: float, most: int, measure: Callable[[str], float]) -> tuple[list[str], bool]:
    """A text in at most ``most`` lines of a width, and whether nothing was cut off.

    >>> broken("Green Curled Scotch", 12, 2, len)
    (['Green Curled', 'Scotch'], True)
    >>> broken("Green Curled Scotch", 12, 1, len)
    (['Green Curle…'], False)
    """
    words, lines = text.split(), [""]
    for at, word in enumerate(words):
        longer = f"{lines[-1]} {word}".lstrip()
        if measure(longer) <= wide:
            lines[-1] = longer
        elif lines[-1] and len(lines) < most and measure(word) <= wide:
            lines.append(word)
        else:
            lines[-1] = _cut(f"{lines[-1]} {' '.join(words[at:])}".lstrip(), wide, measure)
            return lines, False
    return lines, True


def _cut(text: str, wide: float, measure: Callable[[str], float]) -> str:
    while text and measure(text.rstrip() + "…") > wide:
        text = text[:-1]
    return text.rstrip() + "…"


def estimate(text: str, size: float, bold: bool) -> float:
    """About how wide a text is in a broad sans serif face: rather too much than too little."""
    ems = sum(_em(letter) for letter in unicodedata.normalize("NFC", text))
    return ems * size * (1.1 if bold else 1.0)


def _em(letter: str) -> float:
    if unicodedata.combining(letter):
        return 0.0
    if unicodedata.east_asian_width(letter) in "WF":
        return 1.0
    if letter in "iIjlt'.,:;!|()[]/ fr’-":
        return 0.42
    if letter in "mwMW@%—…Œœ":
        return 1.0
    return 0.74 if letter.isupper() else 0.64
