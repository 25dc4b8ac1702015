"""Where beds lie on the page: to scale from their positions, the others in rows below.

A bed's own frame has its centre as origin, x along the page's width (or as near to it as the bed's
turn allows) and y downwards, so that what is written along x can be read without turning one's head.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import cos, radians, sin
from typing import NamedTuple

from rules.model import Bed
from service.pictures.shapes import Box, Point, around, turned

#: What a bed without a size is drawn as (cm): a usual garden bed.
USUAL_LENGTH, USUAL_WIDTH = 200.0, 100.0
#: Page units a metre at most, for beds with positions and for beds in rows.
_LARGEST_PLACED, _LARGEST_LOOSE = 160.0, 80.0
#: The shorter side that a bed should have on the page, and the widest drawing that is made for it.
_READABLE, _WIDEST = 30.0, 2400.0
#: A drawing is no taller than this share of its width.
_TALLEST = 1.15
_BETWEEN = 14.0
_LEAST_SIDE = 3.0


class Spot(NamedTuple):
    """A bed on the page: its centre, the sides of its own frame, and how far that is turned (clockwise degrees).

    ``quarter`` says where the bed's length runs in that frame: 0 right, 1 up, 2 left, 3 down.
    """

    centre: Point
    width: float
    height: float
    turn: float
    quarter: int

    def on_page(self, point: Point) -> Point:
        """A point of the bed's frame, on the page."""
        return turned(point, self.centre, self.turn)

    def part(self, low: float, high: float, across: tuple[float, float] = (0.0, 1.0)) -> Box:
        """A part of the bed's length, and of its width, in the bed's frame."""
        w, h, (near, far) = self.width, self.height, across
        if self.quarter == 0:
            return Box(low * w - w / 2, near * h - h / 2, high * w - w / 2, far * h - h / 2)
        if self.quarter == 1:
            return Box(near * w - w / 2, h / 2 - high * h, far * w - w / 2, h / 2 - low * h)
        if self.quarter == 2:
            return Box(w / 2 - high * w, near * h - h / 2, w / 2 - low * w, far * h - h / 2)
        return Box(near * w - w / 2, low * h - h / 2, far * w - w / 2, high * h - h / 2)

    def corners(self, box: Box) -> tuple[Point, ...]:
        """The corners of a box of the bed's frame, on the page."""
        left, top, right, bottom = box
        return tuple(self.on_page(point) for point in ((left, top), (right, top), (right, bottom), (left, bottom)))

    @property
    def whole(self) -> Box:
        """All of the bed, in its frame."""
        return self.part(0.0, 1.0)


class Ground(NamedTuple):
    """All beds on the page, from its upper left corner, and the page units in a metre.

    ``rows_at`` is the height at which the rows of beds without a position begin; None without any.
    """

    spots: dict[str, Spot]
    width: float
    height: float
    scale: float
    rows_at: float | None


def lay_out(beds: Sequence[Bed], room: float, head: float) -> Ground:
    """Beds on a page of at least ``room``; ``head`` is kept free above the rows of those without a position."""
    placed = [bed for bed in beds if bed.position is not None]
    loose = [bed for bed in beds if bed.position is None]
    extent = around(corner for bed in placed for corner in _corners(bed)) if placed else Box(0, 0, 0, 0)
    wide, tall = extent.right - extent.left, extent.bottom - extent.top
    sizes = [_size(bed) for bed in beds]
    loose_need = [max(length, width / _TALLEST) for length, width in map(_size, loose)]
    need = max(wide, tall / _TALLEST, *loose_need, 0.01)
    sides = sorted(map(min, sizes))
    wished = _READABLE / sides[len(sides) // 10] if sides else 0.0
    page = min(max(room, wished * need), max(room, _WIDEST))
    scale = min(page / need, _LARGEST_PLACED if placed else _LARGEST_LOOSE)
    left = (page - wide * scale) / 2
    spots = {bed.id: _spot(bed, extent, scale, left) for bed in placed}
    height = tall * scale
    rows_at = height + (_BETWEEN * 2 if placed else 0) if loose else None
    if rows_at is not None:
        height = _rows(loose, spots, scale, page, rows_at + head)
    return Ground(spots, page, height, scale, rows_at)


def _size(bed: Bed) -> tuple[float, float]:
    """Length and width in metres, the usual ones where they are not known."""
    return (bed.length or USUAL_LENGTH) / 100, (bed.width or USUAL_WIDTH) / 100


def _corners(bed: Bed) -> list[Point]:
    """In metres, y northwards."""
    assert bed.position is not None
    (x, y), (length, width), angle = bed.position, _size(bed), radians(bed.turn)
    ahead, aside = (length * cos(angle), length * sin(angle)), (-width * sin(angle), width * cos(angle))
    ends = ((0.0, 0.0), ahead, (ahead[0] + aside[0], ahead[1] + aside[1]), aside)
    return [(x + dx, y + dy) for dx, dy in ends]


def _spot(bed: Bed, extent: Box, scale: float, left: float) -> Spot:
    corners = _corners(bed)
    x = sum(x for x, _ in corners) / 4
    y = sum(y for _, y in corners) / 4
    quarter = round(bed.turn / 90)
    length, width = (max(side * scale, _LEAST_SIDE) for side in _size(bed))
    sides = (width, length) if quarter % 2 else (length, width)
    centre = (left + (x - extent.left) * scale, (extent.bottom - y) * scale)
    return Spot(centre, *sides, turn=-(bed.turn - 90 * quarter), quarter=quarter % 4)


def _rows(beds: Sequence[Bed], spots: dict[str, Spot], scale: float, page: float, top: float) -> float:
    """Beds beside each other in rows as wide as the page; the height at which they end."""
    x, deepest = 0.0, 0.0
    for bed in beds:
        length, width = (max(side * scale, _LEAST_SIDE) for side in _size(bed))
        if x and x + length > page:
            x, top, deepest = 0.0, top + deepest + _BETWEEN, 0.0
        spots[bed.id] = Spot((x + length / 2, top + width / 2), length, width, 0.0, 0)
        x, deepest = x + length + _BETWEEN, max(deepest, width)
    return top + deepest
