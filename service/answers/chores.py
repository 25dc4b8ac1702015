"""``due``, ``pick`` and ``cover``: what is to be done, and when it may be."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from rules.checks.amended import amendments
from rules.checks.context import Context
from rules.checks.manure_wait import RAW_MANURE, is_eaten, wait_days
from rules.model import Planting, Window
from rules.planning.protection import protect
from rules.planning.tasks import Task, tasks
from rules.reading.plantings import days_to_harvest
from service.answers.question import Question, Said
from service.answers.spoken import bed_name, clauses, fitted, inside, joined, short, short_day, verb
from service.words import as_date, capital

_WEEK = timedelta(days=6)
#: In which order the tasks of one day are told.
_ORDER = ("plant", "cover-on", "cover-open", "cover-off", "pick", "wait-over", "renew", "clear", "look", "look-under")
#: How far ahead the end of a cover is looked for.
_YEAR = timedelta(days=365)


# -- due


def due(question: Question) -> Said:
    """The tasks of the week from the day on, those of one day before those that come again every week."""
    window = Window(question.day, question.day + _WEEK)
    found = []
    for task in tasks(question.plan, window, question.knowledge):
        day = _day_in(task, window)
        if day is not None:
            found.append((day, task))
    found.sort(key=lambda one: (one[1].every is not None, one[0], _ORDER.index(one[1].kind), one[1].key))
    if not found:
        return Said(f"Nothing is due from {short_day(window.start)} to {as_date(window.end)}", True)
    told = [_title(question, task, day) for day, task in found]
    return Said(fitted(list(dict.fromkeys(told)), "Due this week, "), True)


def _day_in(task: Task, window: Window) -> date | None:
    """The first day of a task in a window; None where a repeated one skips it."""
    day = task.day
    if task.every is not None and day < window.start:
        day += timedelta(days=-(-(window.start - day).days // task.every) * task.every)
    return day if window.start <= day <= min(window.end, task.until or day) else None


def _title(question: Question, task: Task, day: date) -> str:
    """A task as it stands in a list, with its day; what to look for is in the calendar."""
    text = task.title.partition(":")[0] if task.kind == "look" else task.title
    text = inside(text, question.plan, question.knowledge)
    until_now = text.removesuffix(" from today")
    return f"{text} on {short_day(day)}" if until_now == text else f"{until_now} from {short_day(day)}"


# -- pick


def may_pick(question: Question) -> Said:
    """Whether anything on record forbids picking the bed on the day: a label's days, or raw manure."""
    bed, day = question.bed, question.day
    name = bed_name(bed)
    crop = question.named_crop
    wanted = None if crop is None else {crop.id, *crop.members}
    standing = [p for p in question.standing(bed) if is_eaten(p.crop)]
    standing = [p for p in standing if wanted is None or p.crop.id in wanted or (crop and crop.id in p.crop.members)]
    if not standing:
        what = (
            "Nothing to pick stands" if crop is None else f"No {short(crop.plural)} {verb([crop], 'stands', 'stand')}"
        )
        return Said(f"{what} in {name} on {as_date(day)}, by what is on record", False)
    waits = [*_label_waits(question, standing), *_manure_waits(question, standing)]
    endless = next((why for until, why in waits if until is None), None)
    if endless is not None:
        return Said(f"No, {endless}", False)
    if waits:
        until, why = max(waits, key=lambda wait: wait[0] or day)
        assert until is not None
        return Said(f"No, not before {as_date(until)}, because {why}", False)
    crops = list({p.crop.id: p.crop for p in standing}.values())
    names = joined(short(one.plural) for one in crops)
    ready = min(_ready(question, p) or day for p in standing)
    unripe = f", though they should not be ready before {as_date(ready)}" if ready > day else ""
    return Said(clauses(f"Yes, nothing on record forbids picking the {names} in {name}", unripe), True)


def _label_waits(question: Question, standing: list[Planting]) -> Iterator[tuple[date | None, str]]:
    """The first day to pick after each treatment whose label's days are not over, and why."""
    names = {p.id for p in standing}
    for wait in protect(question.plan, Window(question.day, question.day), question.knowledge).waits:
        if wait.treatment.bed != question.bed.id or names.isdisjoint(p.id for p in wait.plantings):
            continue
        done = f"it was treated with {short(wait.treatment.active)} on {as_date(wait.treatment.date)}"
        if wait.until is None:
            yield None, f"{done} and the days on the label are not on record, so read your label first"
        elif wait.until > question.day:
            days = wait.treatment.harvest_interval
            yield wait.until, f"{done} and the label asks for {days} {'day' if days == 1 else 'days'}"


def _manure_waits(question: Question, standing: list[Planting]) -> Iterator[tuple[date | None, str]]:
    """The first safe day after raw manure that the crops were given, by the longest wait of the rules."""
    context = Context(question.plan, question.knowledge)
    spread = [a.date for a in context.once(amendments).get(question.bed.id, ()) if a.kind == RAW_MANURE]
    for rule in question.knowledge.by_kind.get("manure-wait", ()):
        for p in standing:
            days = wait_days(rule, p.crop)
            for given in spread:
                safe = given + timedelta(days=days)
                if given <= question.day < safe and p.end > given and p.start < safe:
                    wait = f"{short(p.crop.plural)} {verb([p.crop], 'waits', 'wait')} {days} days"
                    yield safe, f"raw manure was given on {as_date(given)} and {wait}"


def _ready(question: Question, p: Planting) -> date | None:
    """The first day of picking, as written down or by the crop's least days."""
    if p.first_harvest is not None or p.exact != "day":
        return p.first_harvest
    days = days_to_harvest(p.crop, p.start, question.plan.garden)
    return p.start + timedelta(days=days.least) if days else None


# -- cover


def cover_off(question: Question) -> Said:
    """When the covers of the bed are opened and come off, by the tasks of the year from the day on."""
    bed, day = question.bed, question.day
    name = bed_name(bed)
    found = tasks(question.plan, Window(day, day + _YEAR), question.knowledge)
    off = [task for task in found if task.kind == "cover-off" and task.key.startswith(f"off/{bed.id}/")]
    opened = {task.key.partition("/")[2]: task.day for task in found if task.kind == "cover-open"}
    told = []
    for task in off:
        earlier = opened.get(task.key.partition("/")[2])
        text = f"{inside(task.title, question.plan, question.knowledge)} on {as_date(task.day)}"
        by_day = earlier is not None and earlier >= day
        told.append(f"{text} after opening it by day from {short_day(earlier)} on" if earlier and by_day else text)
    if told:
        return Said(capital(fitted(told, "")), True)
    covers = [cover for cover in question.plan.covers if cover.bed == bed.id]
    later = [cover for cover in covers if cover.end is None or cover.end >= day]
    if later:
        return Said(f"The {later[0].kind} over {name} has no last day on record", False)
    if covers:
        last = max(covers, key=lambda cover: (cover.end or day, cover.kind))
        return Said(f"No cover is on {name} now, the last {last.kind} came off on {as_date(last.end or day)}", True)
    return Said(f"No cover is on record for {name}", False)
