"""What is to be done on which day: a plan's sowings, covers, looks, picking, as a list of tasks."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, TypeVar

from rules.checks.context import Context, sentence
from rules.checks.cover_faults import first_flower
from rules.checks.coverage import covers_of
from rules.knowledge.known import Knowledge
from rules.model import Cover, Plan, Planting, Treatment, Window
from rules.planning.care import MIDDLING, CropCare
from rules.planning.protection import FLOWER_DAYS, protect
from rules.seasons import LAST_YEAR

Kind = Literal[
    "plant", "cover-on", "cover-open", "cover-off", "look", "look-under", "pick", "wait-over", "renew", "clear"
]
#: Days between two looks: weekly is common practice.
LOOK_DAYS = 7
#: The first weeks, in which a crop is most at risk (judgement).
_LOOK_WEEKS = 8
#: After so many days a treatment is looked at again (judgement; its own entry says when it is renewed).
_RENEW_DAYS = 7
_Row = TypeVar("_Row", bound=Hashable)
#: Words of a journal by the kind of task that they settle.
_LOGGED = {"cover-on": "covered", "cover-off": "uncovered", "pick": "harvested"}
_DONE = {"sow": "Sow", "transplant": "Plant out", "set": "Set"}


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do, on ``day`` or every ``every`` days from then to ``until``.

    ``key`` is the same for the same task as long as the planting keeps its id.
    """

    key: str
    kind: Kind
    day: date
    title: str
    note: str = ""
    every: int | None = None
    until: date | None = None


def tasks(plan: Plan, window: Window, knowledge: Knowledge) -> list[Task]:
    """The tasks that fall into a window of days, by day; a repeated one where any of its days does."""
    context = Context(plan, knowledge)
    found = [*_plantings(context), *_covers(context), *_looks(plan, window, knowledge), *_treatments(context)]
    kept = [task for task in found if window.touches(task.day, task.until or task.day) and not _is_done(plan, task)]
    return sorted(kept, key=lambda task: (task.day, task.kind, task.key))


def _is_done(plan: Plan, task: Task) -> bool:
    """True for a task of the plan's own day that the record says was done."""
    did = _LOGGED.get(task.kind)
    return did is not None and task.day == plan.as_of and (did, task.key.split("/")[1]) in plan.done


def _live(context: Context) -> Iterator[Planting]:
    for p in context.plan.plantings:
        if p.status in ("planned", "growing") and p.crop.kind != "fallow" and p.exact != "year":
            yield p


def _plantings(context: Context) -> Iterator[Task]:
    for p in _live(context):
        bed = context.bed_name(p.bed)
        if p.status == "planned":
            about = "" if p.exact == "day" else "The day is the first of the season that the plan names."
            done = _DONE.get(p.method or "", "Plant")
            yield Task(f"plant/{p.id}", "plant", p.start, f"{done} {p.crop.plural} in {bed}", about)
        harvest = p.first_harvest
        if harvest is None and p.crop.maturity is not None and not p.crop.perennial:
            harvest = p.start + timedelta(days=p.crop.maturity.least)
        if harvest is not None and harvest <= p.end and p.crop.kind not in ("green_manure", "flower"):
            note = "" if p.first_harvest else "Worked out from the crop's least days to harvest: look before you pick."
            yield Task(f"pick/{p.id}", "pick", harvest, f"Pick {p.crop.plural} in {bed} from today", note)
        if not p.assumed_end and p.end.year <= LAST_YEAR and not p.crop.perennial:
            yield Task(f"clear/{p.id}", "clear", p.end, f"Clear {p.crop.plural} from {bed}")


