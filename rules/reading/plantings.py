"""The plantings of a document: crop, bed, dates, assumed ends and ids that follow from content."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from rules.knowledge.facts import Crop, Maturity, Stands
from rules.knowledge.names import normal
from rules.model import WHOLE, Garden, Planting, Variety, Window
from rules.reading.desk import Desk, Path, Row
from rules.seasons import LAST_YEAR, first_frost, growing_year, growing_year_window, in_tropics, winter_end

_LAST_DAY = date(LAST_YEAR, 12, 31)
_SIX_WEEKS = timedelta(days=42)
#: How long picked crops stand past maturity where no frost ends them (judgement).
_PICKED = timedelta(days=60)
#: Flowers set this close to the autumn frost are hardy ones that stand over winter (judgement).
_AUTUMN_SET = timedelta(days=45)


def read_plantings(desk: Desk) -> tuple[Planting, ...]:
    """The plantings of a document, sorted by start; rows without an id are named from their content."""
    found: list[Planting] = []
    places: list[int] = []
    ids: dict[str, int] = {}
    for i, row in desk.rows("plantings"):
        planting = _planting(desk, row, i)
        if planting is None:
            continue
        if planting.id:
            if planting.id in ids:
                desk.fault(
                    ("plantings", i, "id"),
                    f"the planting id {planting.id!r} stands twice; the first is row {ids[planting.id] + 1}",
                )
                continue
            ids[planting.id] = i
        found.append(planting)
        places.append(i)
    for i, row in desk.spoiled("plantings"):
        _names(desk, row, ("plantings", i))
    if len(ids) < len(found):
        found = _named(found, ids)
    known = {p.id for p in found}
    for place, planting in zip(places, found, strict=True):
        if planting.replaces is not None and planting.replaces == planting.id:
            desk.fault(("plantings", place, "replaces"), "a planting cannot replace itself")
        elif planting.replaces is not None and planting.replaces not in known and not desk.broken:
            desk.fault(
                ("plantings", place, "replaces"),
                f"no planting has the id {planting.replaces!r}{desk.hint(planting.replaces, known)}",
            )
    found.sort(key=_by_start)
    return tuple(found)


def _planting(desk: Desk, row: Row, i: int) -> Planting | None:
    path: Path = ("plantings", i)
    crop = desk.crop(row["crop"], (*path, "crop")) if "crop" in row else None
    on_bed = "bed" in row and (row["bed"] in desk.bed_ids or desk.bed(row["bed"], (*path, "bed")))
    span = _span(desk, row, crop, path)
    cause = row.get("cause")
    if cause is not None:
        cause = _cause(desk, cause, row, path)
    variety = _variety(desk, row["variety"], path) if row.get("variety") else None
    if crop is None or not on_bed or span is None:
        return None
    start, end, exact, assumed = span
    status = row.get("status") or _status(start, end, desk.as_of)
    if status == "growing" and assumed and end < desk.as_of:
        end = desk.as_of
    get = row.get
    return Planting(
        get("id") or "",
        row["bed"],
        crop,
        start,
        end,
        exact,
        assumed,
        get("part") or WHOLE,
        get("season"),
        status,
        cause,
        get("method"),
        get("replaces"),
        get("first_harvest"),
        get("count"),
        get("spacing"),
        variety,
    )


def _names(desk: Desk, row: Row, path: Path) -> None:
    """Look up the names of a row that is no planting, so that its faults are told in one go."""
    if "crop" in row:
        desk.crop(row["crop"], (*path, "crop"))
    if "bed" in row:
        desk.bed(row["bed"], (*path, "bed"))
    if row.get("cause"):
        _cause(desk, row["cause"], row, path)
    if row.get("variety"):
        _variety(desk, row["variety"], path)
    desk.order(row, path, "start", "end")


def _span(desk: Desk, row: Row, crop: Crop | None, path: Path) -> tuple[date, date, str, bool] | None:
    """Start, end, how exact they are, and whether the end is assumed."""
    word, start, end = row.get("season"), row.get("start"), row.get("end")
    window = desk.season(word, (*path, "season")) if word else None
    if word and window is None:
        return None
    if start is None and window is None:
        desk.fault(path, "give a season or a start, so that it is known when this stood")
        return None
    exact = "day"
    if start is None and window is not None:
        exact = "quarter" if word and "-" in word else "year"
        start = window.start
    elif start is not None and window is not None and word and not _agrees(desk, start, word, window):
        desk.fault(
            (*path, "start"),
            f"{start} is not in the season {word}, which is read as "
            f"{window.start} to {window.end}; leave one of the two out or mend it",
        )
        return None
    assert start is not None
    harvest = row.get("first_harvest")
    if harvest is not None and harvest < start:
        desk.fault((*path, "first_harvest"), f"{harvest} lies before the start {start}")
        return None
    if end is not None:
        if end < start:
            desk.fault((*path, "end"), f"the end {end} lies before the start {start}")
            return None
        if exact == "year":
            exact = "quarter"
        if harvest is not None and harvest > end:
            desk.fault((*path, "first_harvest"), f"{harvest} lies after the end {end}")
        return start, end, exact, False
    if exact == "year" and window is not None and not (crop and crop.perennial):
        return start, window.end, exact, True
    if crop is None:
        return None
    return start, min(assumed_end(crop, start, desk.garden), _LAST_DAY), exact, True


def _agrees(desk: Desk, start: date, word: str, window: Window) -> bool:
    if "-" in word:
        return window.start <= start <= window.end
    year = growing_year(window.start, desk.latitude)
    return growing_year(start, desk.latitude) in (year, growing_year(window.end, desk.latitude))


def _cause(desk: Desk, word: str, row: Row, path: Path) -> str | None:
    if row.get("status", "lost") != "lost":
        desk.fault((*path, "cause"), "a cause belongs to a planting with status 'lost'")
        return None
    thing = desk.knowledge.find_trouble(word)
    if thing is not None:
        return thing.id
    loss = desk.knowledge.find_loss(word)
    if loss is None:
        desk.fault(
            (*path, "cause"),
            f"no pest, disease or other cause is known as {word!r}"
            f"{desk.hint(normal(word), desk.knowledge.cause_words())}",
        )
    return loss


def _variety(desk: Desk, row: Row, path: Path) -> Variety:
    resists = []
    for j, word in enumerate(row.get("resists") or ()):
        thing = desk.knowledge.find_trouble(word)
        if thing is None:
            desk.fault((*path, "variety", "resists", j), desk.unknown_trouble(word))
        else:
            resists.append(thing.id)
    return Variety(row.get("name"), tuple(resists), row.get("parthenocarpic"))


def days_to_harvest(crop: Crop, start: date, garden: Garden) -> Maturity | None:
    """Days to the first harvest of what is set on a day; what is to stand over winter has its own."""
    if crop.over_winter is not None and _over_winter(crop, start, garden):
        return crop.over_winter
    return crop.maturity


def assumed_end(crop: Crop, start: date, garden: Garden) -> date:
    """When a crop is taken to be cleared if nobody wrote it down.

    Perennials stay; others stand from maturity for the crop's ``stands`` (days, to the first
    autumn frost, or through the cold season).  What is set in autumn to stand over winter has its own
    days.  Without a maturity the main season counts.
    """
    if crop.perennial:
        return _LAST_DAY
    if crop.over_winter is not None and _over_winter(crop, start, garden):
        return start + timedelta(days=crop.over_winter.most + _days(crop.stands))
    if crop.maturity is None:
        return first_frost(start + timedelta(days=1), garden.first_autumn_frost, garden.latitude)
    ripe = start + timedelta(days=crop.maturity.most)
    if crop.stands == "winter_end":
        return winter_end(ripe, garden.latitude)
    if crop.stands == "first_frost":
        return _to_frost(crop, start, ripe, garden)
    return ripe + timedelta(days=_days(crop.stands))


def _days(stands: Stands | None) -> int:
    return stands if isinstance(stands, int) else 0


def _over_winter(crop: Crop, start: date, garden: Garden) -> bool:
    """True for what is set so late in autumn that it would ripen no earlier than six weeks before midwinter."""
    if in_tropics(garden.latitude) or crop.maturity is None:
        return False
    midwinter = growing_year_window(growing_year(start, garden.latitude) + 1, garden.latitude).start
    return start + timedelta(days=crop.maturity.most) + _SIX_WEEKS >= midwinter


def _to_frost(crop: Crop, start: date, ripe: date, garden: Garden) -> date:
    """The frost that ends a crop: the next one, but for what is set in autumn to flower the year after."""
    if garden.first_autumn_frost is None and in_tropics(garden.latitude):
        return ripe + _PICKED
    frost = first_frost(start + timedelta(days=1), garden.first_autumn_frost, garden.latitude)
    if crop.lifecycle == "biennial" or (crop.kind == "flower" and frost - start <= _AUTUMN_SET):
        return first_frost(frost + timedelta(days=1), garden.first_autumn_frost, garden.latitude)
    return frost


def _status(start: date, end: date, as_of: date) -> str:
    if start >= as_of:  # on its own day it is still to be done
        return "planned"
    return "done" if end < as_of else "growing"


def _by_start(planting: Planting) -> tuple[date, date, str, str, str]:
    return planting.start, planting.end, planting.crop.id, planting.bed, planting.id


def _named(plantings: list[Planting], taken: Mapping[str, int]) -> list[Planting]:
    """Give plantings without an id one that follows from their content, whatever their order."""
    bases = [p.id or f"{p.bed}.{p.crop.id}.{p.season or p.start}" for p in plantings]
    twins = Counter(base for p, base in zip(plantings, bases, strict=True) if not p.id)
    unnamed = [place for place, p in enumerate(plantings) if not p.id]
    unnamed.sort(key=lambda place: (bases[place], repr(_content(plantings[place])) if twins[bases[place]] > 1 else ""))
    named: dict[int, str] = {}
    used, numbers = set(taken), Counter[str]()
    for place in unnamed:
        base = candidate = bases[place]
        while (twins[base] > 1 and candidate == base) or candidate in used:
            numbers[base] += 1
            candidate = f"{base}.{numbers[base]}"
        used.add(candidate)
        named[place] = candidate
    return [p._replace(id=named[n]) if n in named else p for n, p in enumerate(plantings)]


def _content(planting: Planting) -> tuple[Any, ...]:
    return tuple(planting._replace(crop=planting.crop.id))  # type: ignore[arg-type]
