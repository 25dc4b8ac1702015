"""From the typed rows of a plan document to a ``Plan``: names, seasons, assumed ends.

The rows come from a schema (types and ranges are checked there); what is checked here needs
knowledge or other rows: crop names, beds, seasons, the order of dates.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, NamedTuple

from rules.knowledge.facts import Crop
from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from rules.model import (
    WHOLE,
    Amendment,
    Bed,
    Cover,
    Garden,
    Irrigation,
    Plan,
    Planting,
    Replaced,
    Sighting,
    Soil,
    Treatment,
    Variety,
    Window,
)
from rules.seasons import (
    FIRST_YEAR,
    LAST_YEAR,
    first_frost,
    growing_year,
    growing_year_window,
    parse_season,
    season_window,
    winter_end,
)

if TYPE_CHECKING:
    from rules.knowledge.library import Knowledge

Path = tuple[str | int, ...]
Row = Mapping[str, Any]

#: Suggestions cost time; a document with more unknown names gets them for the first ones.
MOST_SUGGESTIONS = 20
_FIRST_DAY, _LAST_DAY = date(FIRST_YEAR, 1, 1), date(LAST_YEAR, 12, 31)


class Fault(NamedTuple):
    """Something wrong at a place of the document."""

    path: Path
    detail: str


class PlanFaults(ValueError):
    """A document that cannot be read as a plan; ``faults`` lists everything found."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults


def build_plan(data: Row, knowledge: Knowledge, *, as_of: date, season: str | None = None,
               broken: frozenset[Path] = frozenset()) -> Plan:
    """Build a plan from typed rows.

    Parameters
    ----------
    data
        The document as the schema loads it (see ``service.schemas.plan``).
    as_of
        Today as the door sees it; used where the document has no ``as_of``.
    season
        The season to judge, over the document's own ``judge``.
    broken
        Paths of rows that the schema refused; they are left out.

    Raises
    ------
    PlanFaults
        with everything wrong, each with its path.
    """
    reader = _Reading(data, knowledge, data.get("as_of", as_of), broken)
    plan = reader.plan(season)
    if reader.faults:
        raise PlanFaults(reader.faults)
    return plan


