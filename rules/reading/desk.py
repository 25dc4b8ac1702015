"""What all parts of a reading share: faults, suggestions, crops, seasons and beds by name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

from rules.knowledge.facts import Crop
from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from rules.model import Garden, Window
from rules.seasons import parse_season, season_window

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

Path = tuple[str | int, ...]
Row = Mapping[str, Any]

#: Suggestions cost time; a document with more unknown names gets them for the first ones.
MOST_SUGGESTIONS = 20


class Fault(NamedTuple):
    """Something wrong at a place of the document."""

    path: Path
    detail: str


class PlanFaults(ValueError):
    """A document that cannot be read as a plan; ``faults`` lists everything found."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults


class Desk:
    """One document being read: the faults so far and the look-ups that its parts share."""

    def __init__(self, data: Row, knowledge: Knowledge, as_of: date, garden: Garden, broken: frozenset[Path]) -> None:
        self.data, self.knowledge, self.as_of, self.broken = data, knowledge, as_of, broken
        self.faults: list[Fault] = []
        self.suggested = 0
        self.garden = garden
        self.latitude = self.garden.latitude
        self.own: dict[str, Crop] = {}
        self.crops_seen: dict[str, Crop | str] = {}
        self.seasons: dict[str, Window | None] = {}
        self.bed_ids: set[str] = set()

    def fault(self, path: Path, detail: str) -> None:
        """Note a fault at a place of the document."""
        self.faults.append(Fault(path, detail))

    def rows(self, key: str) -> Iterable[tuple[int, Row]]:
        """The rows of a list that the schema could read, with their positions."""
        rows = self.data.get(key) or ()
        if not self.broken:
            return enumerate(rows)
        return ((i, row) for i, row in enumerate(rows) if row is not None and (key, i) not in self.broken)

    def spoiled(self, key: str) -> Iterable[tuple[int, Row]]:
        """Rows that the schema refused, with what could be read of them: their names can still be looked up."""
        rows = self.data.get(key) or ()
        return ((i, row) for i, row in enumerate(rows) if isinstance(row, Mapping) and (key, i) in self.broken)

    def hint(self, word: str, known: Iterable[str], lead: str = "did you mean") -> str:
        """A closing clause with the nearest known words, for the first unknown names only."""
        self.suggested += 1
        close = nearest(word, known) if self.suggested <= MOST_SUGGESTIONS else []
        return f"; {lead} {' or '.join(close)}?" if close else ""

    def crop(self, word: str, path: Path) -> Crop | None:
        """The crop or group that a word names; a fault with the nearest known names otherwise."""
        if word not in self.crops_seen:
            crop = self._own_crop(normal(word)) or self.knowledge.find_crop(word)
            self.crops_seen[word] = crop or self.unknown_crop(word)
        found = self.crops_seen[word]
        if isinstance(found, str):
            self.fault(path, found)
            return None
        return found

    def _own_crop(self, word: str) -> Crop | None:
        """The grower's own crop of that id, also where it is written in the plural."""
        return self.own.get(word) or self.own.get(word.removesuffix("s")) or self.own.get(word.removesuffix("es"))

    def unknown_crop(self, word: str) -> str:
        """Words for a crop that is not known, with the nearest known names or what else to do."""
        self.suggested += 1
        close = self.knowledge.nearest(word) if self.suggested <= MOST_SUGGESTIONS else []
        if close:
            return f"no crop is known as {word!r}; did you mean {' or '.join(close)}?"
        return f"no crop is known as {word!r}; a crop of your own can be given under 'crops' with its family"

    def bed(self, word: str, path: Path) -> bool:
        """True when a bed of this id is known; a fault otherwise."""
        if word in self.bed_ids:
            return True
        self.fault(path, f"no bed has the id {word!r}{self.hint(word, self.bed_ids)}")
        return False

    def season(self, word: str, path: Path) -> Window | None:
        """The days of a season word; a fault for a word that is none."""
        if word in self.seasons:
            return self.seasons[word]
        parsed = parse_season(word)
        if parsed is None:
            self.fault(path, f"{word!r} is not a season; write a year (2027) or a year and quarter (2027-spring)")
            return None
        window = season_window(*parsed, self.latitude)
        self.seasons[word] = window
        return window

    def unknown_trouble(self, word: str) -> str:
        """Words for a pest or disease that is not known."""
        self.suggested += 1
        close = self.knowledge.nearest(word, "trouble") if self.suggested <= MOST_SUGGESTIONS else []
        return f"no pest or disease is known as {word!r}" + (f"; did you mean {' or '.join(close)}?" if close else "")

    def order(self, row: Row, path: Path, first: str, last: str) -> None:
        """Note a fault where the second of two dates lies before the first."""
        if row.get(first) and row.get(last) and row[last] < row[first]:
            self.fault((*path, last), f"{last} {row[last]} lies before {first} {row[first]}")

    def plantings_known(self, words: Iterable[str], ids: set[str], path: Path) -> None:
        """Note a fault for each planting id that no row has."""
        for word in words:
            if word not in ids and not self.broken:
                self.fault(path, f"no planting has the id {word!r}{self.hint(word, ids)}")
