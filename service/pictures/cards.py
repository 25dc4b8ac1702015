"""Cards: small pieces of writing that are laid into a bed where there is room, and never over another."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import floor
from typing import NamedTuple

from service.pictures.ground import Spot
from service.pictures.looks import Look
from service.pictures.measure import ELLIPSIS, fit, width
from service.pictures.shapes import (
    ASCENT,
    LEADING,
    Area,
    Box,
    Group,
    Label,
    Mark,
    MarkKind,
    Point,
    Shape,
    around,
    rectangle,
)
from service.pictures.sheet import CHIP_HEIGHT, CHIP_WIDTH, SMALL, TEXT, chip

#: Where in its room a card may lie, as shares of what is left beside and above it; the best place first.
CORNER = ((0.0, 0.0),)
OPPOSITE = ((1.0, 0.0), (1.0, 1.0), (0.0, 1.0), (0.5, 1.0), (0.5, 0.5))
MIDDLE = tuple((x, y) for y in (0.5, 0.75, 1.0, 0.25, 0.0) for x in (0.5, 0.25, 0.75, 0.0, 1.0))
_PAD = 2.0
_CELL = 64.0
#: Between two cards.
_GAP = 1.0
_LINE = 17.0
#: Of a name so many letters at least are worth showing.
_FEWEST, _FEWEST_OF_NOTE = 4, 9
#: Shares of a room's side that a cut name is tried at, since other cards may lie in the way.
_CUTS = (1.0, 0.8, 0.62)
#: In a smaller bed a number is small, so that the letters of a family have room below it.
_SMALL_BED = 40.0
#: Letters alone, in smaller and smaller beds.
_CHIPS = (1.0, 0.8, 0.6)


class Card(NamedTuple):
    """Shapes on a rectangle of its own, from its upper left corner.

    ``whole`` where it says all that it should; ``number`` where it stands for words that are told elsewhere.
    """

    width: float
    height: float
    shapes: tuple[Area | Label | Mark, ...]
    whole: bool = True
    sideways: bool = False
    number: bool = False


class Table:
    """What is taken on the page, in squares, so that many cards cost no more each than few."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Box]] = {}

    def free(self, box: Box) -> bool:
        """True where nothing lies."""
        return not any(box.meets(other) for cell in _cells(box) for other in self._cells.get(cell, ()))

    def take(self, box: Box) -> None:
        """Keep what comes later away."""
        for cell in _cells(box):
            self._cells.setdefault(cell, []).append(box)

    def lay(self, cards: Iterable[Card], spot: Spot, room: Box, places: Sequence[Point]) -> tuple[Group, Card] | None:
        """The first card that fits at one of the places in a room of a bed's frame, drawn there."""
        wide, tall = room.right - room.left, room.bottom - room.top
        for card in cards:
            across, down = (card.height, card.width) if card.sideways else (card.width, card.height)
            if across > wide or down > tall:
                continue
            for x, y in places:
                left, top = room.left + x * (wide - across), room.top + y * (tall - down)
                box = Box(left, top, left + across, top + down)
                ground = around(spot.corners(box))
                if self.free(ground):
                    self.take(_wider(ground))
                    return Group(shapes=[_laid(shape, spot, box, card.sideways) for shape in card.shapes]), card
        return None


def _wider(box: Box) -> Box:
    return inset(box, -_GAP)


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for x in range(floor(box.left / _CELL), floor(box.right / _CELL) + 1):
        for y in range(floor(box.top / _CELL), floor(box.bottom / _CELL) + 1):
            yield x, y


def _laid(shape: Area | Label | Mark, spot: Spot, box: Box, sideways: bool) -> Shape:
    """A shape of a card, on the page; sideways it is read upwards."""

    def on_page(point: Point) -> Point:
        x, y = point
        return spot.on_page((box.left + y, box.bottom - x) if sideways else (box.left + x, box.top + y))

    if isinstance(shape, Area):
        return replace(shape, points=tuple(map(on_page, shape.points)))
    x, y = on_page((shape.x, shape.y))
    return replace(shape, x=x, y=y, turn=spot.turn - 90 * sideways)


def inset(box: Box, by: float = _PAD) -> Box:
    """A box without its rim."""
    return Box(box.left + by, box.top + by, box.right - by, box.bottom - by)


