"""What comes back when a line was written down: the line in a sentence, and the gravest fault that it brings about."""

from __future__ import annotations

from rules import check
from rules.model import Plan, Planting
from rules.report import Finding
from service.answers.spoken import MOST
from service.answers.trial import judged_on
from service.journalrows import states, typed_line
from service.mapping import garden_plan
from service.phonefinding import STARTS
from service.phonesaying import Teller
from service.record import Record
from service.schemas.entry import MADE
from service.speech import sentence, speakable
from service.store.journal import Line
from service.store.projection import State

#: Words after which a rule may be broken that was not before.
_JUDGED = frozenset({"treated", "harvested", "manured", "sighting", "covered"})
#: What is told first, and what has no place when a crop begins: sprays come later.
_FIRST, _LATER = ("rotation.", "disease."), "protect.picked-too-early"
_READ_LABEL = "No days before harvest were given, read your label"
#: Characters that a warning needs at least to say anything.
_WORTH = 30
#: Words after which there is more to tell than the line itself.
_CHANGES = STARTS | _JUDGED | {"lost"}


def told_back(record: Record, entry: Line, before: Plan) -> str:
    """What is said of a line that was just written; ``before`` is the plan as it stood without it."""
    line = typed_line(entry)
    if entry.did not in _CHANGES and MADE not in line:  # what is told stood there before
        return spoken("Logged", Teller(before, record.knowledge, record.today).told(line))
    contents = record.contents()
    plan = garden_plan(contents, record.knowledge, as_of=record.today)
    told = Teller(plan, record.knowledge, record.today).told(line)
    row = next((p for p in plan.plantings if p.id == entry.planting), None)
    if entry.did == "lost":
        left = states(contents.plantings, contents.journal, contents.garden.latitude)[str(entry.planting)]
        return spoken("Logged", told + (_left(left) if "count" in line else ""))
    return spoken("Logged", told, _warning(record, entry, row, before, plan))


def _left(state: State) -> str:
    if state.status == "lost":
        return ", none left"
    return f", {state.count} left" if state.count is not None else ", how many are left is not on record"


def _warning(record: Record, entry: Line, row: Planting | None, before: Plan, plan: Plan) -> str:
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


def _breaches(record: Record, plan: Plan, entry: Line, row: Planting | None) -> list[Finding]:
    found = check(judged_on(plan, entry.date), record.knowledge).findings
    about = [one for one in found if one.severity == "breach" and one.in_window]
    return [one for one in about if (row.id in one.plantings if row else entry.bed in one.beds)]


def spoken(lead: str, told: str, warning: str = "") -> str:
    """ "Logged: 12 cabbages planted in Kiln bed today. Note: ...", in under 200 characters."""
    said = f"{lead}: {speakable(told)}."
    room = MOST - len(said) - len(" Note: ")
    return f"{said} Note: {sentence(warning, room)}" if warning and room > _WORTH else said
