"""What a row of the timeline tells of one bed: bars of its ground, days that matter, breaks that still run.

Values only, in days; ``timeline`` draws them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from rules.checks.grounds import Ground
from rules.graphs.stays import is_host, stays
from rules.knowledge.facts import FALLOW
from rules.knowledge.known import Knowledge
from rules.model import Plan, Planting, Window
from rules.report import BedOutlook, Free
from rules.seasons import LAST_YEAR
from service.pictures.shapes import MarkKind
from service.words import MONTHS, as_date, as_list, as_season, family_name


class Bar(NamedTuple):
    """A stay: plantings of one family in one ground, one after or beside another."""

    plantings: tuple[Planting, ...]
    start: date
    end: date

    @property
    def family(self) -> str | None:
        """Its family, "" for a word of several; None for an empty season."""
        first = self.plantings[0].crop
        return None if first.id == FALLOW else first.family

    @property
    def planned(self) -> bool:
        """True where it is not in the ground yet."""
        return self.plantings[0].status == "planned"

    @property
    def name(self) -> str:
        """ "radishes and rocket"."""
        crops = as_list(dict.fromkeys(p.crop.plural for p in self.plantings))
        return f"{crops}, lost" if self.plantings[0].status == "lost" else crops


class Moment(NamedTuple):
    """A day with a mark: a sighting, or new soil."""

    day: date
    mark: MarkKind
    text: str


class Break(NamedTuple):
    """A family's break as it stands when the judged window begins: since when, and when it is over.

    ``least`` and ``better`` are None where it never is, or where that is not known; ``text`` says which.
    """

    family: str
    since: date
    least: date | None
    better: date | None
    text: str
    endless: bool


def bars(plantings: Sequence[Planting], knowledge: Knowledge) -> list[Bar]:
    """Stays in order of their first day; planned and recorded ones apart, and what is no host by itself."""
    alike: dict[tuple[object, ...], list[Planting]] = {}
    found: list[Bar] = []
    for p in sorted(plantings, key=lambda p: (p.start, p.end, p.id)):
        if p.crop.family and is_host(p, knowledge.diseases) and p.status != "lost":
            alike.setdefault((p.crop.family, p.part, p.exact == "year", p.status == "planned"), []).append(p)
        else:
            found.append(Bar((p,), p.start, p.end))
    for (family, *_), hosts in alike.items():
        found += (Bar(stay.plantings, stay.start, stay.end) for stay in stays("", str(family), hosts))
    return sorted(found, key=lambda bar: (bar.start, bar.plantings[0].part, bar.end, bar.plantings[0].id))


def moments(plan: Plan, ground: Ground, knowledge: Knowledge) -> list[Moment]:
    """What was seen in a ground, and when its soil was changed."""
    found = []
    levels = {(s.of, s.date): s.level for s in plan.sightings if s.bed == ground.bed.id}
    for of, days in (*ground.sightings.items(), *ground.others.items()):
        known = knowledge.diseases.get(of) or knowledge.pests.get(of)
        for day in days:
            level = levels.get((of, day))
            name = known.name if known else of.replace("_", " ")
            found.append(Moment(day, "sighting", f"{name}, {level}" if level else name))
    changed = {a.date for a in plan.amendments if a.bed == ground.bed.id and a.kind == "new_soil"}
    found += (Moment(day, "soil", "new soil") for day in changed)
    return sorted(found)


def breaks(ground: Ground, outlook: BedOutlook, window: Window, knowledge: Knowledge) -> Iterator[Break]:
    """The families that stood here and may not return yet, or of which it is not known."""
    for family in sorted(ground.hosts):
        before = [p.end for p in ground.hosts[family] if p.start < window.start]
        if not before:
            continue
        free = outlook.free_from.get(family, "open")
        why = _because(outlook, family, knowledge)
        if isinstance(free, Free):
            least = free.least if free.least.year <= LAST_YEAR else None
            better = free.better if free.better.year <= LAST_YEAR else None
            yield Break(family, max(before), least, better, _free_words(least, better, window) + why, least is None)
        elif free == "never":
            yield Break(family, max(before), None, None, f"never again here{why}", True)
        elif free == "unknown":
            yield Break(family, max(before), None, None, "not known, years are missing", False)


def _free_words(least: date | None, better: date | None, window: Window) -> str:
    if least is None:
        return "free once it is cleared and its break is over"
    if better is None or least == better:
        return f"free {_month(least)}"
    if least <= window.start:
        return f"better from {_month(better)}"
    return f"free {_month(least)}, better {_month(better)}"


def _month(day: date) -> str:
    return f"{MONTHS[day.month - 1][:3]} {day.year}"


def _because(outlook: BedOutlook, family: str, knowledge: Knowledge) -> str:
    seen = [c.because for c in outlook.closed_to if family in knowledge.diseases[c.because].host_families]
    return f" ({as_list(knowledge.diseases[key].name for key in seen)})" if seen else ""


def bar_words(bar: Bar, bed: str, plan: Plan, knowledge: Knowledge) -> str:
    """A bar in words."""
    first, last = bar.plantings[0], max(bar.plantings, key=lambda p: p.end)
    if first.exact == "year":
        when = f"some time in {as_season(first.season) if first.season else first.start.year}"
    elif last.end.year >= LAST_YEAR:
        when = f"from {as_date(bar.start)} on"
    else:
        when = f"{as_date(bar.start)} to {as_date(bar.end)}" + (", end assumed" if last.assumed_end else "")
    words = [bar.name, when]
    if bar.family:
        words.insert(1, family_name(bar.family, knowledge))
    if bar.planned:
        words.append("planned")
    if first.bed != bed:
        words.append("in " + next(one.name for one in plan.beds if one.id == first.bed))
    return ", ".join(words)
