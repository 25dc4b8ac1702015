"""What a club's page shows of a garden: its beds today, when each is free again, and what the check found.

In words that can be read without another look-up: names of beds and families, and cautions in full.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import rules
from rules.checks.context import Context
from rules.checks.outlook import outlooks
from rules.knowledge.facts import FALLOW
from rules.model import Bed, Plan, Planting, Window
from rules.report import BedOutlook, Finding, Free
from rules.seasons import LAST_YEAR, growing_year, growing_year_window
from service.answers.trial import full_until
from service.words import capital, family_name

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

Row = dict[str, Any]
_DAY = timedelta(days=1)


def board(plan: Plan, knowledge: Knowledge) -> Row:
    """The report in short, and the beds that are there on the plan's day."""
    report, today = rules.check(plan, knowledge), plan.as_of
    names = {bed.id: bed.name for bed in plan.beds}
    judged = {"season": report.judged_season, "from": report.judged.start, "to": report.judged.end}
    return {
        "garden": plan.garden.name,
        "as_of": today,
        "judged": judged,
        "verdict": report.verdict,
        "findings": [_finding(one, names, knowledge) for one in report.findings],
        "skipped": sum(one.count for one in report.not_checked),
        "beds": _beds(plan, knowledge),
    }


def _finding(finding: Finding, names: Mapping[str, str], knowledge: Knowledge) -> Row:
    cautions = (knowledge.cautions[key] for key in finding.cautions if key in knowledge.cautions)
    return {
        "severity": finding.severity,
        "title": _sentence(finding.title),
        "fix": _sentence(finding.fix.text),
        "cautions": [f"{_sentence(one.text)} Defer to: {_sentence(one.defer_to)}" for one in cautions],
        "beds": [names.get(bed, bed) for bed in finding.beds],
        "plantings": list(finding.plantings),
    }


def _sentence(text: str) -> str:
    return text if not text or text.endswith((".", "?", "!")) else f"{text}."


def _beds(plan: Plan, knowledge: Knowledge) -> list[Row]:
    today, latitude = plan.as_of, plan.garden.latitude
    end = growing_year_window(growing_year(today, latitude), latitude).end
    breaks = {one.bed: one for one in outlooks(Context(replace(plan, judge=Window(today, end)), knowledge))}
    dated: dict[str, list[Planting]] = {}
    for one in sorted(plan.plantings, key=lambda one: (one.start, one.part, one.id)):
        if one.exact != "year" and one.crop.id != FALLOW and one.status != "lost":
            dated.setdefault(one.bed, []).append(one)
    return [
        {
            **_told(bed, dated.get(bed.id, []), today),
            "breaks": list(_breaks(breaks.get(bed.id), today, knowledge)),
        }
        for bed in plan.beds
        if (bed.start or date.min) <= today <= (bed.end or date.max)
    ]


def _told(bed: Bed, dated: list[Planting], today: date) -> Row:
    return {
        "bed": bed.id,
        "name": bed.name,
        "standing": [_planting(one) for one in dated if one.start <= today <= one.end],
        "free_from": _room(dated, today),
        "next": next((_planting(one) for one in dated if one.start > today), None),
    }


def _planting(one: Planting) -> Row:
    return {
        "planting": one.id,
        "crop": capital(one.crop.plural),
        "variety": one.variety.name if one.variety else None,
        "start": one.start,
        "end": one.end if one.end.year < LAST_YEAR else None,
        "assumed_end": one.assumed_end,
    }


def _room(dated: list[Planting], today: date) -> date | None:
    """The first day from today on with room in the bed; None where what stands is there to stay."""
    day = today
    while (until := full_until([one for one in dated if one.start <= day <= one.end])) is not None:
        if until.year >= LAST_YEAR:
            return None
        day = until + _DAY
    return day


def _breaks(outlook: BedOutlook | None, today: date, knowledge: Knowledge) -> Iterator[Row]:
    """Families that shall wait: ``least`` and ``better`` are the days after their breaks, None for never."""
    for family, free in outlook.free_from.items() if outlook else ():
        name = family_name(family, knowledge)
        if free == "never":
            yield {"family": name, "least": None, "better": None}
        elif isinstance(free, Free) and free.better > today and free.least.year < LAST_YEAR:
            better = free.better if free.better.year < LAST_YEAR else free.least
            yield {"family": name, "least": free.least, "better": better}
