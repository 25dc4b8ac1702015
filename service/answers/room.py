"""``may``, ``where`` and ``now``: what can go into the ground, and whether it is the time for it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rules.checks.context import Context
from rules.knowledge.facts import Crop
from rules.model import Bed, Planting
from rules.planning.timing import Season, in_time
from rules.report import Action, Finding
from rules.seasons import LAST_YEAR
from service.answers.question import Question, Said, gone, require_bed
from service.answers.spoken import Reserve, bed_name, clauses, fits, fitted, inside, joined, short, verb, with_reserves
from service.answers.trial import Quick, Trial, full_until
from service.answers.usualtime import is_unusual, time_clauses
from service.words import as_date, as_month, capital

#: Crops named at most as what can go in now.
MOST_CROPS = 4
#: From so many days on a wait is told by its month.
_BY_MONTH = 200


def may(question: Question) -> Said:
    """Whether the crop may go into the bed: no where it brings a breach, else yes, with what speaks against it.

    Yes and no are the verdict of the check alone.  An unusual time is told beside them and turns no yes into a no,
    since it is a rule of thumb that a warm spring or a cloche overrules.
    """
    bed, crop, day = question.bed, question.crop, question.day
    require_bed(question, bed)
    trial = Trial(question.plan, bed, crop, day, question.knowledge)
    if trial.breaches:
        worst = trial.breaches[0]
        reason = f"No, {inside(worst.title, question.plan, question.knowledge)}"
        return Said(clauses(reason, *_way_out(question, trial, worst)), False)
    known = "as far as is known, " if trial.gaps else ""
    lead = f"Yes, {known}{short(crop.plural)} may go in {bed_name(bed)} on {as_date(day)}"
    return Said(with_reserves(lead, list(_reserves(question, trial))), True)


def _reserves(question: Question, trial: Trial) -> Iterator[Reserve]:
    """What a yes leaves open."""
    taken, late = _taken(question, question.bed), time_clauses(question, question.bed)
    if late:
        yield Reserve(2, late)
    if trial.cautions:
        told = inside(trial.cautions[0].title, question.plan, question.knowledge)
        yield Reserve(1, (f", with a caution, {told}", ", with a caution"))
    if trial.gaps:
        yield Reserve(3, (f", {'and' if late else 'but'} {trial.gaps[0]}",))
    if taken and question.crop.id not in {p.crop.id for p in taken[0]}:
        yield Reserve(4, (f", once the {taken[1]} {verb([p.crop for p in taken[0]], 'is', 'are')} cleared",))


def _way_out(question: Question, trial: Trial, worst: Finding) -> Iterator[str]:
    """What the report's own fix does for the planting, and whether another bed would be in time."""
    action = next((a for a in worst.fix.actions if a.planting == trial.planting.id), None)
    if action is None:
        return
    yield _in_words(question, trial, action)
    if action.op == "move" and action.bed is not None:
        yield from time_clauses(question, question.beds[action.bed])[:1]


def _in_words(question: Question, trial: Trial, action: Action) -> str:
    if action.op == "move" and action.bed is not None:
        return f", so choose {bed_name(question.beds[action.bed])} instead"
    if action.op == "swap" and action.with_planting is not None:
        other = next(p for p in trial.after.plantings if p.id == action.with_planting)
        return f", so swap with the {short(other.crop.plural)} in {bed_name(question.beds[other.bed])}"
    if action.op == "shift" and action.start is not None:
        far = (action.start - question.day).days >= _BY_MONTH
        return f", so wait until {as_month(action.start) if far else as_date(action.start)}"
    return ", and no better bed was found" if action.op == "drop" else ""


def where(question: Question) -> Said:
    """The beds in which ``may`` is yes, those with room first."""
    quick = Quick(question.plan, question.day, question.knowledge)
    crop, day = short(question.crop.plural), as_date(question.day)
    beds = [bed for bed in question.plan.beds if gone(question, bed) is None]
    if not beds:
        return Said(f"The plan has no bed on {day}.", False)
    fit = [bed for bed in beds if quick.may(bed, question.crop)]
    room = [bed_name(bed) for bed in fit if not _taken(question, bed)]
    full = [bed_name(bed) for bed in fit if _taken(question, bed)]
    late = [bed for bed in fit if is_unusual(question, bed)]
    times = time_clauses(question, late[0], "here" if late == fit else "outdoors") if late else ("",)
    lead = f"{capital(crop)} may go in "
    if room:
        later = f", and in {joined(full)} once cleared" if full else ""
        return Said(_listed(lead, room, [f" on {day}{more}{time}" for more in (later, "") for time in times]), True)
    if full:
        return Said(_listed(lead, full, [f" on {day} once cleared of what stands there{time}" for time in times]), True)
    every = "the one bed" if len(beds) == 1 else f"each of the {len(beds)} beds"
    return Said(f"Nowhere on {day}, in {every} a rule speaks against {crop}", False)


def _listed(lead: str, names: Sequence[str], tails: Sequence[str]) -> str:
    """Names between a lead and the first of the tails that leaves room for all of them."""
    whole = (f"{lead}{joined(names)}{tail}" for tail in tails)
    return next((said for said in whole if fits(said)), None) or fitted(names, lead, tails[-1])


def now(question: Question) -> Said:
    """Common crops that may go into the bed and are usually set at that time, under glass if the bed is."""
    bed, day = question.bed, question.day
    require_bed(question, bed)
    name = bed_name(bed)
    taken = _taken(question, bed)
    if taken:
        standing, words = taken
        until = full_until(standing)
        stands = verb([p.crop for p in standing], "stands", "stand")
        ends = f" until {as_date(until)}" if until is not None and until.year < LAST_YEAR else ""
        return Said(f"Nothing on {as_date(day)}, {words} {stands} in {name}{ends}", False)
    glass = bed.kind == "greenhouse"
    season = Season(day, question.plan.garden)
    ripe = list(in_time(season, question.knowledge, glass=glass))
    if not ripe:
        under = " under glass" if glass else ""
        return Said(f"{as_date(day)} is not the usual time for any common crop{under}", False)
    fit = _one_a_family(question, ripe)
    if not fit:
        return Said(f"Of the common crops whose usual time is {as_date(day)}, none may go in {name}", False)
    usual = "" if season.frostless else f", the usual time for {verb(fit, 'it', 'them')}"
    unsure = "" if season.frost_known or not usual else " as far as is known without your frost dates"
    first = Context(question.plan, question.knowledge).grounds[bed.id].plantings[:1]
    blank = "" if first and first[0].start < day else ", though nothing is on record for it"
    can = f"{capital(name)} can take {joined(short(crop.plural) for crop in fit)} on {as_date(day)}"
    return Said(clauses(can, usual + unsure, blank), True)


def _one_a_family(question: Question, ripe: Sequence[Crop]) -> list[Crop]:
    """The first few crops that may go into the bed, each of another family."""
    quick = Quick(question.plan, question.day, question.knowledge)
    found: dict[str, Crop] = {}
    for crop in ripe:
        if crop.family not in found and quick.may(question.bed, crop):
            found[crop.family] = crop
            if len(found) == MOST_CROPS:
                break
    return list(found.values())


def _taken(question: Question, bed: Bed) -> tuple[Sequence[Planting], str] | None:
    """What fills a bed on the day, and its names; None where there is room."""
    standing = question.standing(bed)
    if full_until(standing) is None:
        return None
    return standing, joined(dict.fromkeys(short(p.crop.plural) for p in standing))
