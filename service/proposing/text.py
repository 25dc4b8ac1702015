"""A proposal as a page: the beds and their years, what found no place and why, how good it is."""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from rules.model import WHOLE, Planting
from rules.seasons import LAST_YEAR, growing_year_window, year_reader
from service.proposing.compare import differences, told
from service.tables import blocks, columns
from service.text import VERDICTS, WIDTH, Page
from service.words import MONTHS, as_list, capital, tally, tame

if TYPE_CHECKING:
    from rules.planning.propose import Proposal
    from service.proposing.question import Question

#: Columns for the name of a bed, and the least for a year.
_BED, _YEAR = 14, 13
#: Columns for the days of a planting, and the gaps.
_DAYS = 23
_EMPTY = "-"
#: Shares of a bed that have a word or a short sign.
_SIGNS = {1: "1/4", 2: "1/2", 3: "3/4", 4: ""}
_QUARTERS = {1: "a quarter of a bed", 2: "half a bed", 3: "three quarters of a bed", 4: "a bed"}
#: Marks what the plan had before.
_OWN = "*"
_READ_THEM = "To read them, let breakcrop check read the plan that --format yaml writes."
_LEGEND = {_OWN: f"{_OWN} planned already", "(": "( ) still there from the year before"}
#: What stands so long into a growing year takes its bed's room in it.
_STILL = timedelta(days=60)
#: Gaps in the record that are told; of more, their number is.
_GAPS = 3


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
    _table(page, proposal, question)
    _days(page, proposal, horizon[0])
    _missing(page, proposal)
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


#: A gap that is none: what rounding leaves.
_NOTHING = 0.00005


