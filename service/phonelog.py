"""Logging from a phone: one flat line of everyday words, written down and told back in one sentence.

Beds and crops go by the names that people use.  The planting is found from bed, crop and day, and made where
one begins that was not planned.  What happened is never refused because a rule speaks against it; the
sentence then says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, NamedTuple

from rules.knowledge.facts import Crop
from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from rules.model import WHOLE, Bed, Plan, Planting
from rules.reading import PlanFaults
from service.answers.question import NameFinder, Question, gone
from service.answers.spoken import bed_name, say, short
from service.exporting import plain
from service.journalrows import states, together, typed_line
from service.lines import IN_A_BED
from service.mapping import garden_plan
from service.phoneclearing import told_gone, whole_bed
from service.phonefinding import STARTS, Asked, Unclear, find
from service.phonereply import spoken, told_back
from service.phonesaying import Teller
from service.phonevalues import day_said
from service.phonewords import Fault, Words, read_words
from service.reading import PlanError, PlanRejected, pointer
from service.record import Record, line_row
from service.schemas.entry import JOINED, MADE
from service.store.journal import Line
from service.store.projection import LIFE
from service.store.repository import Contents
from service.words import as_date

_METHODS = {"sown": "sow", "resown": "sow", "transplanted": "transplant"}


class Noted(NamedTuple):
    """The lines that were written down, the planting that they are about if of one, and a sentence to be spoken."""

    entries: tuple[Line, ...]
    planting: str | None
    say: str
    ok: bool = True

    @property
    def entry(self) -> Line:
        """The first line."""
        return self.entries[0]

    def row(self) -> dict[str, Any]:
        """What was noted as it is told, in plain values."""
        lines = [plain(line_row(entry)) for entry in self.entries]
        return {"say": self.say, "ok": self.ok, "line": lines[0], "lines": lines, "planting": self.planting}


def note(record: Record, flat: Any) -> Noted:
    """Write down what a flat line says, in the transaction of the record.

    Parameters
    ----------
    record
        Of the garden, in an open transaction: what is raised must end it.
    flat
        ``did``, and as it fits bed, crop, count, date, note and the other keys of a line, all of them text or
        of their own type.

    Raises
    ------
    PlanRejected
        where the line cannot be written down: each detail is a sentence that can be spoken.
    Conflict, NotFound
        where there is nothing to take back.
    """
    record.hold()  # the next writer sees what this one did
    words, faults = read_words(flat, record.today)
    contents = record.contents()
    plan = _plan(record, contents)
    bed, crop = _places(words, plan, contents, record, faults)
    _refuse(faults)
    if words.line["did"] == "undo":
        return _undone(record, words, plan, bed, crop)
    if words.line["did"] == "cleared" and bed is not None and crop is None and words.planting is None:
        return _cleared(record, words, contents, plan, bed)
    entry = _logged(record, _line(record, words, contents, plan, bed, crop))
    return Noted((entry,), entry.planting, told_back(record, entry, plan))


def _logged(record: Record, line: dict[str, Any]) -> Line:
    try:
        return record.log(line)
    except PlanRejected as rejected:
        raise _spoken((error.pointer, error.detail) for error in rejected.errors) from None


def _cleared(record: Record, words: Words, contents: Contents, plan: Plan, bed: Bed) -> Noted:
    """A whole bed, a line for each planting that goes."""
    try:
        gone, left = whole_bed(_asked(words, contents, plan, bed, None))
    except Unclear as fault:
        raise _spoken([(fault.key, str(fault))]) from None
    line = {**words.line, "bed": bed.id}
    entries = [_logged(record, {**line, "planting": p.id, **({JOINED: True} if n else {})}) for n, p in enumerate(gone)]
    day = Teller(plan, record.knowledge, record.today).day(line["date"])
    said = told_gone([p.crop.plural for p in gone], bed_name(bed), day)
    return Noted(tuple(entries), gone[0].id if len(gone) == 1 else None, spoken("Logged", said, left))


# -- what was said


def _plan(record: Record, contents: Contents) -> Plan:
    try:
        return garden_plan(contents, record.knowledge, as_of=record.today)
    except PlanFaults:
        raise _spoken([("", "This garden has no beds yet, add one first")]) from None


def _places(
    words: Words, plan: Plan, contents: Contents, record: Record, faults: list[Fault]
) -> tuple[Bed | None, Crop | None]:
    """The bed and crop that were named; what is wrong with the names joins the faults."""
    found = NameFinder(plan, record.knowledge)
    day = words.line["date"]
    if words.bed is not None:
        found.bed(words.bed)
        faults += [("bed", fault) for fault in found.faults]
        found.faults.clear()
        if found.found_bed is not None:
            why = gone(Question(plan, record.knowledge, day, None, None, None), found.found_bed)
            faults += [("bed", why)] if why else []
    if words.crop is not None:
        found.found_crop = _own(words.crop, contents)
        if found.found_crop is None:
            found.crop(words.crop, family=False)
        faults += [("crop", fault) for fault in found.faults]
    return found.found_bed, found.found_crop


def _own(word: str, contents: Contents) -> Crop | None:
    """A crop of the grower's own that nothing was planted of yet."""
    planted = {normal(p.crop) for p in contents.plantings}
    for own in contents.crops:
        names = {normal(own.id), normal(own.name or own.id)}
        if normal(word) in names and names.isdisjoint(planted):
            name = own.name or own.id
            return Crop(own.id, name, name, own.family, "own", lifecycle=own.lifecycle or "annual")
    return None


