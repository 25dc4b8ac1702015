"""One row of the timeline: a bed's name and marks, its bars in lanes, and below them the breaks that still run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from typing import NamedTuple

from rules.model import Bed
from service.pictures.axis import Axis
from service.pictures.bars import Bar, Break, Moment
from service.pictures.looks import Look
from service.pictures.markup import SILENT
from service.pictures.measure import fit, width
from service.pictures.shapes import Area, Box, Group, Label, Mark, MarkKind, Shape, cut_to, line, rectangle
from service.pictures.sheet import CHIP_WIDTH, MARGIN, SMALL, TEXT, Sheet, chip, tail
from service.words import capital

BAR, _BAR_STEP, _LINE_STEP = 22.0, 26.0, 18.0
_PAD, _GAP = 7.0, 5.0
#: A bar of this width has its words inside, cut if need be; those of a shorter one stand beside it.
_WORDY = 62.0
#: Words beside a bar or a mark are cut to this.
_BESIDE = 112.0
_FEWEST = 4
_NOT_ON_RECORD = "not on record"
#: A line that words lie on shows this much of itself beside them.
_FEWEST_LINE = 24.0


class Row(NamedTuple):
    """A bed with what its ground tells; ``silent`` are the growing years without a record, in runs."""

    bed: Bed
    bars: list[tuple[Bar, str]]
    moments: list[Moment]
    breaks: list[Break]
    silent: list[tuple[int, int]]


class _Piece(NamedTuple):
    """What has its place in time and none yet in height: what it takes of a lane, and its shapes at a height."""

    left: float
    right: float
    draw: Callable[[float], list[Shape]]


class RowPicture:
    """Draws rows on a sheet, each at its pen."""

    def __init__(self, sheet: Sheet, axis: Axis) -> None:
        self.sheet, self.axis = sheet, axis

    def draw(self, row: Row, marks: Mapping[MarkKind, int]) -> None:
        """Draw a row and move the pen below it."""
        top = self.sheet.y
        seen = _lanes(self._moment(moment) for moment in row.moments)
        grown = _lanes([*self._silence(row), *(self._bar(bar, words) for bar, words in row.bars)])
        running = [[piece] for one in row.breaks for piece in self._break(one)]
        y = top + _PAD
        shapes: list[Shape] = []
        for lanes, step in ((seen, _LINE_STEP), (grown, _BAR_STEP), (running, _LINE_STEP)):
            for lane in lanes:
                shapes += [shape for piece in lane for shape in piece.draw(y)]
                y += step
        bottom = max(y, self._name(row.bed, marks, top + _PAD)) + _PAD
        for first, last in row.silent:
            left, right = self.axis.of_year(first)[0], self.axis.of_year(last)[1]
            self.sheet.add(rectangle(Box(left, top, right, bottom), family=SILENT))
        self.sheet.add(Group(f"row-{row.bed.id}", shapes=shapes))
        self.sheet.y = bottom

    def _name(self, bed: Bed, marks: Mapping[MarkKind, int], top: float) -> float:
        """Write the bed's name with its marks below; where they end."""
        room = self.axis.left - MARGIN - 8
        self.sheet.add(cut_to(capital(bed.name), MARGIN, top + 14, room, TEXT, bold=True))
        x = MARGIN
        for mark, count in marks.items():
            self.sheet.add(Mark(mark, x + 6.6, top + 29), Label(x + 16, top + 33.3, str(count), SMALL, bold=True))
            x += 16 + width(str(count), SMALL, True) + 8
        return top + (40 if marks else 20)

    def _silence(self, row: Row) -> Iterator[_Piece]:
        """Words on years without a record; one run may have room for them where a year has not."""
        long = width(_NOT_ON_RECORD, SMALL) + 8
        for first, last in row.silent:
            left, right = self.axis.of_year(first)[0], self.axis.of_year(last)[1]
            if long <= right - left:
                start = (left + right - long) / 2
                yield _Piece(start, start + long, partial(_silent, start))

    def _moment(self, moment: Moment) -> _Piece:
        x = self.axis.x(moment.day)
        text = fit(capital(moment.text), _BESIDE, SMALL)
        long = width(text, SMALL) + 8
        start = x + 9 if x + 9 + long <= self.axis.right else x - 9 - long
        whole = f"{moment.text}, {moment.day.isoformat()}"

        def draw(y: float) -> list[Shape]:
            mark = Mark(moment.mark, x, y + 8.5)
            return [Group(title=capital(whole), shapes=[mark, *_plated(text, start, y)])]

        return _Piece(min(x - 7, start), max(x + 7, start + long), draw)

    def _bar(self, bar: Bar, words: str) -> _Piece:
        left, right = self.axis.x(bar.start), self.axis.after(bar.end)
        look = None if bar.family is None else self.sheet.looks[bar.family]
        chips = CHIP_WIDTH if look else 0.0
        name, inside = capital(bar.name), right - left - 6
        long = chips + width(name, SMALL) + 9
        cut = fit(name, inside - chips - 9, SMALL) if right - left >= _WORDY else ""
        if len(cut) > _FEWEST:
            name, long = cut, chips + width(cut, SMALL) + 9
        if long <= inside:
            start = left + 3
        else:
            name = fit(name, _BESIDE - chips, SMALL)
            long = chips + width(name, SMALL) + 9
            start = right + 3 if right + 3 + long <= self.axis.right else left - 3 - long

        def draw(y: float) -> list[Shape]:
            shapes = [*self._ground(bar, y), *_told(name, look, start, y + 2.5, long)]
            return [Group(title=capital(words), shapes=shapes)]

        return _Piece(min(left, start), max(right, start + long), draw)

    def _ground(self, bar: Bar, y: float) -> Iterator[Area]:
        """The time in the ground, in the family's pattern: dashed and pale where planned, open at an assumed end."""
        css = "dashed faded" if bar.planned else "lost" if bar.plantings[0].status == "lost" else ""
        for p in bar.plantings:
            box = Box(self.axis.x(p.start), y, max(self.axis.after(p.end), self.axis.x(p.start) + 2), y + BAR)
            if bar.family is not None:
                yield rectangle(box, css, bar.family)
            yield rectangle(box, "thin dotted" if p.exact == "year" else "thin dashed" if bar.planned else "thin")
            if p.assumed_end and box.right < self.axis.right:
                yield line(((box.right, y - 1), (box.right, y + BAR + 1)), "gap")

    def _break(self, one: Break) -> Iterator[_Piece]:
        """A break that still runs, and its words where there is room: before it, after it, or in a lane above."""
        axis, look = self.axis, self.sheet.looks[one.family]
        since = axis.after(one.since)
        least = axis.x(one.least) if one.least else axis.right if one.endless else since
        better = max(axis.x(one.better) if one.better else least, least)
        text = fit(one.text, axis.right - axis.left - CHIP_WIDTH - 9, SMALL)
        long = CHIP_WIDTH + width(text, SMALL) + 9
        places = (better + _GAP, since - _GAP - long)
        start = next((x for x in places if axis.left <= x and x + long <= axis.right), None)
        if start is None and least >= axis.right and since + long + _FEWEST_LINE <= axis.right:
            start = since
        at = max(axis.left, min(since, axis.right - long)) if start is None else start

        def words(y: float) -> list[Shape]:
            return _told(text, look, at, y, long)

        def running(y: float) -> list[Shape]:
            return tail(since, least, better, y + 8.5, axis.right) if better > since else []

        if start is None and better > since:
            yield _Piece(at, at + long, words)
            yield _Piece(since, better, running)
        else:
            yield _Piece(min(since, at), max(better, at + long), lambda y: [*running(y), *words(y)])


