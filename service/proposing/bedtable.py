"""The beds and their years as a table that can be printed, and the days of the first year."""

from __future__ import annotations

import textwrap
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from rules.model import WHOLE, Planting
from rules.seasons import LAST_YEAR, growing_year_window, year_reader
from service.tables import GAP, columns
from service.words import MONTHS, tame

if TYPE_CHECKING:
    from rules.planning.propose import Proposal
    from service.text import Page

#: The most columns for the name of a bed, the least and the most for a year, and what a day's line takes beside names.
_BED, _YEAR, _WIDEST, _DAYS = 14, 13, 26, 23
_EMPTY = "-"
#: Shares of a bed are told as twelfths or what these make together, else as percent.
_PARTS, _NEAR = 12, 0.0005
#: Marks what the plan had before.
_OWN = "*"
_LEGEND = {_OWN: f"{_OWN} planned already", "(": "( ) still there from the year before"}
#: What stands so long into a growing year takes its bed's room in it.
_STILL = timedelta(days=60)


def bed_table(page: Page, proposal: Proposal, horizon: range) -> None:
    """Beds by years: what is set in each, as many years beside each other as the page has room for."""
    page.head("Beds and years")
    plan = proposal.plan
    cells = _cells(proposal, horizon)
    beds = [bed for bed in plan.beds if bed.end is None or bed.end >= plan.judge.start]
    beside = max(1, (page.width - _BED) // (_YEAR + len(GAP)))
    room = min(_WIDEST, (page.width - _BED) // min(beside, len(horizon)) - len(GAP))
    for at in range(0, len(horizon), beside):
        years = horizon[at : at + beside]
        rows = [
            (_folded(tame(bed.name), _BED), *(_cell(cells.get((bed.id, year), ()), room) for year in years))
            for bed in beds
        ]
        page.lines += [*columns(("Bed", *map(str, years)), _parted(rows)), ""]
    marks = "".join(line for lines in cells.values() for line in lines)
    legend = [said for mark, said in _LEGEND.items() if mark in marks]
    if legend:
        page.say("; ".join(legend), hang=0)
    else:
        page.lines.pop()


def day_table(page: Page, proposal: Proposal, year: int) -> None:
    """What goes in on which day of a year."""
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


def _parted(rows: Sequence[tuple[str, ...]]) -> Sequence[tuple[str, ...]]:
    """Rows with a blank line after each, where some take several, so that beds stay apart on paper."""
    if all("\n" not in cell for row in rows for cell in row):
        return rows
    return [(row[0] + "\n" * (_height(row) - row[0].count("\n")), *row[1:]) for row in rows[:-1]] + [*rows[-1:]]


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
        place: [_told(_sign(share) + tame(crop), new) for (new, _, crop), share in sorted(cell.items())]
        for place, cell in shares.items()
    }


def _told(crop: str, new: bool) -> str:
    return crop if new else f"({crop})"


def _cell(lines: Iterable[str], room: int) -> str:
    return "\n".join(_folded(line, room) for line in lines) or _EMPTY


def _sign(share: float) -> str:
    """A share of a bed before a crop's name; nothing for all of it.

    >>> [_sign(share) for share in (1.0, 0.25, 0.0833, 0.3)]
    ['', '1/4 ', '1/12 ', '30% ']
    """
    part = Fraction(share).limit_denominator(_PARTS)
    if part == 1:
        return ""
    even = _PARTS % part.denominator == 0 and abs(part - share) < _NEAR
    return f"{part} " if even else f"{share:.0%} "


def _folded(text: str, room: int) -> str:
    return "\n".join(textwrap.wrap(text, room, subsequent_indent=" ", break_on_hyphens=False))


def _where(planting: Planting, names: Mapping[str, str]) -> str:
    bed = tame(names[planting.bed])
    return bed if planting.part == WHOLE else f"{bed}, {_sign(planting.part[1] - planting.part[0]).strip()}"


def _day(day: date) -> str:
    return f"{day.day} {MONTHS[day.month - 1][:3]}"


def _out(planting: Planting) -> str:
    return "stays" if planting.end.year >= LAST_YEAR else f"{_day(planting.end)} {planting.end.year}"