def name_cards(name: str, number: int, room: Box, others: Sequence[str]) -> Iterator[Card]:
    """A bed's name, along or across, whole or cut; or else its number in the list below.

    It is cut only where what is left could not be one of the ``others``.
    """
    yield from _both(_plate(name, TEXT, True))
    for side, sideways in _sides(room):
        shown = fit(name, side - 8, TEXT, True)
        kept = shown.removesuffix(ELLIPSIS)
        if len(kept) >= _FEWEST and not any(other.startswith(kept) for other in others):
            yield _plate(shown, TEXT, True)._replace(whole=False, sideways=sideways)
    large = min(room.right - room.left, room.bottom - room.top) >= _SMALL_BED
    for size in (SMALL, 9.0, 7.0) if large else (9.0, 7.0):
        yield _plate(str(number), size, True)._replace(whole=False, number=True)


def _sides(room: Box) -> Iterator[tuple[float, bool]]:
    """How long a cut card may be, and whether it is read sideways."""
    for share in _CUTS:
        yield (room.right - room.left) * share, False
        yield (room.bottom - room.top) * share, True


def _both(card: Card) -> Iterator[Card]:
    yield card
    yield card._replace(sideways=True)


def _plate(text: str, size: float, bold: bool) -> Card:
    wide, tall = width(text, size, bold) + 8, size * LEADING + 0.4
    label = Label(4, size * ASCENT + 0.2, text, size, bold=bold)
    return Card(wide, tall, (rectangle(Box(0, 0, wide, tall), "plate"), label))


def crop_cards(name: str, look: Look, room: Box) -> Iterator[Card]:
    """The letters of a family with a crop's name, beside or below them, whole or cut; or the letters alone."""
    yield from _both(_crop(name, look))
    yield _stacked(name, look)
    for side, sideways in _sides(room):
        shown = fit(name, side - CHIP_WIDTH - 12, SMALL)
        if len(shown) > _FEWEST:
            yield _crop(shown, look)._replace(whole=False, sideways=sideways)
    for scale in _CHIPS:
        yield Card(CHIP_WIDTH * scale, CHIP_HEIGHT * scale, chip(look, 0, 0, scale), whole=False)


def _crop(name: str, look: Look) -> Card:
    wide = CHIP_WIDTH + width(name, SMALL) + 10
    label = Label(CHIP_WIDTH + 5, 12.6, name, SMALL)
    return Card(wide, _LINE, (rectangle(Box(0, 0, wide, _LINE), "plate"), *chip(look, 0.5, 0.5), label))


def _stacked(name: str, look: Look) -> Card:
    wide, tall = max(CHIP_WIDTH + 2, width(name, SMALL) + 8), _LINE * 2
    label = Label((wide - width(name, SMALL)) / 2, _LINE + 12.6, name, SMALL)
    plate = rectangle(Box(0, 0, wide, tall), "plate")
    return Card(wide, tall, (plate, *chip(look, (wide - CHIP_WIDTH) / 2, 1), label))


def note_cards(lines: Sequence[str], room: Box) -> Iterator[Card]:
    """Words on bare soil: all lines, or the first alone, along or across."""
    for count in range(len(lines), 0, -1):
        told = lines[:count]
        whole = count == len(lines)
        yield from (card._replace(whole=whole) for card in _both(_note(told)))
        for side, sideways in _sides(room):
            cut = [fit(line, side, SMALL) for line in told]
            if all(shown == line or len(shown) > _FEWEST_OF_NOTE for shown, line in zip(cut, told, strict=True)):
                yield _note(cut)._replace(whole=False, sideways=sideways)


def _note(lines: Sequence[str]) -> Card:
    wide = max(width(line, SMALL) for line in lines)
    shapes = [Label((wide - width(text, SMALL)) / 2, 12.6 + _LINE * n, text, SMALL) for n, text in enumerate(lines)]
    return Card(wide, _LINE * len(lines), tuple(shapes))


def mark_cards(counts: Mapping[MarkKind, int]) -> Iterator[Card]:
    """Marks with how often each is meant; without the numbers where there is no room for them."""
    for numbered in (True, False):
        shapes: list[Mark | Label] = []
        x = 3.0
        for mark, count in counts.items():
            shapes.append(Mark(mark, x + 6.6, 8.5))
            x += 16
            if numbered and count > 1:
                shapes.append(Label(x, 12.8, str(count), SMALL, bold=True))
                x += width(str(count), SMALL, True) + 3
        plate = rectangle(Box(0, 0, x, _LINE), "plate")
        yield from _both(Card(x, _LINE, (plate, *shapes), whole=numbered))
