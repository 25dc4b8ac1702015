"""Propose what to grow where for some years: families to beds and years first, then crops and dates inside each bed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from rules.knowledge.facts import FALLOW
from rules.knowledge.known import Knowledge
from rules.model import Dislike, Plan, Wish, Wishes
from rules.planning.propose.alternatives import alternatives
from rules.planning.propose.counting import Count, counted
from rules.planning.propose.counting import beds as in_beds
from rules.planning.propose.explaining import Asked, Explaining, placed
from rules.planning.propose.groups import named
from rules.planning.propose.improve import Clock
from rules.planning.propose.judging import Judge, horizon, joined
from rules.planning.propose.plots import PARTS, sizes
from rules.planning.propose.proposal import Placed, Proposal, Relaxation, Unplaced
from rules.planning.propose.question import Question
from rules.planning.propose.search import Outcome, Search

__all__ = ["Dislike", "Placed", "Proposal", "Relaxation", "Unplaced", "Wish", "Wishes", "propose"]

MOST_YEARS, MOST_ALTERNATIVES = 12, 3
#: Shares of the time: for what would help, for each alternative; the rest is the proposal's own.
_HELP, _EACH = 0.15, 0.15
#: Seconds of a search that has no time left after the question was modelled: enough for a hurried answer.
_INSTANT = 1e-3
_TOO_SHORT = (
    "The time was up before the search began, so this is the quick answer; allow more seconds for a better one."
)


def propose(
    wishes: Wishes,
    plan: Plan,
    knowledge: Knowledge,
    *,
    seconds: float = 10.0,
    report_progress: Callable[[Proposal], None] | None = None,
    clock: Callable[[], float] | None = None,
) -> Proposal:
    """Propose a plan for the years that are wished for.

    Parameters
    ----------
    plan
        Beds, what stood and stands in them, sightings, and what is planned: it stays and counts towards the wishes.
        Its judged window is not looked at.
    seconds
        For all of it, about; the solver can overrun them, so guard it from outside.  0 = the quick answer alone.
    report_progress
        Is handed each better proposal on the way: whole, laid and checked, but without what would help.
    clock
        Tells seconds, since nothing here looks at a clock; without one only the solver's own seconds count.

    Returns
    -------
    Proposal
        Never a breach by what it placed; what is wrong with what was there already is in its report and told in a note.

    Raises
    ------
    ValueError
        for a wish for fallow or for crops of several families, years out of range, or fixed plantings whose ids or beds
        do not fit the plan.
    """
    _possible(wishes, plan)
    spending = Clock(clock)
    wishes, notes = named(wishes, plan, knowledge)
    base = replace(plan, judge=horizon(wishes, plan.garden.latitude), judged_season=None)
    asked = Asked(wishes, base, knowledge, notes)
    question = asked.question()
    modelled = spending.spent
    counts = counted(question)
    judge = Judge(question.context.plan, knowledge)
    search = Search(question, counts, judge, clock=spending)

    def tell(outcome: Outcome) -> None:
        if report_progress is not None:
            report_progress(_proposal(asked, question, counts, outcome, spending, 0.0))

    share = 1.0 - _HELP - min(wishes.alternatives, MOST_ALTERNATIVES) * _EACH
    outcome = search.run(max(seconds * share - spending.spent, _INSTANT if seconds else 0.0), tell)
    # What would help is asked as further questions, and each takes as long to model as this one.
    help_ = seconds * _HELP if modelled < seconds * _HELP else 0.0
    best = _proposal(asked, question, counts, outcome, spending, help_)
    if seconds and outcome.stopped == "quick":
        best = replace(best, notes=(*best.notes, _TOO_SHORT))
    if not wishes.alternatives:
        return best
    many = min(wishes.alternatives, MOST_ALTERNATIVES)
    found = alternatives(question, outcome, search, many, seconds * _EACH)
    others = tuple(_proposal(asked, question, counts, other, spending, 0.0) for other in found)
    if len(others) < wishes.alternatives:
        told = "no other plan" if not others else f"only {len(others)} other plan{'s' if len(others) > 1 else ''}"
        best = replace(
            best, notes=(*best.notes, f"In the time given {told} was found that differs and places as much.")
        )
    return replace(best, alternatives=others)


def _possible(wishes: Wishes, plan: Plan) -> None:
    if not 1 <= wishes.years <= MOST_YEARS:
        raise ValueError(f"a proposal is for 1 to {MOST_YEARS} years")
    known, bed_ids = {p.id for p in plan.plantings}, {bed.id for bed in plan.beds}
    for p in (*wishes.fixed, *wishes.keep):
        if p.id in known:
            raise ValueError(f"the planting id {p.id!r} stands twice")
        if p.bed not in bed_ids:
            raise ValueError(f"no bed has the id {p.bed!r}")
        known.add(p.id)
    for wish in wishes.wants:
        if wish.crop.kind == FALLOW or (wish.crop.members and not wish.crop.family):
            raise ValueError(f"{wish.crop.name!r} is no crop to plan; name one")


def _proposal(
    asked: Asked, question: Question, counts: list[Count], outcome: Outcome, clock: Clock, seconds: float
) -> Proposal:
    wishes, worth = asked.wishes, question.instance.worth
    own = (*wishes.fixed, *wishes.keep)
    explaining = Explaining(asked, question, counts, outcome, clock, seconds)
    ours = {p.id for p in outcome.plantings}
    faults = [f for f in outcome.report.findings if f.severity == "breach" and ours.isdisjoint(f.plantings)]
    notes = [*asked.notes, *_sizes(question)]
    if faults:
        many = f"{len(faults)} breaches" if len(faults) > 1 else "1 breach"
        notes.append(f"{many} of what was there or fixed already: they stay in the report.")
    return Proposal(
        tuple(sorted((*own, *outcome.plantings), key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))),
        joined(question.context.plan, outcome.plantings),
        outcome.report,
        placed(question, outcome.laid, explaining.names),
        explaining.unplaced(),
        worth - outcome.cost,
        worth - outcome.bound,
        outcome.stopped,
        tuple(count.text for count in counts if any(question.instance.demands[n].choices for n in count.demands)),
        tuple(notes),
    )


def _sizes(question: Question) -> list[str]:
    """A note where beds differ in size, since amounts are in middling ones."""
    beds = {plot.bed.id: plot.bed for plot in question.plots}
    counted_as: dict[int, list[str]] = {}
    for name, size in sizes(question.context.beds.values()).items():
        if name in beds and (parts := round(size * PARTS)) != PARTS:
            counted_as.setdefault(parts, []).append(beds[name].name)
    told = "; ".join(f"{', '.join(names)} as {in_beds(parts)}" for parts, names in sorted(counted_as.items()))
    return [f"Amounts are in beds of middling size; by their size count {told}."] if told else []
