"""``may``, ``where`` and ``now``: what can go into the ground."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rules.checks.context import Context
from rules.model import Bed, Planting
from rules.planning.timing import Season, in_time
from rules.report import Action, Finding
from rules.seasons import LAST_YEAR
from service.answers.question import Question, Said, gone, require_bed
from service.answers.spoken import bed_name, clauses, fitted, inside, joined, short, verb
from service.answers.trial import Quick, Trial, full_until
from service.words import as_date, as_month, capital

#: Crops named at most as what can go in now.
MOST_CROPS = 4
#: From so many days on a wait is told by its month.
_BY_MONTH = 200


def may(question: Question) -> Said:
    """Whether the crop may go into the bed: no where it brings a breach, else yes, with what speaks against it."""
    bed, crop, day = question.bed, question.crop, question.day
    require_bed(question, bed)
    trial = Trial(question.plan, bed, crop, day, question.knowledge)
    name = bed_name(bed)
    if trial.breaches:
        worst = trial.breaches[0]
        reason = f"No, {inside(worst.title, question.plan, question.knowledge)}"
        return Said(clauses(reason, _way_out(question, trial, worst)), False)
    lead = f"Yes, {short(crop.plural)} may go in {name} on {as_date(day)}"
    return Said(clauses(lead, *_reserves(question, trial)), True)


def _reserves(question: Question, trial: Trial) -> Iterator[str]:
    """What a yes leaves open, the weightiest first."""
    taken = _taken(question, question.bed)
    if trial.gaps:
        yield f", as far as is known, for {trial.gaps[0]}"
    if trial.cautions:
        yield f", with a caution, {inside(trial.cautions[0].title, question.plan, question.knowledge)}"
    if taken and question.crop.id not in {p.crop.id for p in taken[0]}:
        yield f", once the {taken[1]} {verb([p.crop for p in taken[0]], 'is', 'are')} cleared"


def _way_out(question: Question, trial: Trial, worst: Finding) -> str:
    """What the report's own fix does for the planting."""
    action = next((a for a in worst.fix.actions if a.planting == trial.planting.id), None)
    if action is None:
        return ""
    return _in_words(question, trial, action)


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
    later = f", and in {joined(full)} once cleared" if full else ""
    if room:
        return Said(clauses(fitted(room, f"{capital(crop)} may go in ", f" on {day}"), later), True)
    if full:
        return Said(
            fitted(full, f"{capital(crop)} may go in ", f", but only once cleared of what stands on {day}"), True
        )
    every = "the one bed" if len(beds) == 1 else f"each of the {len(beds)} beds"
    return Said(f"Nowhere on {day}, in {every} a rule speaks against {crop}", False)


def now(question: Question) -> Said:
    """Common crops that may go into the bed and whose time it is."""
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
    season = Season(day, question.plan.garden)
    ripe = [crop for crop in in_time(season, question.knowledge) if crop.id in question.knowledge.crops]
    quick = Quick(question.plan, day, question.knowledge)
    fit: list[str] = []
    families: set[str] = set()
    for crop in ripe:
        if crop.family not in families and quick.may(bed, crop):
            fit.append(short(crop.plural))
            families.add(crop.family)
            if len(fit) == MOST_CROPS:
                break
    if fit:
        first = Context(question.plan, question.knowledge).grounds[bed.id].plantings[:1]
        blank = "" if first and first[0].start < day else ", though nothing is on record for it"
        unsure = "" if season.frost_known else ", by the usual months since your frost dates are not on record"
        return Said(clauses(f"{capital(name)} can take {joined(fit)} on {as_date(day)}", blank, unsure), True)
    if not ripe:
        return Said(f"It is not the time for any common crop on {as_date(day)}", False)
    return Said(f"Of the common crops whose time it is on {as_date(day)}, none may go in {name}", False)


def _taken(question: Question, bed: Bed) -> tuple[Sequence[Planting], str] | None:
    """What fills a bed on the day, and its names; None where there is room."""
    standing = question.standing(bed)
    if full_until(standing) is None:
        return None
    return standing, joined(dict.fromkeys(short(p.crop.plural) for p in standing))
