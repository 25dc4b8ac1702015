"""``was``, ``free`` and ``with``: what is on record for a bed, and what stands there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import NamedTuple

import rules
from rules.checks.context import Context
from rules.checks.outlook import outlooks
from rules.knowledge.facts import FALLOW, Crop
from rules.model import Bed, Planting, Window
from rules.report import BedOutlook, Free
from rules.seasons import LAST_YEAR, growing_year, growing_year_window
from service.answers.question import Question, Said, Unanswerable, require_bed
from service.answers.spoken import bed_name, clauses, fitted, joined, short, verb
from service.answers.trial import Quick, tried, with_planting
from service.words import as_date, as_month, capital, family_name

#: Of the growing years that are missing so many are named.
_MOST_YEARS = 3
#: What is said of neighbours by what is known of the pair; "open" for a help that hangs on conditions.
_PAIRS = (
    ("good", "go well with {}"),
    ("open", "go well on some conditions with {}"),
    ("mixed", "can help and hinder {}"),
    ("poor", "may not suit {}"),
)


# -- was


def was(question: Question) -> Said:
    """What grew in the bed and in the ground that it took over, the latest first; or when one crop last did."""
    bed, day = question.bed, question.day
    name = bed_name(bed)
    context = Context(question.plan, question.knowledge)
    ground = {p.id: p for p in (*context.grounds[bed.id].plantings, *context.own[bed.id])}
    stood = sorted((p for p in ground.values() if p.start <= day), key=lambda p: (p.end, p.start, p.id), reverse=True)
    if question.named_crop is not None:
        return _last(question, stood)
    if not stood:
        return Said(f"Nothing is on record for {name} up to {as_date(day)}", False)
    times: dict[str, list[str]] = {}
    for p in stood:
        times.setdefault(_grown(p), []).append(_when(p, day))
    told = [f"{crop} {joined(dict.fromkeys(when))}" for crop, when in times.items()]
    missing = _silent_years(stood, day, question)
    lead = f"With no record for {joined(missing)}, {name} had " if missing else f"{capital(name)} had "
    return Said(fitted(told, lead), True)


def _last(question: Question, stood: list[Planting]) -> Said:
    """When the crop, or else its family, last grew in the bed."""
    crop, name = question.crop, bed_name(question.bed)
    wanted = {crop.id, *crop.members}
    same = [p for p in stood if p.crop.id in wanted or crop.id in p.crop.members]
    if same:
        return Said(f"In {name} the last {short(same[0].crop.plural)} grew {_when(same[0], question.day)}", True)
    kin = [p for p in stood if crop.family and p.crop.family == crop.family]
    lead = f"No {short(crop.plural)} {verb([crop], 'is', 'are')} on record in {name}"
    if kin:
        family = family_name(crop.family, question.knowledge)
        return Said(f"{lead}, but {_grown(kin[0])} of the {family} grew there {_when(kin[0], question.day)}", True)
    return Said(lead + ("" if stood else ", nor is anything else"), bool(stood))


def _grown(p: Planting) -> str:
    return "nothing" if p.crop.id == FALLOW else short(p.crop.plural)


def _when(p: Planting, day: date) -> str:
    if p.exact != "year" and p.status != "lost" and p.end >= day:
        return f"since {as_month(p.start)}"
    if p.start.year == p.end.year or p.exact == "year":
        return f"in {p.start.year}"
    return f"from {p.start.year} to {p.end.year}"


def _silent_years(stood: list[Planting], day: date, question: Question) -> list[str]:
    """The growing years between the first row and the day that no row tells of."""
    latitude = question.plan.garden.latitude
    told = {
        year
        for p in stood
        for year in range(growing_year(p.start, latitude), growing_year(min(p.end, day), latitude) + 1)
    }
    silent = [year for year in range(min(told), growing_year(day, latitude)) if year not in told]
    return _years(silent)


def _years(silent: list[int]) -> list[str]:
    few = [str(year) for year in silent[:_MOST_YEARS]]
    return few + ([f"{len(silent) - _MOST_YEARS} more years"] if len(silent) > _MOST_YEARS else [])


# -- free


class _Break(NamedTuple):
    """What is said of a break, and whether it is over on the day; None where it is not known or never will be."""

    said: Said
    over: bool | None


def free(question: Question) -> Said:
    """When the bed is free for the crop or family, by the report's own outlook on the day.

    The outlook tells of breaks alone.  Where ``may`` says otherwise of that very day, another rule speaks against the
    crop, or it would still belong to the season of relatives that stand there, and the sentence says so.
    """
    said, over = _free(question)
    crop = question.named_crop
    if crop is None or over is None:
        return said
    may = Quick(question.plan, question.day, question.knowledge).may(question.bed, crop)
    if may and not over:
        their, go = verb([crop], "its", "their"), verb([crop], "it goes", "they go")
        return Said(clauses(said.say, f", unless {go} in now, in one season with {their} relatives there"), said.ok)
    if over and not may:
        against = f"but another rule speaks against {verb([crop], 'it', 'them')} on {as_date(question.day)}, so ask may"
        return Said(f"{capital(bed_name(question.bed))} has had its break for {short(crop.plural)}, {against}", False)
    return said


def _free(question: Question) -> _Break:
    name = bed_name(question.bed)
    crop, family = question.named_crop, question.family
    if family is None:
        kinds = joined(short(question.knowledge.crops[key].plural) for key in question.crop.members[:3])
        raise Unanswerable(
            f"{capital(question.crop.plural)} can be of several families, name one crop, such as {kinds}."
        )
    require_bed(question, question.bed)
    what = short(crop.plural) if crop is not None else f"the {family_name(family, question.knowledge)}"
    outlook, interval = _outlook(question, family)
    free_from = outlook.free_from.get(family, "open")
    why, until = "", date.min
    for closure in outlook.closed_to:
        if crop is not None and {crop.id, *crop.members}.isdisjoint(closure.crops):
            continue
        seen = question.knowledge.diseases[closure.because].name
        if closure.until is None and (crop is not None or free_from == "never"):
            return _Break(Said(f"Never again, {seen} was seen in {name}, so it is closed to {what}", False), None)
        if closure.until is not None and closure.until > until:
            why, until = f", because {seen} was seen there", closure.until
    if isinstance(free_from, Free) and free_from.better >= until:
        return _from(question, what, free_from, why if free_from.better == until else "")
    if crop is not None and why:
        return _from(question, what, Free(until, until), why)
    return _in_words(question, what, free_from, interval, outlook)


def _from(question: Question, what: str, free_from: Free, why: str) -> _Break:
    """The days after the least and after the better break."""
    name, (least, better) = capital(bed_name(question.bed)), free_from
    over = least <= question.day
    if least.year > LAST_YEAR:
        return _Break(Said(f"{name} is free for {what} only once the host that stands there is cleared", False), over)
    if better.year > LAST_YEAR or least == better:
        when = f"from {as_date(least)}"
    elif over:
        when = f"now at the earliest, better from {as_date(better)}"
    else:
        when = f"from {as_date(least)}, better from {as_date(better)}"
    return _Break(Said(clauses(f"{name} is free for {what} {when}", why), True), over)


def _outlook(question: Question, family: str) -> tuple[BedOutlook, tuple[int, int] | None]:
    """The bed's outlook on the day; a planting of the family, set on the day, makes it tell of that family."""
    plan, day, latitude = question.plan, question.day, question.plan.garden.latitude
    kind = question.named_crop or replace(question.knowledge.crops[FALLOW], id=family, family=family, kind="vegetable")
    end = growing_year_window(growing_year(day, latitude), latitude).end
    asked = with_planting(replace(plan, judge=Window(day, end)), tried(plan, question.bed, kind, day))
    context = Context(asked, question.knowledge)
    found = next(outlook for outlook in outlooks(context) if outlook.bed == question.bed.id)
    return found, context.interval(family)