def _silent(x: float, y: float) -> list[Shape]:
    return _plated(_NOT_ON_RECORD, x, y + 2)


def _plated(text: str, x: float, y: float) -> list[Shape]:
    """Words on paper, so that what lies behind does not disturb them."""
    return [rectangle(Box(x, y, x + width(text, SMALL) + 8, y + 17), "paper"), Label(x + 4, y + 12.8, text, SMALL)]


def _told(text: str, look: Look | None, x: float, y: float, long: float) -> list[Shape]:
    """A family's letters and words on a plate ``long`` units long."""
    chips = chip(look, x + 0.5, y + 0.5) if look else ()
    start = x + 5 + (CHIP_WIDTH if look else 0)
    words = [Label(start, y + 12.6, text, SMALL)] if text else []
    return [rectangle(Box(x, y, x + long, y + 17), "plate"), *chips, *words]


def _lanes(pieces: Iterable[_Piece]) -> list[list[_Piece]]:
    """Pieces in as few lanes as their order needs, none over another."""
    lanes: list[list[_Piece]] = []
    for piece in pieces:
        for lane in lanes:
            if all(piece.left >= other.right + 3 or piece.right + 3 <= other.left for other in lane):
                lane.append(piece)
                break
        else:
            lanes.append([piece])
    return lanes