class _Reading:
    """The state of one reading: the faults so far and the look-ups of this document."""

    def __init__(self, data: Row, knowledge: Knowledge, as_of: date, broken: frozenset[Path]) -> None:
        self.data, self.knowledge, self.as_of, self.broken = data, knowledge, as_of, broken
        self.faults: list[Fault] = []
        self.suggested = 0
        self.garden = _garden(data.get("garden") or {})
        self.latitude = self.garden.latitude
        self.own: dict[str, Crop] = {}
        self.crops_seen: dict[str, Crop | None] = {}
        self.seasons: dict[str, Window | None] = {}
        self.bed_ids: set[str] = set()

    def fault(self, path: Path, detail: str) -> None:
        self.faults.append(Fault(path, detail))

    def rows(self, key: str) -> Iterable[tuple[int, Row]]:
        """The rows of a list that the schema could read, with their positions."""
        rows = self.data.get(key) or ()
        if not self.broken:
            return enumerate(rows)
        return ((i, row) for i, row in enumerate(rows) if row is not None and (key, i) not in self.broken)

    def hint(self, word: str, known: Iterable[str], lead: str = "did you mean") -> str:
        """A closing clause with the nearest known words, for the first unknown names only."""
        self.suggested += 1
        close = nearest(word, known) if self.suggested <= MOST_SUGGESTIONS else []
        return f"; {lead} {' or '.join(close)}?" if close else ""

    def plan(self, season: str | None) -> Plan:
        self.own_crops()
        beds = self.beds()
        plantings = self.plantings()
        ids = {p.id for p in plantings}
        judge, judged_season = self.judge(season, plantings)
        return Plan(
            as_of=self.as_of, judge=judge, judged_season=judged_season, garden=self.garden, beds=beds,
            plantings=plantings, covers=self.covers(ids), sightings=self.sightings(ids),
            treatments=self.treatments(ids), amendments=self.amendments(),
            seasons_read={word: window for word, window in sorted(self.seasons.items()) if window},
            notes=self.notes())

    def notes(self) -> tuple[str, ...]:
        if self.latitude is None:
            return ("No latitude is given, so seasons are read as in the north.",)
        return ()

    # -- crops and beds

    def own_crops(self) -> None:
        for i, row in self.rows("crops"):
            word, path = row.get("id", ""), ("crops", i)
            if normal(word) in self.own:
                self.fault((*path, "id"), f"the crop {word!r} stands twice")
            elif self.knowledge.find_crop(word) is not None:
                self.fault((*path, "id"), f"{word!r} is in the catalogue already; leave it out or choose another id")
            family = self.knowledge.find_family(row.get("family", ""))
            if family is None:
                self.fault((*path, "family"), f"{row.get('family')!r} is not a plant family"
                           f"{self.hint(row.get('family', ''), self.knowledge.families)} "
                           "A family outside the list is given by its botanical name, ending in -aceae.")
                continue
            name = row.get("name") or word
            self.own[normal(word)] = Crop(
                word, name, name, family, "own", lifecycle=row.get("lifecycle", "annual"), families=(family,))

    def crop(self, word: str, path: Path) -> Crop | None:
        if word in self.crops_seen:
            crop = self.crops_seen[word]
        else:
            crop = self.own.get(normal(word)) or self.knowledge.find_crop(word)
            self.crops_seen[word] = crop
        if crop is None:
            self.suggested += 1
            close = self.knowledge.nearest(word) if self.suggested <= MOST_SUGGESTIONS else []
            self.fault(path, f"no crop is known as {word!r}"
                       + (f"; did you mean {' or '.join(close)}?" if close else
                          "; a crop of your own can be given under 'crops' with its family"))
        return crop

    def beds(self) -> tuple[Bed, ...]:
        if not self.data.get("beds"):
            named = {row["bed"] for _, row in self.rows("plantings") if "bed" in row}
            self.bed_ids = named
            return tuple(Bed(word, word) for word in sorted(named))
        beds: list[Bed] = []
        places: dict[str, int] = {}
        for i, row in enumerate(self.data["beds"]):
            if not row or "id" not in row:
                continue
            if row["id"] in places:
                self.fault(("beds", i, "id"), f"the bed id {row['id']!r} stands twice; the first is bed {places[row['id']] + 1}")
                continue
            places[row["id"]] = i
            self.order(row, ("beds", i), "from", "until")
            beds.append(_bed(row))
        self.bed_ids = set(places)
        for bed in beds:
            for j, replaced in enumerate(bed.replaces):
                self.bed(replaced.bed, ("beds", places[bed.id], "replaces", j))
        self.lineage_cycles(beds, places)
        return tuple(beds)

    def lineage_cycles(self, beds: list[Bed], places: Mapping[str, int]) -> None:
        older = {bed.id: [r.bed for r in bed.replaces] for bed in beds}
        for bed in beds:
            reached, ahead = set[str](), list(older[bed.id])
            while ahead:
                step = ahead.pop()
                if step not in reached:
                    reached.add(step)
                    ahead += older.get(step, [])
            if bed.id in reached:
                self.fault(("beds", places[bed.id], "replaces"), f"bed {bed.id!r} would replace itself")

    def bed(self, word: str, path: Path) -> bool:
        if word in self.bed_ids:
            return True
        self.fault(path, f"no bed has the id {word!r}{self.hint(word, self.bed_ids)}")
        return False

    # -- plantings

    def plantings(self) -> tuple[Planting, ...]:
        found: list[Planting] = []
        places: list[int] = []
        ids: dict[str, int] = {}
        for i, row in self.rows("plantings"):
            planting = self.planting(row, i)
            if planting is None:
                continue
            if planting.id:
                if planting.id in ids:
                    self.fault(("plantings", i, "id"),
                               f"the planting id {planting.id!r} stands twice; the first is row {ids[planting.id] + 1}")
                    continue
                ids[planting.id] = i
            found.append(planting)
            places.append(i)
        if len(ids) < len(found):
            found = _named(found, ids)
        known = {p.id for p in found}
        for place, planting in zip(places, found, strict=True):
            if planting.replaces is not None and planting.replaces not in known and not self.broken:
                self.fault(("plantings", place, "replaces"),
                           f"no planting has the id {planting.replaces!r}{self.hint(planting.replaces, known)}")
        found.sort(key=_by_start)
        return tuple(found)

    def planting(self, row: Row, i: int) -> Planting | None:
        path: Path = ("plantings", i)
        crop = self.crop(row["crop"], (*path, "crop")) if "crop" in row else None
        on_bed = "bed" in row and (row["bed"] in self.bed_ids or self.bed(row["bed"], (*path, "bed")))
        span = self.span(row, crop, path)
        cause = row.get("cause")
        if cause is not None:
            cause = self.cause(cause, row, path)
        variety = self.variety(row["variety"], path) if row.get("variety") else None
        if crop is None or not on_bed or span is None:
            return None
        start, end, exact, assumed = span
        status = row.get("status") or _status(start, end, self.as_of)
        if status == "growing" and assumed and end < self.as_of:
            end = self.as_of
        get = row.get
        return Planting(
            get("id") or "", row["bed"], crop, start, end, exact, assumed, get("part") or WHOLE,
            get("season"), status, cause, get("method"), get("replaces"), get("first_harvest"),
            get("count"), get("spacing"), variety)

    def span(self, row: Row, crop: Crop | None, path: Path) -> tuple[date, date, str, bool] | None:
        """Start, end, how exact they are, and whether the end is assumed."""
        word, start, end = row.get("season"), row.get("start"), row.get("end")
        window = self.season(word, (*path, "season")) if word else None
        if word and window is None:
            return None
        if start is None and window is None:
            self.fault(path, "give a season or a start, so that it is known when this stood")
            return None
        exact = "day"
        if start is None and window is not None:
            exact = "quarter" if word and "-" in word else "year"
            start = window.start
        elif window is not None and word and not self.agrees(start, word, window):
            self.fault((*path, "start"), f"{start} is not in the season {word}, which is read as "
                       f"{window.start} to {window.end}; leave one of the two out or mend it")
            return None
        assert start is not None
        if end is not None:
            if end < start:
                self.fault((*path, "end"), f"the end {end} lies before the start {start}")
                return None
            if exact == "year":
                exact = "quarter"
            harvest = row.get("first_harvest")
            if harvest is not None and not start <= harvest <= end:
                self.fault((*path, "first_harvest"), f"{harvest} does not lie between {start} and {end}")
            return start, end, exact, False
        if exact == "year" and window is not None and not (crop and crop.perennial):
            return start, window.end, exact, True
        if crop is None:
            return None
        return start, min(assumed_end(crop, start, self.garden), _LAST_DAY), exact, True

    def agrees(self, start: date, word: str, window: Window) -> bool:
        if "-" in word:
            return window.start <= start <= window.end
        year = growing_year(window.start, self.latitude)
        return growing_year(start, self.latitude) in (year, growing_year(window.end, self.latitude))

    def season(self, word: str, path: Path) -> Window | None:
        if word in self.seasons:
            return self.seasons[word]
        parsed = parse_season(word)
        if parsed is None:
            self.fault(path, f"{word!r} is not a season; write a year (2027) or a year and quarter (2027-spring)")
            return None
        window = season_window(*parsed, self.latitude)
        self.seasons[word] = window
        return window

    def cause(self, word: str, row: Row, path: Path) -> str | None:
        if row.get("status", "lost") != "lost":
            self.fault((*path, "cause"), "a cause belongs to a planting with status 'lost'")
            return None
        thing = self.knowledge.find_trouble(word)
        if thing is not None:
            return thing.id
        loss = self.knowledge.find_loss(word)
        if loss is None:
            self.fault((*path, "cause"), f"no pest, disease or other cause is known as {word!r}"
                       f"{self.hint(normal(word), self.knowledge.cause_words())}")
        return loss

    def variety(self, row: Row, path: Path) -> Variety:
        resists = []
        for j, word in enumerate(row.get("resists") or ()):
            thing = self.knowledge.find_trouble(word)
            if thing is None:
                self.fault((*path, "variety", "resists", j), self.unknown_trouble(word))
            else:
                resists.append(thing.id)
        return Variety(row.get("name"), tuple(resists), row.get("parthenocarpic"))

    def unknown_trouble(self, word: str) -> str:
        self.suggested += 1
        close = self.knowledge.nearest(word, "trouble") if self.suggested <= MOST_SUGGESTIONS else []
        return f"no pest or disease is known as {word!r}" + (f"; did you mean {' or '.join(close)}?" if close else "")

    # -- the short lists

    def order(self, row: Row, path: Path, first: str, last: str) -> None:
        if row.get(first) and row.get(last) and row[last] < row[first]:
            self.fault((*path, last), f"{last} {row[last]} lies before {first} {row[first]}")

    def plantings_known(self, words: Iterable[str], ids: set[str], path: Path) -> None:
        for word in words:
            if word not in ids and not self.broken:
                self.fault(path, f"no planting has the id {word!r}{self.hint(word, ids)}")

    def covers(self, ids: set[str]) -> tuple[Cover, ...]:
        found = []
        for i, row in self.rows("covers"):
            path: Path = ("covers", i)
            self.order(row, path, "start", "end")
            self.order(row, path, "start", "open_by_day_from")
            self.plantings_known(row.get("plantings") or (), ids, (*path, "plantings"))
            if "bed" in row and self.bed(row["bed"], (*path, "bed")) and "start" in row and "kind" in row:
                found.append(Cover(row["bed"], row["kind"], row["start"], row.get("end"), row.get("mesh"),
                                   tuple(row.get("plantings") or ()), row.get("edges"), row.get("open_by_day_from")))
        return tuple(sorted(found, key=repr))

    def sightings(self, ids: set[str]) -> tuple[Sighting, ...]:
        found = []
        for i, row in self.rows("sightings"):
            path: Path = ("sightings", i)
            thing = self.knowledge.find_trouble(row["of"]) if "of" in row else None
            if thing is None and "of" in row:
                self.fault((*path, "of"), self.unknown_trouble(row["of"]))
            if row.get("planting") is not None:
                self.plantings_known([row["planting"]], ids, (*path, "planting"))
            if "bed" in row and self.bed(row["bed"], (*path, "bed")) and thing is not None and "date" in row:
                found.append(Sighting(row["bed"], row["date"], thing.id, row.get("level"), row.get("planting")))
        return tuple(sorted(found, key=repr))

    def treatments(self, ids: set[str]) -> tuple[Treatment, ...]:
        found = []
        for i, row in self.rows("treatments"):
            path: Path = ("treatments", i)
            if row.get("planting") is not None:
                self.plantings_known([row["planting"]], ids, (*path, "planting"))
            if "bed" in row and self.bed(row["bed"], (*path, "bed")) and "date" in row and "active" in row:
                found.append(Treatment(row["bed"], row["date"], row["active"], row.get("planting"), row.get("harvest_interval")))
        return tuple(sorted(found, key=repr))

    def amendments(self) -> tuple[Amendment, ...]:
        found = []
        for i, row in self.rows("amendments"):
            if "bed" in row and self.bed(row["bed"], ("amendments", i, "bed")) and "date" in row and "kind" in row:
                found.append(Amendment(row["bed"], row["date"], row["kind"]))
        return tuple(sorted(found, key=repr))

    # -- the window

    def judge(self, season: str | None, plantings: tuple[Planting, ...]) -> tuple[Window, str | None]:
        asked: Row = {"season": season} if season is not None else self.data.get("judge") or {}
        word = asked.get("season")
        if word is not None:
            parsed = parse_season(word)
            if parsed is None:
                self.fault(("judge", "season"), f"{word!r} is not a season; write a year (2027) or a year and quarter")
                return Window(self.as_of, self.as_of), None
            year, quarter = parsed
            if quarter is None:
                return growing_year_window(year, self.latitude), word
            return season_window(year, quarter, self.latitude), word
        if asked.get("from") and asked.get("to"):
            if asked["to"] < asked["from"]:
                self.fault(("judge", "to"), f"to {asked['to']} lies before from {asked['from']}")
            return Window(asked["from"], asked["to"]), None
        latest = max((p.start for p in plantings), default=self.as_of)
        year = growing_year(latest, self.latitude)
        return growing_year_window(year, self.latitude), str(year)


