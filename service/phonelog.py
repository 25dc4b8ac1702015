"""Logging from a phone: one flat line of everyday words, written down and told back in one sentence.

Beds and crops go by the names that people use.  The planting is found from bed, crop and day, and made where
one begins that was not planned.  What happened is never refused because a rule speaks against it; the
sentence then says so.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, NamedTuple

from rules import check
from rules.knowledge.facts import Crop
from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from rules.model import Bed, Plan, Planting
from rules.reading import PlanFaults
from rules.report import Finding
from service.answers.question import NameFinder, Question, gone
from service.answers.spoken import MOST, bed_name, say, short
from service.answers.trial import judged_on
from service.journalrows import states, typed_line
from service.lines import IN_A_BED
from service.mapping import garden_plan
from service.phonefinding import STARTS, Asked, Unclear, find
from service.phonesaying import Teller
from service.phonevalues import day_said
from service.phonewords import Fault, Words, read_words
from service.reading import PlanError, PlanRejected, pointer
from service.record import Record
from service.schemas.entry import MADE
from service.speech import sentence, speakable
from service.store.projection import LIFE, State
from service.store.repository import Contents
from service.store.tables import Entry
from service.words import as_date

#: Words after which a rule may be broken that was not before.
_JUDGED = frozenset({"treated", "harvested", "manured", "sighting", "covered"})
#: What is told first, and what has no place when a crop begins: sprays come later.
_FIRST, _LATER = ("rotation.", "disease."), "protect.picked-too-early"
_READ_LABEL = "No days before harvest were given, read your label"
#: Characters that a warning needs at least to say anything.
_WORTH = 30
#: Words after which there is more to tell than the line itself.
_CHANGES = STARTS | _JUDGED | {"lost"}
_METHODS = {"sown": "sow", "resown": "sow", "transplanted": "transplant"}


class Noted(NamedTuple):
    """The line that was written down, the id of the planting it is about, and a sentence to be spoken."""

    entry: Entry
    planting: str | None
    say: str
    ok: bool = True


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
    line = _line(record, words, contents, plan, bed, crop)
    try:
        entry = record.log(line)
    except PlanRejected as rejected:
        raise _spoken((error.pointer, error.detail) for error in rejected.errors) from None
    return Noted(entry, entry.planting, _said(record, entry, plan))


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
    known = states(contents.plantings, contents.journal, contents.garden.latitude)
    logged = contents.journal.lives.keys()
    asked = Asked(plan, line["did"], line["date"], bed, crop, known, logged, words.by_itself)
    try:
        meant = find(asked)
    except Unclear as fault:
        raise _spoken([(fault.key, str(fault))]) from None
    if meant is not None:
        return {**line, "bed": meant.bed, "planting": meant.id}
    assert bed is not None  # without a bed and a crop it could not tell that one begins
    assert crop is not None
    line["bed"] = bed.id
    method = "volunteer" if words.by_itself else _METHODS[line["did"]]
    return {**line, "planting": _made(record, line, crop, method), MADE: True}


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


def _made(record: Record, line: dict[str, Any], crop: Crop, method: str) -> str:
    typed = {"bed": line["bed"], "crop": crop.id, "start": line["date"], "method": method}
    if "count" in line:
        typed["count"] = line["count"]
    try:
        return record.add_planting(typed).id
    except PlanRejected as rejected:
        raise _spoken((error.pointer, error.detail) for error in rejected.errors) from None


# -- what is told back


def _undone(record: Record, words: Words, plan: Plan, bed: Bed | None, crop: Crop | None) -> Noted:
    about = {p.id for p in plan.plantings if p.crop.id in (crop.id, *crop.members)} if crop is not None else None
    entry = record.undo(words.line.get("corrects"), bed=bed.id if bed else None, plantings=about)
    assert entry.corrects is not None
    line = typed_line(record.repository.line(record.garden_id, entry.corrects))
    told = Teller(plan, record.knowledge, record.today).told(line)
    return Noted(entry, entry.planting, _sentence("Taken back", told))


def _said(record: Record, entry: Entry, before: Plan) -> str:
    line = typed_line(entry)
    if entry.did not in _CHANGES and MADE not in line:  # what is told stood there before
        return _sentence("Logged", Teller(before, record.knowledge, record.today).told(line))
    contents = record.contents()
    plan = _plan(record, contents)
    told = Teller(plan, record.knowledge, record.today).told(line)
    row = next((p for p in plan.plantings if p.id == entry.planting), None)
    if entry.did == "lost":
        left = states(contents.plantings, contents.journal, contents.garden.latitude)[str(entry.planting)]
        return _sentence("Logged", told + (_left(left) if "count" in line else ""))
    return _sentence("Logged", told, _warning(record, entry, row, before, plan))


def _left(state: State) -> str:
    if state.status == "lost":
        return ", none left"
    return f", {state.count} left" if state.count is not None else ", how many are left is not on record"


def _warning(record: Record, entry: Entry, row: Planting | None, before: Plan, plan: Plan) -> str:
    """What the check holds against the line's planting once it stands, or what only this line brought about."""
    breaches = _breaches(record, plan, entry, row)
    if entry.did in STARTS or MADE in (entry.detail or {}):
        breaches = [finding for finding in breaches if finding.rule != _LATER]
    elif breaches:
        known = {finding.title for finding in _breaches(record, before, entry, row)}
        breaches = [finding for finding in breaches if finding.title not in known]
    if breaches:
        return min(breaches, key=lambda finding: not finding.rule.startswith(_FIRST)).title
    return _READ_LABEL if entry.did == "treated" and "harvest_interval" not in (entry.detail or {}) else ""


def _breaches(record: Record, plan: Plan, entry: Entry, row: Planting | None) -> list[Finding]:
    found = check(judged_on(plan, entry.date), record.knowledge).findings
    about = [one for one in found if one.severity == "breach" and one.in_window]
    return [one for one in about if (row.id in one.plantings if row else entry.bed in one.beds)]


def _sentence(lead: str, told: str, warning: str = "") -> str:
    """ "Logged: 12 cabbages planted in Kiln bed today. Note: ...", in under 200 characters."""
    said = f"{lead}: {speakable(told)}."
    room = MOST - len(said) - len(" Note: ")
    return f"{said} Note: {sentence(warning, room)}" if warning and room > _WORTH else said


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
