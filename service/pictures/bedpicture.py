"""One bed of the map: its ground, what grows on it, what covers it, and the cards that lie on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from rules.model import Cover, Planting
from service.pictures.cards import (
    CORNER,
    MIDDLE,
    OPPOSITE,
    Table,
    crop_cards,
    inset,
    mark_cards,
    name_cards,
    note_cards,
)
from service.pictures.ground import Spot
from service.pictures.looks import Look
from service.pictures.shapes import Area, Box, Group, MarkKind, Shape
from service.pictures.telling import Shown, size_words
from service.words import capital, tame

_COVER_RIM = 3.0


class Told(NamedTuple):
    """How a bed was named on the map: by itself, or by a number; and whether all was written that stands in it."""

    number: int | None
    whole: bool


class BedPicture:
    """A bed that is drawn: first ``ground``, then its cards, those of all beds on one table."""

    def __init__(self, shown: Shown, spot: Spot, units: str) -> None:
        self.shown, self.bed, self.spot, self.units = shown, shown.bed, spot, units
        self.standing = lanes(shown.plantings)
        self.cards: list[Shape] = []

    @property
    def called(self) -> str:
        """Its name as it stands by itself."""
        return capital(" ".join(tame(self.bed.name).split()))

    @property
    def shares_ground(self) -> bool:
        """True where crops stand in each other's ground."""
        return any(across != (0.0, 1.0) for _, across in self.standing)

    @property
    def by_year(self) -> bool:
        """True where something is known by its year alone."""
        return any(p.exact == "year" for p, _ in self.standing)

    def ground(self) -> Group:
        """The bed to scale, the ground of each planting in its family's pattern, covers as dashed lines."""
        sized = bool(self.bed.length and self.bed.width)
        shapes: list[Shape] = [Area(self.spot.corners(self.spot.whole), "soil")]
        for p, across in self.standing:
            css = "framed dotted" if p.exact == "year" else "framed"
            shapes.append(Area(self.spot.corners(self.spot.part(*p.part, across)), css, p.crop.family))
        shapes.append(Area(self.spot.corners(self.spot.whole), "edge" if sized else "edge dashed"))
        for cover in self.shown.covers:
            shapes += self._cover(cover)
        size = size_words(self.bed, self.units)
        return Group(f"bed-{self.bed.id}", f"{self.bed.name} ({size}): {self.shown.words}", shapes)

    def _cover(self, cover: Cover) -> list[Area]:
        under = [self.spot.part(*p.part, across) for p, across in self.standing if p.id in cover.plantings]
        if cover.plantings and not under:
            return []
        box = _around(under) if under else self.spot.whole
        rim = min(_COVER_RIM, (box.right - box.left) / 4, (box.bottom - box.top) / 4)
        corners = self.spot.corners(inset(box, rim))
        return [Area(corners, "halo"), Area(corners, "cover")]

    def name(self, table: Table, number: int, others: Sequence[str]) -> Told:
        """Write its name, or the number where there is no room for a name that no other could have."""
        room = inset(self.spot.whole)
        laid = table.lay(name_cards(self.called, number, room, others), self.spot, room, CORNER)
        if laid is None:
            return Told(None, False)
        self.cards.append(laid[0])
        return Told(number if laid[1].number else None, laid[1].whole)

    def mark(self, table: Table, counts: Mapping[MarkKind, int]) -> None:
        """Put the marks of findings on it where there is room."""
        if laid := table.lay(mark_cards(counts), self.spot, inset(self.spot.whole), OPPOSITE):
            self.cards.append(laid[0])

    def fill(self, table: Table, looks: Mapping[str, Look]) -> bool:
        """Write what stands in it, or what comes next; False where any of it had no room."""
        whole = True
        for p, across in self.standing:
            room = inset(self.spot.part(*p.part, across))
            cards = crop_cards(capital(p.crop.plural), looks[p.crop.family], room)
            laid = table.lay(cards, self.spot, room, MIDDLE)
            self.cards += [laid[0]] if laid else []
            whole = whole and laid is not None and laid[1].whole
        if not self.standing:
            room = inset(self.spot.whole)
            laid = table.lay(note_cards(self.shown.empty, room), self.spot, room, MIDDLE)
            self.cards += [laid[0]] if laid else []
            whole = laid is not None and laid[1].whole
        return whole


def lanes(plantings: Sequence[Planting]) -> list[tuple[Planting, tuple[float, float]]]:
    """Each planting with its share of the bed's width: those that share ground lie side by side.

    Plantings come sorted by part.  A run of parts that overlap, one with another, has as many
    lanes as it needs.
    """
    found: list[tuple[Planting, tuple[float, float]]] = []
    run: list[tuple[Planting, int]] = []
    ends: list[float] = []

    def close() -> None:
        found.extend((p, (lane / len(ends), (lane + 1) / len(ends))) for p, lane in run)

    for p in plantings:
        low, high = p.part
        if ends and low >= max(ends):
            close()
            run, ends = [], []
        lane = next((lane for lane, end in enumerate(ends) if end <= low), len(ends))
        ends[lane : lane + 1] = [high]
        run.append((p, lane))
    close()
    return found


def _around(boxes: Sequence[Box]) -> Box:
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return Box(min(lefts), min(tops), max(rights), max(bottoms))