def assumed_end(crop: Crop, start: date, garden: Garden) -> date:
    """When a crop is taken to be cleared if nobody wrote it down.

    Perennials stay; others stand from maturity for the crop's ``stands`` (days, to the first
    autumn frost, or through the cold season).  Without a maturity the main season counts.
    """
    if crop.perennial:
        return _LAST_DAY
    if crop.maturity is None:
        return first_frost(start + timedelta(days=1), garden.first_autumn_frost, garden.latitude)
    ripe = start + timedelta(days=crop.maturity.most)
    if crop.stands == "winter_end":
        return winter_end(ripe, garden.latitude)
    if crop.stands == "first_frost":
        return first_frost(start + timedelta(days=1), garden.first_autumn_frost, garden.latitude)
    return ripe + timedelta(days=crop.stands or 0)


def _status(start: date, end: date, as_of: date) -> str:
    if start > as_of:
        return "planned"
    return "done" if end < as_of else "growing"


def _by_start(planting: Planting) -> tuple[date, date, str, str, str]:
    return planting.start, planting.end, planting.crop.id, planting.bed, planting.id


def _named(plantings: list[Planting], taken: Mapping[str, int]) -> list[Planting]:
    """Give plantings without an id one that follows from their content, whatever their order."""
    bases = [p.id or f"{p.bed}.{p.crop.id}.{p.season or p.start}" for p in plantings]
    twins = Counter(base for p, base in zip(plantings, bases, strict=True) if not p.id)
    named: dict[int, str] = {}
    used = set(taken)
    for place in sorted(range(len(plantings)), key=lambda n: (bases[n], repr(_content(plantings[n])))):
        if plantings[place].id:
            continue
        number, base = 1, bases[place]
        candidate = base if twins[base] == 1 else f"{base}.1"
        while candidate in used:
            number += 1
            candidate = f"{base}.{number}"
        used.add(candidate)
        named[place] = candidate
    return [p._replace(id=named[n]) if n in named else p for n, p in enumerate(plantings)]


