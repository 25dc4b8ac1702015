"""A proposal as a page: how good it is, the beds and their years, what found no place, what the check says."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from service.proposing.bedtable import bed_table, day_table
from service.proposing.compare import differences, told
from service.proposing.shortfall import wanted
from service.text import VERDICTS, WIDTH, Page
from service.words import capital, tally

if TYPE_CHECKING:
    from rules.planning.propose import Proposal
    from service.proposing.question import Question

_READ_THEM = "To read them, let breakcrop check read the plan that --format yaml writes."
#: Gaps in the record that are told; of more, their number is.
_GAPS = 3
#: A gap that is none: what rounding leaves.
_NOTHING = 0.00005


def proposal_text(question: Question, proposal: Proposal, *, width: int = WIDTH, colour: bool = False) -> str:
    """The proposal as plain text of at most ``width`` (40 to 80) columns."""
    page = Page(width, colour)
    horizon = question.wishes.horizon
    span = str(horizon[0]) if len(horizon) == 1 else f"{horizon[0]} to {horizon[-1]}"
    page.head(f"{question.plan.garden.name}: proposal for {span}")
    page.say(VERDICTS[proposal.report.verdict], "Verdict:  ")
    page.say(search_words(proposal), "Search:   ")
    for note in (*question.notes, *proposal.notes):
        page.say(capital(note), "Note:     ")
    bed_table(page, proposal, horizon)
    day_table(page, proposal, horizon[0])
    wanted(page, proposal, horizon)
    _findings(page, proposal)
    _alternatives(page, proposal, question)
    return "\n".join(page.lines) + "\n"


def search_words(proposal: Proposal) -> str:
    """How good the proposal is known to be."""
    if proposal.stopped == "optimal" and proposal.gap < _NOTHING:
        return "proven best for what goes into which bed in which year."
    left = f"at most {_percent(proposal.gap)} percent better is possible"
    how = {
        "optimal": "as good as proven",
        "time": "stopped by time",
        "quick": "the quick answer, not searched further",
    }[proposal.stopped]
    return f"{how}; {left}."


def _percent(gap: float) -> str:
    """A share as percent, rounded up, as it is a promise.

    >>> _percent(0.0138), _percent(0.00001), _percent(0.25)
    ('1.4', '0.1', '25')
    """
    tenths = -int(-gap * 1000 // 1)
    return f"{max(tenths, 1) / 10:g}"


def _findings(page: Page, proposal: Proposal) -> None:
    """What is wrong, once for each thing to do about it; of the rest only the number."""
    report = proposal.report
    page.head("What the check says")
    now = [one for one in report.findings if one.in_window]
    grave = [one for one in now if one.severity in ("breach", "caution")]
    starts = {planting.id: planting.start.year for planting in proposal.plan.plantings}
    faults: defaultdict[tuple[str, str], defaultdict[str, set[int]]] = defaultdict(lambda: defaultdict(set))
    for one in grave:
        faults[one.severity, one.fix.text][one.title].add(max(starts[name] for name in one.plantings))
    for (severity, fix), titles in faults.items():
        page.say(f"{capital(severity)}:", hang=0)
        for title, years in titles.items():
            page.say(f"{title} ({', '.join(map(str, sorted(years)))}).", "- ")
        page.say(fix, indent=2, hang=0)
    rest = [one for one in now if one not in grave]
    if rest:
        head = "The rest: " if grave else "Nothing against it: "
        page.say(f"{tally(rest)}. {_READ_THEM}", head, how="head")
    elif not grave:
        page.say("Nothing to tell.", hang=0)
    gaps = list(dict.fromkeys(one.why for one in report.not_checked))
    if gaps:
        more = f", and {len(gaps) - _GAPS} gaps more" if len(gaps) > _GAPS else ""
        page.say(f"{'; '.join(gaps[:_GAPS])}{more}.", "Not on record: ", how="head")


def _alternatives(page: Page, proposal: Proposal, question: Question) -> None:
    if not proposal.alternatives:
        return
    page.head("Other plans that would do")
    for number, other in enumerate(proposal.alternatives, 1):
        loss = (proposal.value - other.value) / proposal.value if proposal.value > 0 else 0.0
        worth = "as good" if loss < _NOTHING else f"{_percent(loss)} percent less good"
        moves = differences(proposal, other, question.wishes.horizon)
        page.say(f"{worth}; {told(moves, question.plan)}", f"{number}. ")
