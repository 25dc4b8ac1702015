"""Sheets of labels by their measures in millimetres, as stationers sell them (common practice)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

INCH = 25.4
#: A larger code is no easier to read.
LARGEST_CODE = 30.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet: how labels lie on it, from the upper left corner.

    ``across`` and ``down`` are the distances from one label's edge to the next one's same edge.
    ``inset`` is the margin inside a label that no text enters: printers leave the edge of a page
    white.  ``tail`` is left free at the right end, which goes into the ground.  ``cut`` sheets are
    plain paper with lines to cut along.
    """

    name: str
    about: str
    page: tuple[float, float]
    label: tuple[float, float]
    columns: int
    rows: int
    left: float
    top: float
    across: float
    down: float
    inset: float
    tail: float = 0
    cut: bool = False

    @property
    def room(self) -> int:
        """How many labels a sheet holds."""
        return self.columns * self.rows

    @property
    def code_side(self) -> float:
        """The side of a code with the white around it, which may reach into the inset."""
        wide, high = self.label
        return min(high - self.inset, 0.4 * wide, LARGEST_CODE)

    def text_box(self, *, beside_code: bool) -> tuple[float, float, float]:
        """Left edge within the label, width and height of what its text may fill."""
        wide, high = self.label
        left = self.inset / 2 + self.code_side if beside_code else self.inset
        return left, wide - left - self.inset - self.tail, high - 2 * self.inset

    def corners(self) -> list[tuple[float, float]]:
        """The upper left corner of each label, row by row."""
        return [
            (self.left + column * self.across, self.top + row * self.down)
            for row in range(self.rows)
            for column in range(self.columns)
        ]

    def pages(self, count: int, first: int = 1) -> Iterator[list[tuple[int, tuple[float, float]]]]:
        """Page by page the labels (from 0) with their corners, the first one at place ``first`` (from 1).

        >>> [len(page) for page in SHEETS["a4-24"].pages(30, first=20)]
        [5, 24, 1]
        """
        corners, at, place = self.corners(), 0, first - 1
        while at < count:
            fit = min(count - at, self.room - place)
            yield [(at + i, corners[place + i]) for i in range(fit)]
            at, place = at + fit, 0


_A4, _LETTER = (210.0, 297.0), (8.5 * INCH, 11 * INCH)
_STAKE = "A4 to cut, 12 strips of 180 x 24 mm for plant stakes"

SHEETS: dict[str, Sheet] = {
    sheet.name: sheet
    for sheet in (
        Sheet("a4-24", "A4, 24 labels of 70 x 37 mm", _A4, (70, 37), 3, 8, 0, 0.5, 70, 37, 4.5),
        Sheet("a4-14", "A4, 14 labels of 99.1 x 38.1 mm", _A4, (99.1, 38.1), 2, 7, 4.65, 15.15, 101.6, 38.1, 3),
        Sheet(
            *("letter-30", "US Letter, 30 labels of 2 5/8 x 1 in", _LETTER, (2.625 * INCH, INCH), 3, 10),
            *(0.1875 * INCH, 0.5 * INCH, 2.75 * INCH, INCH, 2),
        ),
        Sheet("stake", _STAKE, _A4, (180, 24), 1, 12, 15, 4.5, 180, 24, 2, tail=50, cut=True),
    )
}