def _in_words(
    question: Question, what: str, free_from: object, interval: tuple[int, int] | None, outlook: BedOutlook
) -> _Break:
    """An outlook that is no date."""
    name = capital(bed_name(question.bed))
    if interval is None:
        crop = question.named_crop
        needs = "needs" if crop is None or crop.uncounted else "need"
        return _Break(Said(f"{name} is free for {what} now, which {needs} no break", True), True)
    if free_from == "never":
        return _Break(Said(f"{name} is closed to {what} for good by a disease that was seen there", False), None)
    if free_from != "unknown":
        return _Break(Said(f"{name} is free for {what} now, by what is on record", True), True)
    if outlook.known_from is None:
        unknown = f"Nothing is on record for {bed_name(question.bed)}, so it is not known when it is free"
        return _Break(Said(unknown, False), None)
    first = growing_year(question.day, question.plan.garden.latitude)
    silent = [y for y in range(first - interval[1], first) if y < outlook.known_from or y in outlook.years_missing]
    lacking = f"{name} has no record for {joined(_years(silent))}"
    return _Break(Said(f"{lacking}, so it is free for {what} now only if no relative grew there then", False), None)


# -- with


def goes_with(question: Question) -> Said:
    """What the crop goes well with, and what not, of all that stands in the bed or garden in the season."""
    crop = question.crop
    here = f"in {bed_name(question.bed)}" if question.named_bed is not None else "in the garden"
    others = _neighbours(question)
    if not others:
        return Said(
            f"Nothing else stands or is planned {here} this season, so there are no neighbours to speak of", False
        )
    found: dict[str, list[tuple[int, Crop]]] = {}
    for other in others:
        pair = rules.pairs(crop, other, question.knowledge)
        kind: str = pair.verdict
        helps = [s for s in pair.statements if s.behind is None and s.sure and s.points > 0]
        if kind == "good" and all(s.conditions for s in helps):
            kind = "open"
        found.setdefault(kind, []).append((sum(pair.points.values()), other))
    told = [(kind, words) for kind, words in _PAIRS if kind in found]
    if not told:
        names = _few([short(other.plural) for other in others])
        return Said(f"Nothing is known for or against {short(crop.plural)} with {names} {here}", False)
    parts = [words.format(_best(found[kind])) for kind, words in told]
    if crop.uncounted:
        parts = [part.replace("go ", "goes ", 1) if part.startswith("go ") else part for part in parts]
    lead = f"{capital(here)} {short(crop.plural)} {parts[0]}"
    if len(told) > 1 and told[0][0] == "good" and told[1][0] == "open":
        parts[1] = parts[1].partition(" well ")[2]
    links = [", but " if kind == "poor" else ", and " for kind, _ in told]
    rest = (link + part for link, part in zip(links[1:], parts[1:], strict=True))
    return Said(clauses(lead, *rest), told[0][0] in ("good", "open"))


def _best(found: list[tuple[int, Crop]]) -> str:
    ranked = sorted(found, key=lambda one: (-abs(one[0]), one[1].id))
    return _few([short(crop.plural) for _, crop in ranked])


def _few(names: Sequence[str]) -> str:
    """Some names, the rest as a number; never "1 more", which is no shorter than the name."""
    return joined(names if len(names) <= 4 else [*names[:3], f"{len(names) - 3} more"])


def _neighbours(question: Question) -> list[Crop]:
    """The crops that stand or are planned, from the day to the end of its season, each once."""
    plan, day = question.plan, question.day
    latitude = plan.garden.latitude
    end = plan.judge.end if plan.judge.end >= day else growing_year_window(growing_year(day, latitude), latitude).end
    span = Window(day, min(end, day + timedelta(days=365)))
    bed: Bed | None = question.named_bed
    return list(
        {
            p.crop.id: p.crop
            for p in plan.plantings
            if (bed is None or p.bed == bed.id) and p.exact != "year" and p.status in ("planned", "growing")
            if p.crop.id not in (FALLOW, question.crop.id) and span.touches(p.start, p.end)
        }.values()
    )
