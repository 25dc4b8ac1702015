"""One garden in, one line out: the report of the ordinary check, or everything that is wrong with it.

A pure function of the garden's rows and of what all gardens of the batch share, so that it gives the
same line in a worker process, in a job's chunk and inside a request.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

import rules
from rules.checks.footprints import box, footprint
from service.batch.documents import Sheet, as_in_a_sheet, bed_id, seen_in, shared_with
from service.batch.gardens import GardenText, Item, key_of
from service.encode import report_dict
from service.reading import MOST_ERRORS, PlanRejected, Unreadable, parse, plan_of
from service.schemas.words import LONGEST_NAME, clean
from service.words import as_list

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan
    from rules.report import Severity

Line = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Shared:
    """What all gardens of a batch share.

    ``site`` is a document of ``service.schemas.site.SiteSchema`` that was found good; ``sightings`` are
    rows by ``key_of`` their garden's name; ``today`` stands where a plan has no ``as_of``.
    """

    today: date
    season: str | None = None
    site: Mapping[str, Any] | None = None
    sightings: Mapping[str, Sequence[Mapping[str, Any]]] = field(default_factory=dict)
    severity: Severity = "benefit"

    @property
    def as_of(self) -> str:
        """The day (YYYY-MM-DD) of all gardens that name none."""
        return str((self.site or {}).get("as_of") or self.today.isoformat())

    def pack(self) -> dict[str, Any]:
        """Plain values that JSON can hold."""
        return {**asdict(self), "today": self.today.isoformat()}

    @classmethod
    def unpack(cls, values: Mapping[str, Any]) -> Shared:
        """What ``pack`` made plain."""
        return replace(cls(**values), today=date.fromisoformat(values["today"]))


def judge_garden(item: Item, shared: Shared, knowledge: Knowledge | None = None) -> Line:
    """The line of one garden: ``type`` "report" or "error"; bad input never raises."""
    knowledge = knowledge or rules.load_knowledge()
    try:
        return _judged(item, shared, knowledge)
    except Exception as error:  # one garden that brings us down may not take the others with it
        detail = f"breakcrop failed on this garden ({type(error).__name__}); this is a fault of the program, report it"
        name = None if isinstance(item, GardenText) else item.name
        return error_line(item.line, name, [{"line": item.line, "detail": detail}])


class Read(NamedTuple):
    """A garden as the plan document that it stands for, and the sheet that it came from, if it did."""

    item: Item
    name: str | None
    sheet: Sheet | None
    document: Any


def document_of(item: Item, shared: Shared) -> Read:
    """The plan document of a garden; ``Unreadable`` for a line that holds none."""
    if isinstance(item, GardenText):
        document = parse(_body(item), "json")[0]
        name = _name_of(document)
        document = _with_sightings(document, shared.sightings.get(key_of(name or ""), ()))
        return Read(item, name, None, shared_with(document, shared.site))
    sheet = Sheet(item, shared.site, shared.sightings.get(key_of(item.name), ()))
    return Read(item, item.name, sheet, sheet.document)


def plan_read(read: Read, shared: Shared, knowledge: Knowledge) -> Plan:
    """The plan of a garden; ``PlanRejected`` where ``refused_line`` has anything to say."""
    plan = plan_of(read.document, today=lambda _zone: shared.today, season=shared.season, knowledge=knowledge)
    if read.sheet is not None and read.sheet.faults:
        raise PlanRejected([], 0)
    return plan


def _judged(item: Item, shared: Shared, knowledge: Knowledge) -> Line:
    try:
        read = document_of(item, shared)
    except Unreadable as error:
        return error_line(item.line, None, [{"line": item.line, "detail": error.detail}])
    try:
        plan = plan_read(read, shared, knowledge)
    except PlanRejected as rejected:
        return refused_line(read, rejected)
    report = rules.check(plan, knowledge).at_least(shared.severity)
    return {
        "type": "report",
        "line": item.line,
        "garden": plan.garden.name,
        "site": plan.garden.site,
        "extent": _extent(plan),
        "diseases": _diseases(plan, knowledge),
        "report": report_dict(report),
    }


def error_line(line: int, garden: str | None, errors: list[dict[str, Any]], total: int | None = None) -> Line:
    """The line of a garden that could not be judged."""
    name = garden and garden[:LONGEST_NAME]  # a longer one is among what is wrong
    return {"type": "error", "line": line, "garden": name, "errors": errors, "total": total or len(errors)}


def refused_line(read: Read, rejected: PlanRejected) -> Line:
    """Every fault by its cell, in the order of the sheet; by its pointer where a plan was sent."""
    item, name, sheet, _ = read
    if sheet is None:
        told = [{"line": item.line, "pointer": one.pointer, "detail": one.detail} for one in rejected.errors]
        return error_line(item.line, name, told, rejected.total)
    errors = [
        {"line": line, "column": column, "detail": detail} if column else {"line": line, "detail": detail}
        for line, column, detail in sheet.faults
    ]
    total = len(errors)
    if sheet.plantings or not errors:  # where no row could be read, that there is none says nothing
        errors += [{**sheet.place(_path(one.pointer)), "detail": as_in_a_sheet(one.detail)} for one in rejected.errors]
        total += rejected.total
    errors.sort(key=lambda one: ("sheet" in one, one["line"]))
    return error_line(item.line, name or None, errors[:MOST_ERRORS], total)


def _path(pointer: str) -> list[str | int]:
    steps = pointer.split("/")[1:]
    return [int(step) if step.isdecimal() else step for step in steps]


def _body(item: GardenText) -> bytes:
    if item.text is None:
        raise Unreadable("the line is larger than 4 MB, the most that one plan may have")
    return item.text.encode("utf-8", "surrogateescape")


def _name_of(document: Any) -> str | None:
    garden = document.get("garden") if isinstance(document, dict) else None
    name = garden.get("name") if isinstance(garden, dict) else None
    return clean(name) if isinstance(name, str) and name.strip() else None


def _with_sightings(document: Any, seen: Sequence[Mapping[str, Any]]) -> Any:
    """A plan document with what another sheet says was seen in it."""
    if not seen or not isinstance(document, dict) or not isinstance(document.get("sightings"), list | None):
        return document
    rows = [seen_in(row) for row in seen]
    for row in rows:
        row["bed"] = bed_id(str(row.get("bed", "")))
    return {**document, "sightings": [*(document.get("sightings") or ()), *rows]}


def _extent(plan: Plan) -> list[float] | None:
    """Left, low, right and high of all beds whose place is known, in metres; None where none is."""
    boxes = [box(corners) for bed in plan.beds if (corners := footprint(bed))]
    boxes += [(*bed.position, *bed.position) for bed in plan.beds if bed.position and not footprint(bed)]
    if not boxes:
        return None
    left, low, right, high = zip(*boxes, strict=True)
    return [min(left), min(low), max(right), max(high)]


def _diseases(plan: Plan, knowledge: Knowledge) -> list[dict[str, Any]]:
    """Each disease that was seen or took a crop: its beds by id, where that is in words, and its last day."""
    seen = [(one.of, one.bed, one.date) for one in plan.sightings if one.of in knowledge.diseases]
    seen += [(p.cause, p.bed, p.end) for p in plan.plantings if p.cause and p.cause in knowledge.diseases]
    found: dict[str, tuple[dict[str, str], date]] = {}
    names = {bed.id: bed.name for bed in plan.beds}
    for of, bed, day in sorted(seen):
        beds, last = found.setdefault(of, ({}, day))
        beds[bed] = names[bed]
        found[of] = beds, max(last, day)
    return [
        {"of": of, "beds": list(beds), "where": as_list(beds.values()), "last": last.isoformat()}
        for of, (beds, last) in found.items()
    ]