def _content(planting: Planting) -> tuple[Any, ...]:
    return tuple(planting._replace(crop=planting.crop.id))  # type: ignore[arg-type]


def _soil(row: Row | None) -> Soil | None:
    return Soil(row.get("ph"), row.get("texture"), row.get("drainage")) if row else None


def _garden(row: Row) -> Garden:
    return Garden(
        row.get("name") or "Garden", row.get("site"), row.get("latitude"), row.get("longitude"), row.get("country"),
        row.get("time_zone"), row.get("last_spring_frost"), row.get("first_autumn_frost"),
        row.get("units", "metric"), row.get("rotation", "full"), _soil(row.get("soil")))


def _bed(row: Row) -> Bed:
    water = row.get("irrigation")
    return Bed(
        row["id"], row.get("name") or row["id"], row.get("kind", "ground"), row.get("length"), row.get("width"),
        row.get("depth"), row.get("position"), row.get("turn", 0.0),
        Irrigation(water["method"], water.get("emitter_spacing"), water.get("emitter_flow"), water.get("lines"))
        if water and "method" in water else None,
        _soil(row.get("soil")),
        tuple(Replaced(r["bed"], r.get("from"), r.get("until")) for r in row.get("replaces") or () if "bed" in r),
        row.get("from"), row.get("until"))


