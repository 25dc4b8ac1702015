"""The ground that beds cover: rectangles, how far apart they are, and which lie close to each other.

A bed is a rectangle of length by width with its south-west corner at its position; its length
lies along x (east) unless ``turn`` degrees, counter-clockwise about the position, say otherwise.
All values are metres.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import chain, islice
from math import ceil, cos, floor, hypot, log2, radians, sin

from rules.model import Bed

Point = tuple[float, float]
#: A bed's corners, counter-clockwise from its position.
Footprint = tuple[Point, Point, Point, Point]
#: Left, low, right, high.
Box = tuple[float, float, float, float]
_QUARTERS = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}


def footprint(bed: Bed) -> Footprint | None:
    """The corners of a bed; None where its position, length or width is not known."""
    if bed.position is None or not bed.length or not bed.width:
        return None
    (x, y), length, width, turn = bed.position, bed.length / 100, bed.width / 100, bed.turn % 360
    ahead, aside = _QUARTERS.get(turn) or (cos(radians(turn)), sin(radians(turn)))
    end = (x + length * ahead, y + length * aside)
    left = (-width * aside, width * ahead)
    return (x, y), end, (end[0] + left[0], end[1] + left[1]), (x + left[0], y + left[1])


def metres_apart(one: Footprint, two: Footprint) -> float:
    """From edge to edge; 0.0 where they overlap or touch."""
    if upright(one) and upright(two):
        return boxes_apart(box(one), box(two))
    if not _parted(one, two) and not _parted(two, one):
        return 0.0
    ways = [(corner, side) for a, b in ((one, two), (two, one)) for corner in a for side in _sides(b)]
    return round(min(_to_side(corner, *side) for corner, side in ways), 6)


def boxes_apart(one: Box, two: Box) -> float:
    """The same for what lies upright, by its sides."""
    left, low, right, high = one
    other_left, other_low, other_right, other_high = two
    aside = max(0.0, left - other_right, other_left - right)
    ahead = max(0.0, low - other_high, other_low - high)
    return round(hypot(aside, ahead), 6)


def close_by(boxes: Mapping[str, Box], reach_m: float, most: int) -> Iterator[tuple[str, str]]:
    """Every two beds within a reach, once, with some that are farther apart.

    Beds are laid into squares of several sizes, each into the smallest that is as wide as it and
    the reach, so that a large site costs no more a bed than a small one.  Where very many beds lie on one
    spot, ``most`` are looked at for each.
    """
    squares: dict[int, dict[tuple[int, int], list[str]]] = {}
    levels: dict[str, int] = {}
    place = {bed: n for n, bed in enumerate(boxes)}
    for bed, (left, low, right, high) in boxes.items():
        levels[bed] = level = ceil(log2(max(right - left, high - low, reach_m, 1.0)))
        square = floor(left / 2.0**level), floor(low / 2.0**level)
        squares.setdefault(level, {}).setdefault(square, []).append(bed)
    for bed, ground in boxes.items():
        here = levels[bed], place[bed]
        around = (_in_squares(squares[level], 2.0**level, ground, reach_m) for level in squares if level >= here[0])
        for other in islice(chain.from_iterable(around), most):
            if (levels[other], place[other]) > here:
                yield bed, other


def _in_squares(filled: Mapping[tuple[int, int], list[str]], size: float, ground: Box, reach_m: float) -> Iterator[str]:
    """Beds of one size of square that may come within reach of some ground.

    A bed lies in the square of its lower left corner and extends at most into the next.
    """
    left, low, right, high = ground
    for x in range(floor((left - reach_m) / size) - 1, floor((right + reach_m) / size) + 1):
        for y in range(floor((low - reach_m) / size) - 1, floor((high + reach_m) / size) + 1):
            yield from filled.get((x, y), ())


def upright(corners: Footprint) -> bool:
    """True when the sides lie along x and y."""
    return corners[0][0] == corners[1][0] or corners[0][1] == corners[1][1]


def box(corners: Footprint) -> Box:
    """The upright rectangle around a footprint."""
    xs, ys = [x for x, _ in corners], [y for _, y in corners]
    return min(xs), min(ys), max(xs), max(ys)


def _sides(corners: Footprint) -> list[tuple[Point, Point]]:
    return list(zip(corners, (*corners[1:], corners[0]), strict=True))


def _parted(one: Footprint, two: Footprint) -> bool:
    """True when a side of ``one`` has all of ``two`` outside it."""
    return any(
        all((bx - ax) * (y - ay) - (by - ay) * (x - ax) < 0 for x, y in two) for (ax, ay), (bx, by) in _sides(one)
    )


def _to_side(point: Point, start: Point, end: Point) -> float:
    """From a point to a stretch between two others."""
    (px, py), (ax, ay), (bx, by) = point, start, end
    length = (bx - ax) ** 2 + (by - ay) ** 2
    along = ((px - ax) * (bx - ax) + (py - ay) * (by - ay)) / length if length else 0.0
    along = min(1.0, max(0.0, along))
    return hypot(px - ax - along * (bx - ax), py - ay - along * (by - ay))