def _percent(gap: float) -> str:
    """A share as percent, rounded up, as it is a promise.

    >>> _percent(0.0138), _percent(0.00001), _percent(0.25)
    ('1.4', '0.1', '25')
    """
    tenths = -int(-gap * 1000 // 1)
    return f"{max(tenths, 1) / 10:g}"


# -- beds and years


def _table(page: Page, proposal: Proposal, question: Question) -> None:
    horizon = question.wishes.horizon
    page.head("Beds and years")
    plan = proposal.plan
    cells = _cells(proposal, horizon)
    room = max(_YEAR, (page.width - _BED) // min(len(horizon), 4) - 2)
    beds = [bed for bed in plan.beds if bed.end is None or bed.end >= plan.judge.start]
    rows = [
        [_folded(tame(bed.name), _BED), *(_cell(cells.get((bed.id, year), ()), room) for year in horizon)]
        for bed in beds
    ]
    for block in blocks(["Bed", *map(str, horizon)], _parted(rows), width=page.width, keep=1):
        page.lines += [*block, ""]
    marks = "".join(cell for row in rows for cell in row[1:])
    legend = [said for mark, said in _LEGEND.items() if mark in marks]
    if legend:
        page.say("; ".join(legend), hang=0)
    else:
        page.lines.pop()


def _parted(rows: list[list[str]]) -> list[list[str]]:
    """Rows with a blank line after each, where some take several, so that beds stay apart on paper."""
    if all("\n" not in cell for row in rows for cell in row):
        return rows
    return [[row[0] + "\n" * (_height(row) - row[0].count("\n")), *row[1:]] for row in rows[:-1]] + rows[-1:]


def _height(row: Sequence[str]) -> int:
    return max(cell.count("\n") + 1 for cell in row)


def _cells(proposal: Proposal, horizon: range) -> dict[tuple[str, int], list[str]]:
    """What is set in each bed and year, and in brackets what still stands there from the year before."""
    plan, added = proposal.plan, {planting.id for planting in proposal.plantings}
    latitude = plan.garden.latitude
    year_of = year_reader(latitude)
    shares: defaultdict[tuple[str, int], dict[tuple[bool, date, str], float]] = defaultdict(dict)
    for p in plan.plantings:
        for year in range(max(year_of(p.start), horizon[0]), min(year_of(p.end), horizon[-1]) + 1):
            stands = p.start < (began := growing_year_window(year, latitude).start)
            if not stands or p.end - began >= _STILL:
                own = "" if stands or p.id in added else _OWN
                key = (not stands, p.start, f"{p.crop.plural}{own}")
                cell = shares[p.bed, year]
                cell[key] = cell.get(key, 0) + p.part[1] - p.part[0]
    return {
        place: [_told(_sign(share) + crop, new) for (new, _, crop), share in sorted(cell.items())]
        for place, cell in shares.items()
    }


def _told(crop: str, new: bool) -> str:
    return crop if new else f"({crop})"


def _cell(lines: Iterable[str], room: int) -> str:
    return "\n".join(_folded(line, room) for line in lines) or _EMPTY


def _sign(share: float) -> str:
    quarters = round(share * 4)
    sign = _SIGNS[quarters] if abs(share * 4 - quarters) < 0.01 and quarters in _SIGNS else f"{share:.0%}"
    return f"{sign} " if sign else ""


def _folded(text: str, room: int) -> str:
    return "\n".join(textwrap.wrap(text, room, subsequent_indent=" ", break_on_hyphens=False))


# -- the first year


def _days(page: Page, proposal: Proposal, year: int) -> None:
    """What goes in on which day of the first year."""
    year_of = year_reader(proposal.plan.garden.latitude)
    names = {bed.id: bed.name for bed in proposal.plan.beds}
    first = sorted((p for p in proposal.plantings if year_of(p.start) == year), key=lambda p: (p.start, p.bed, p.part))
    if not first:
        return
    page.head(f"What goes in in {year}")
    room = (page.width - _DAYS) // 2
    rows = [
        (_day(p.start), _folded(tame(p.crop.plural), room), _folded(_where(p, names), room), _out(p)) for p in first
    ]
    page.lines += columns(("Day", "Crop", "Bed", "Out by"), rows)


def _where(planting: Planting, names: Mapping[str, str]) -> str:
    bed = tame(names[planting.bed])
    return bed if planting.part == WHOLE else f"{bed}, {_sign(planting.part[1] - planting.part[0]).strip()}"


def _day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def _out(planting: Planting) -> str:
    if planting.end.year >= LAST_YEAR:
        return "stays"
    return f"{_day(planting.end)} {planting.end.year}"


# -- what found no place


def _missing(page: Page, proposal: Proposal) -> None:
    page.head("What was wanted")
    short: defaultdict[tuple[str, float, str, str], list[int]] = defaultdict(list)
    for one in proposal.unplaced:
        helps = one.relaxation.text if one.relaxation else ""
        short[one.wish.crop.plural, one.amount, one.reason, helps].append(one.year)
    missing = {one.wish.crop.plural for one in proposal.unplaced}
    full = sorted({one.wish.crop.plural for one in proposal.placed} - missing, key=str.casefold)
    if full:
        page.say(f"{as_list(full)}.", "Placed as wanted: ", how="head")
    for text in proposal.counting:
        page.say(text, "By counting: ", how="head")
    for (crop, amount, reason, helps), years in short.items():
        helped = f" What would help: {_closed(helps)}" if helps else ""
        page.say(
            f"{beds_words(amount)} in {as_list(map(str, years))} found no place. {_closed(capital(reason))}{helped}",
            f"{capital(crop)}: ",
            how="head",
        )


def beds_words(amount: float) -> str:
    """ "half a bed", "2 beds", "1.75 beds"."""
    return _QUARTERS.get(round(amount * 4)) or f"{amount:g} beds"


def _closed(text: str) -> str:
    return text if text.endswith((".", "?")) else f"{text}."


def _findings(page: Page, proposal: Proposal) -> None:
    report = proposal.report
    page.head("What the check says")
    now = [one for one in report.findings if one.in_window]
    grave = [one for one in now if one.severity in ("breach", "caution")]
    for one in grave:
        page.say(f"{one.title}. {one.fix.text}", f"{capital(one.severity)}: ", how=one.severity)
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