def _covers(context: Context) -> Iterator[Task]:
    told: set[Cover] = set()
    plantings = context.plantings
    twins = _numbered(context.plan.covers, lambda cover: (cover.bed, cover.start, cover.kind))
    for name, covers in context.once(covers_of).items():
        planting = plantings[name]
        for cover in covers:
            if cover in told or planting.status not in ("planned", "growing"):
                continue
            told.add(cover)
            bed, key = context.bed_name(cover.bed), f"{cover.bed}/{cover.start.isoformat()}/{cover.kind}/{twins[cover]}"
            over = f"{planting.crop.plural} in {bed}"
            yield Task(f"on/{key}", "cover-on", cover.start, f"Put the {cover.kind} over the {over}", "Shut the edges.")
            opened = cover.open_by_day_from
            needs = planting.crop.traits.pollination == "insect" and not (
                planting.variety is not None and planting.variety.parthenocarpic
            )
            if opened is None and needs:
                opened = first_flower(planting, FLOWER_DAYS)
            if opened is not None and (cover.end is None or opened < cover.end):
                note = "Insects must reach the flowers; shut it again at night." if needs else ""
                yield Task(f"open/{key}", "cover-open", opened, f"Open the {cover.kind} by day: {over}", note)
            end = cover.end or planting.end
            if end.year <= LAST_YEAR:
                yield Task(f"off/{key}", "cover-off", end, f"Take the {cover.kind} off the {over}")
                yield Task(
                    f"under/{key}",
                    "look-under",
                    cover.start + timedelta(days=LOOK_DAYS),
                    f"Look under the {cover.kind} in {bed}",
                    "What got in multiplies there, for its enemies are shut out. Free any animal that is caught.",
                    LOOK_DAYS,
                    end,
                )


def _numbered(rows: Iterable[_Row], alike: Callable[[_Row], Hashable]) -> dict[_Row, int]:
    """The number of each row among those that are alike, so that no row elsewhere changes it."""
    seen: dict[Hashable, int] = {}
    numbers: dict[_Row, int] = {}
    for row in dict.fromkeys(rows):
        numbers[row] = seen[alike(row)] = seen.get(alike(row), -1) + 1
    return numbers


def _looks(plan: Plan, window: Window, knowledge: Knowledge) -> Iterator[Task]:
    for care in protect(plan, window, knowledge).crops:
        pests = [one.pest.name for one in care.expected if one.risk >= MIDDLING]
        if pests:
            yield _look(care, pests)


def _look(care: CropCare, pests: list[str]) -> Task:
    first = min(care.plantings, key=lambda p: (p.start, p.id))
    start = first.start + timedelta(days=LOOK_DAYS)
    until = min(max(p.end for p in care.plantings), first.start + timedelta(weeks=_LOOK_WEEKS))
    return Task(
        f"look/{first.id}",
        "look",
        start,
        f"Look over the {care.crop.plural}: {', '.join(pests)}",
        "Name the pest before you act.",
        LOOK_DAYS,
        max(start, until),
    )


def _over(done: Treatment) -> date | None:
    """The day on which the label's wait is over; None where its days are not known."""
    return None if done.harvest_interval is None else done.date + timedelta(days=done.harvest_interval)


def _same_ground(done: Treatment, other: Treatment) -> bool:
    """True for a treatment of all that an earlier one was of."""
    return done.bed == other.bed and other.planting in (None, done.planting)


def _treatments(context: Context) -> Iterator[Task]:
    order = sorted(context.plan.treatments, key=lambda t: (t.date, t.bed, t.active, t.planting or ""))
    twins = _numbered(order, lambda done: (done.bed, done.date))
    for done in twins:
        later = [other for other in order if other.date > done.date and _same_ground(done, other)]
        key, bed = f"{done.bed}/{done.date.isoformat()}/{twins[done]}", context.bed_name(done.bed)
        again = done.date + timedelta(days=_RENEW_DAYS)
        if not any(other.active == done.active and other.date <= again for other in later):
            yield Task(
                f"renew/{key}",
                "renew",
                again,
                f"See whether {done.active} in {bed} needs renewing",
                "Only while the pest is there, and as its label says.",
            )
        over = _over(done)
        if over is not None and not any(other.date <= over < (_over(other) or date.max) for other in later):
            yield Task(
                f"wait/{key}",
                "wait-over",
                over,
                sentence(f"{done.active} in {bed}: the label's days before picking are over"),
            )
