"""A stored garden as a page of plain text: what stands where, what comes next, and its journal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rules.knowledge.facts import FALLOW
from service.counted import Stage, plants
from service.journalrows import typed_line
from service.phonesaying import Teller
from service.speech import speakable
from service.tables import columns
from service.words import as_date, as_season, capital, tame

if TYPE_CHECKING:
    from rules.model import Bed, Plan, Planting
    from service.recordstore import Opened
    from service.store.tables import Entry

#: Lines of the journal that end the page of a garden.
LAST_LINES = 5


def garden_text(opened: Opened, bed: str | None, *, width: int) -> str:
    """What stands in each bed (or one) on the plan's day, what comes next there, and the last lines."""
    plan, name = opened.plan, tame(opened.plan.garden.name)
    lines = [name, "-" * len(name), f"On {as_date(plan.as_of)}", ""]
    for one in plan.beds:
        if bed in (None, one.id) and (bed or one.end is None or one.end >= plan.as_of):
            lines += _bed_lines(one, plan, width)
    told = list(_journal_rows(opened, bed))
    lines += ["", "Last lines of the journal" if told else "Nothing is logged yet."]
    lines += _wrapped(told[-LAST_LINES:], width)
    return "\n".join(lines) + "\n"


def journal_text(opened: Opened, bed: str | None, *, last: int | None, width: int) -> str:
    """The journal (of a bed), oldest first."""
    rows = list(_journal_rows(opened, bed))
    return "\n".join(_wrapped(rows[-last:] if last else rows, width) or ["Nothing is logged yet."]) + "\n"


def _bed_lines(bed: Bed, plan: Plan, width: int) -> list[str]:
    day = plan.as_of
    rows = [p for p in plan.plantings if p.bed == bed.id and p.crop.id != FALLOW and p.status != "lost"]
    stand = [p for p in rows if p.start <= day <= p.end and p.exact != "year" and p.status != "done"]
    later = sorted((p for p in rows if p.start > day and p.status == "planned"), key=lambda p: (p.start, p.id))
    said = [_standing(p) for p in stand] or ["nothing stands"]
    if later:
        said.append(f"next {_crop(later[0], 'sown' if later[0].method == 'sow' else 'planted')}, {_when(later[0])}")
    text = f"{tame(bed.name)}: {'; '.join(said)}"
    return textwrap.wrap(text, width, subsequent_indent="  ", break_on_hyphens=False)


def _standing(p: Planting) -> str:
    since = f"since {as_date(p.start)}" if p.exact == "day" else f"in {as_season(p.season or '')}"
    return f"{_crop(p)}, {since}" if p.status == "growing" else f"{_crop(p)}, planned {since}, not logged yet"


def _crop(p: Planting, stage: Stage = "stands") -> str:
    return tame(plants(p.crop, p.plants, stage))


def _when(p: Planting) -> str:
    return f"from {as_date(p.start)}" if p.exact == "day" else as_season(p.season or "")


def _journal_rows(opened: Opened, bed: str | None) -> Iterator[tuple[str, str, str]]:
    """Number, day and sentence of each line; lines that were taken back say so, those that take back are left out."""
    journal: Sequence[Entry] = opened.contents.journal
    teller = Teller(opened.plan, opened.knowledge, opened.plan.as_of)
    undone = {entry.corrects for entry in journal if entry.corrects is not None}
    for entry in journal:
        if entry.corrects is not None or bed not in (None, entry.bed):
            continue
        said = capital(speakable(teller.what(typed_line(entry))))
        said += f": {' '.join(tame(entry.note).split())}" if entry.note else ""
        yield str(entry.id), entry.date.isoformat(), said + (" (taken back)" if entry.id in undone else "")


def _wrapped(rows: Sequence[tuple[str, str, str]], width: int) -> list[str]:
    """The rows in columns, sentences in lines that fit the page."""
    if not rows:
        return []
    room = max(20, width - len(rows[-1][0]) - len(rows[-1][1]) - 4)
    return columns(("No", "Day", "What"), [(number, day, textwrap.fill(said, room)) for number, day, said in rows])