def _line(
    record: Record, words: Words, contents: Contents, plan: Plan, bed: Bed | None, crop: Crop | None
) -> dict[str, Any]:
    """The line for the journal, its planting found or made."""
    line = dict(words.line)
    if words.planting is not None:
        named = _named(plan, words.planting, record.today, bed, crop)
        return {**line, "bed": named.bed, "planting": named.id}
    if line["did"] not in LIFE and crop is None:  # it speaks of the bed, or of the garden
        if bed is None and line["did"] in IN_A_BED:
            raise _spoken([("bed", "Name the bed where that was")])
        return {**line, "bed": bed.id} if bed is not None else line
    asked = _asked(words, contents, plan, bed, crop)
    try:
        meant = find(asked)
    except Unclear as fault:
        raise _spoken([(fault.key, str(fault))]) from None
    if meant is not None and crop is None and line["did"] == "cleared" and meant.crop.perennial:
        raise _spoken([("crop", "Name the crop that was cleared, what stays for years goes by its name only")])
    if meant is not None:
        _named_in_full(record, words, meant)
        return {**line, "bed": meant.bed, "planting": meant.id}
    assert bed is not None  # without a bed and a crop it could not tell that one begins
    assert crop is not None
    line["bed"] = bed.id
    method = "volunteer" if words.by_itself else _METHODS[line["did"]]
    return {**line, "planting": _made(record, words, bed, crop, method), MADE: True}


def _asked(words: Words, contents: Contents, plan: Plan, bed: Bed | None, crop: Crop | None) -> Asked:
    known = states(contents.plantings, contents.journal, contents.garden.latitude)
    said, logged = words.line, {name: lines[0].date for name, lines in contents.journal.lives.items()}
    return Asked(plan, said["did"], said["date"], bed, crop, known, logged, words.by_itself, words.variety, words.part)


def _named_in_full(record: Record, words: Words, meant: Planting) -> None:
    """A variety or part that was said of what begins completes a plan that names none."""
    if words.line["did"] not in STARTS:
        return
    typed: dict[str, Any] = {}
    if words.variety is not None and (meant.variety is None or meant.variety.name is None):
        typed["variety"] = {"name": words.variety}
    if words.part is not None and meant.part == WHOLE:
        typed["part"] = words.part
    if not typed:
        return
    try:
        record.change_planting(meant.id, typed)
    except PlanRejected as rejected:
        raise _spoken((error.pointer, error.detail) for error in rejected.errors) from None


def _named(plan: Plan, word: str, today: date, bed: Bed | None, crop: Crop | None) -> Planting:
    """The planting of an id, or of the day it began, which bed and crop must fit where they are named too."""
    found = next((p for p in plan.plantings if p.id == word), None)
    if found is None:
        began = day_said(word, today)
        wanted = {crop.id, *crop.members} if crop is not None else None
        rows = [p for p in plan.plantings if p.start.isoformat() == began and (bed is None or p.bed == bed.id)]
        rows = [p for p in rows if wanted is None or p.crop.id in wanted]
        if len(rows) > 1:
            raise _spoken([("planting", f"{len(rows)} plantings began on {as_date(rows[0].start)}, name bed and crop")])
        found = rows[0] if rows else None
    if found is None:
        close = nearest(word, [p.id for p in plan.plantings], 1)
        hint = f", the nearest is {close[0]}" if close else ""
        raise _spoken([("planting", f"No planting has the id {short(word)}{hint}")])
    if bed is not None and bed.id != found.bed:
        where = next(bed_name(one) for one in plan.beds if one.id == found.bed)
        raise _spoken([("bed", f"Planting {short(word)} stands in {where}, not in {bed_name(bed)}")])
    if crop is not None and found.crop.id not in (crop.id, *crop.members):
        raise _spoken([("crop", f"Planting {short(word)} is of {short(found.crop.plural)}")])
    return found


def _made(record: Record, words: Words, bed: Bed, crop: Crop, method: str) -> str:
    typed = {"bed": bed.id, "crop": crop.id, "start": words.line["date"], "method": method}
    if "count" in words.line:
        typed["count"] = words.line["count"]
    if words.variety is not None:
        typed["variety"] = {"name": words.variety}
    if words.part is not None:
        typed["part"] = words.part
    try:
        return record.add_planting(typed).id
    except PlanRejected as rejected:
        raise _spoken((error.pointer, error.detail) for error in rejected.errors) from None


# -- what is told back


def _undone(record: Record, words: Words, plan: Plan, bed: Bed | None, crop: Crop | None) -> Noted:
    about = {p.id for p in plan.plantings if p.crop.id in (crop.id, *crop.members)} if crop is not None else None
    journal = record.contents().journal
    entry = record.undo(words.line.get("corrects"), bed=bed.id if bed else None, plantings=about)
    assert entry.corrects is not None
    teller = Teller(plan, record.knowledge, record.today)
    taken = [line for line in together(journal, entry.corrects) if about is None or line.planting in about]
    if "corrects" in words.line or len(taken) < 2:  # a line by its number is that line alone
        line = typed_line(record.repository.line(record.garden_id, entry.corrects))
        return Noted((entry,), entry.planting, spoken("Taken back", teller.told(line)))
    more = (record.undo(line.id) for line in taken if line.id != entry.corrects)
    lines = [typed_line(line) for line in taken]
    crops = [name for line in lines if (name := teller.crop(line))]
    said = told_gone(crops, teller.where(lines[0]), teller.day(lines[0]["date"]))
    return Noted((entry, *more), None, spoken("Taken back", said))


# -- what is refused


def _refuse(faults: Iterable[Fault]) -> None:
    told = list(faults)
    if told:
        raise _spoken(told)


def _spoken(faults: Iterable[Fault]) -> PlanRejected:
    """Faults by key or pointer, each as a sentence that can be spoken."""
    errors = [
        PlanError(key if key.startswith("/") or not key else pointer((key,)), say(detail)) for key, detail in faults
    ]
    return PlanRejected(errors, len(errors))
