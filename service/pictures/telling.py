"""What a picture shows, in words: for those who hear it, for those who point at a part, and for what does not fit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from rules.knowledge.facts import FALLOW
from rules.model import Bed, Cover, Plan, Planting
from rules.report import Finding, Report
from service.lengths import length
from service.words import as_date, as_list, as_season, as_span, capital, tally

#: Days ahead that a bed without a crop tells what is planned.
LOOK_AHEAD = 370


def season_words(report: Report) -> str:
    """ "season 2027", or the span of days that is judged."""
    return as_season(report.judged_season) if report.judged_season else as_span(report.judged)


def grave(report: Report) -> list[Finding]:
    """Findings that count against the plan."""
    return [finding for finding in report.findings if finding.severity in ("breach", "caution")]


class Shown(NamedTuple):
    """A bed on a day: what stands in it, what comes next where nothing does, and what covers it."""

    bed: Bed
    plantings: tuple[Planting, ...]
    coming: Planting | None
    covers: tuple[Cover, ...]

    @property
    def empty(self) -> list[str]:
        """What is said of a bed where nothing stands, line by line."""
        if self.coming is None:
            return ["empty"]
        by_year = self.coming.exact == "year"
        when = str(self.coming.start.year) if by_year else as_date(self.coming.start)
        return ["empty", f"next: {self.coming.crop.plural}", when]

    @property
    def words(self) -> str:
        """What stands in it and over it, without its name."""
        if not self.plantings:
            return ", ".join(self.empty)
        return as_list(_crop(p, self.covers) for p in self.plantings)


def shown_on(plan: Plan, day: date) -> list[Shown]:
    """The beds that are there on a day; rows known by their year alone stand all their season."""
    standing: dict[str, list[Planting]] = {}
    coming: dict[str, Planting] = {}
    for p in plan.plantings:
        if p.crop.id == FALLOW or p.status == "lost":
            continue
        if p.start <= day <= p.end:
            standing.setdefault(p.bed, []).append(p)
        elif 0 < (p.start - day).days <= LOOK_AHEAD:
            coming[p.bed] = min(coming.get(p.bed, p), p, key=lambda p: (p.start, p.id))
    covers: dict[str, list[Cover]] = {}
    for cover in plan.covers:
        if cover.start <= day and (cover.end is None or day <= cover.end):
            covers.setdefault(cover.bed, []).append(cover)
    return [
        Shown(
            bed,
            tuple(sorted(standing.get(bed.id, ()), key=lambda p: (p.part, p.start, p.id))),
            coming.get(bed.id),
            tuple(covers.get(bed.id, ())),
        )
        for bed in plan.beds
        if is_there(bed, day)
    ]


def size_words(bed: Bed, units: str) -> str:
    """ "3.00 m by 1.20 m", or what of it is not known."""
    if bed.length and bed.width:
        return f"{length(bed.length, units)} by {length(bed.width, units)}"
    known = [f"{what} {length(cm, units)}" for what, cm in (("length", bed.length), ("width", bed.width)) if cm]
    lacking = "size" if not known else "width" if bed.length else "length"
    return ", ".join([*known, f"{lacking} not on record"])


def _crop(p: Planting, covers: Sequence[Cover]) -> str:
    """ "leeks (first 70%) under fleece", a share of the bed's length."""
    low, high = (round(share * 100) for share in p.part)
    words = []
    if (low, high) != (0, 100):
        words.append(f"first {high}%" if low == 0 else f"last {100 - low}%" if high == 100 else f"{low} to {high}%")
    if p.exact == "year":
        words.append(f"some time in {as_season(p.season) if p.season else p.start.year}")
    told = f" ({', '.join(words)})" if words else ""
    over = dict.fromkeys(_cover(cover) for cover in covers if not cover.plantings or p.id in cover.plantings)
    return p.crop.plural + told + (f" under {as_list(over)}" if over else "")


def _cover(cover: Cover) -> str:
    return cover.kind if cover.kind == "fleece" else f"a {cover.kind}"


def findings_words(report: Report) -> str:
    """The findings that count against the plan, in sentences."""
    found = grave(report)
    if not found:
        return f"No finding counts against {season_words(report)}."
    told = " ".join(f"{finding.title}." for finding in found)
    return f"Findings for {season_words(report)}: {tally(found)}. {told}"


def not_there(plan: Plan, day: date) -> list[Bed]:
    """Beds that are no longer, or not yet, there on a day."""
    return [bed for bed in plan.beds if not is_there(bed, day)]


def is_there(bed: Bed, day: date) -> bool:
    """True where a bed is there on a day."""
    return (bed.start is None or bed.start <= day) and (bed.end is None or day <= bed.end)


def gone_words(beds: Sequence[Bed], day: date) -> str:
    """A sentence about beds that are not drawn."""
    verb = "is" if len(beds) == 1 else "are"
    return f"{capital(as_list(bed.name for bed in beds))} {verb} not there on {as_date(day)}."
