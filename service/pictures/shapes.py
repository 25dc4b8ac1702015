"""What a picture is made of: areas, lines, marks and labels in page units, y growing downwards.

``markup`` writes them; nothing here knows of XML.  ``css`` names classes of the style sheet without their "bc-".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import cos, radians, sin
from typing import Literal, NamedTuple

from service.pictures.measure import fit, sure, width

Point = tuple[float, float]
#: Line height over size, and how much of it lies above the line that letters stand on.
LEADING, ASCENT = 1.34, 1.02

MarkKind = Literal["breach", "caution", "sighting", "soil"]


class Box(NamedTuple):
    """An upright rectangle: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        """True where two boxes share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Area:
    """A filled outline; ``family`` fills it with that family's pattern, ``fill`` with a colour of no theme."""

    points: tuple[Point, ...]
    css: str = ""
    family: str | None = None
    fill: str | None = None
    closed: bool = True


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text from its left end; ``whole`` is what it was before it was cut."""

    x: float
    y: float
    text: str
    size: float
    css: str = "ink"
    bold: bool = False
    turn: float = 0.0
    fill: str | None = None
    whole: str | None = None

    @property
    def length(self) -> float:
        """The most that it takes along its line."""
        return width(self.text, self.size, self.bold)

    @property
    def told(self) -> float | None:
        """The length that a browser is told to keep to: that of a text with characters of unknown width."""
        return None if sure(self.text) else self.length

    @property
    def corners(self) -> tuple[Point, ...]:
        """The four corners of the ground that it takes."""
        rise, drop = ASCENT * self.size, (LEADING - ASCENT) * self.size
        corners = ((0.0, -rise), (self.length, -rise), (self.length, drop), (0.0, drop))
        return tuple(turned(point, (self.x, self.y), self.turn) for point in corners)

    @property
    def box(self) -> Box:
        """The upright rectangle around it."""
        return around(self.corners)


@dataclass(frozen=True, slots=True)
class Mark:
    """One of our marks, 12 units wide, about its centre."""

    mark: MarkKind
    x: float
    y: float
    turn: float = 0.0


@dataclass(slots=True)
class Group:
    """Shapes that belong together: an id, and a text that shows when one points at it."""

    id: str | None = None
    title: str = ""
    shapes: list[Shape] = field(default_factory=list)


Shape = Area | Label | Mark | Group


def turned(point: Point, about: Point, degrees: float) -> Point:
    """A point of a frame whose origin lies at ``about`` and which is turned, clockwise as SVG does."""
    (x, y), (ox, oy) = point, about
    if not degrees:
        return ox + x, oy + y
    ahead, aside = cos(radians(degrees)), sin(radians(degrees))
    return ox + x * ahead - y * aside, oy + x * aside + y * ahead


def around(points: Iterable[Point]) -> Box:
    """The upright rectangle around some points."""
    found = list(points)
    xs, ys = [x for x, _ in found], [y for _, y in found]
    return Box(min(xs), min(ys), max(xs), max(ys))


def rectangle(box: Box, css: str = "", family: str | None = None) -> Area:
    """A box as an area."""
    left, top, right, bottom = box
    return Area(((left, top), (right, top), (right, bottom), (left, bottom)), css, family)


def line(points: Sequence[Point], css: str) -> Area:
    """An open line."""
    return Area(tuple(points), css, closed=False)


def cut_to(
    text: str, x: float, y: float, room: float, size: float, css: str = "ink", bold: bool = False
) -> Label | None:
    """A label that fits a room, with its whole text kept where it was cut; None where no letter fits."""
    shown = fit(text, room, size, bold)
    if not shown:
        return None
    whole = " ".join(text.split())
    return Label(x, y, shown, size, css, bold, whole=None if shown == whole else whole)
