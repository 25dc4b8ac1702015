"""What all gardens of a batch share: read and found good before the first garden is judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from marshmallow import ValidationError

from service.reading import MOST_ERRORS, Kind, PlanError, PlanRejected, flat, parse, plan_of, pointer
from service.schemas.site import SiteSchema

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

Where = Callable[[str], tuple[int, int] | None]


def read_site(body: bytes, kind: Kind, knowledge: Knowledge) -> dict[str, Any]:
    """The site document in some bytes.

    Raises
    ------
    service.reading.Unreadable
        when the bytes are no document.
    service.reading.PlanRejected
        with every fault, each by its place.
    """
    document, where = parse(body, kind)
    return good_site(document, knowledge, where)


def good_site(document: Any, knowledge: Knowledge, where: Where | None = None) -> dict[str, Any]:
    """A site document without empty and ``x-`` keys, as every garden of the batch takes it over.

    Raises
    ------
    service.reading.PlanRejected
        with every fault, each by its place.
    """
    faults: list[tuple[str, str]] = []
    try:
        SiteSchema().load(document)
    except ValidationError as error:
        faults = [(pointer(path), detail) for path, detail in flat(error.messages, ())]
    if not faults:
        document = {key: value for key, value in document.items() if value is not None and not key.startswith("x-")}
        faults = list(_probed(document, knowledge))
    if faults:
        raise PlanRejected([_located(at, detail, where) for at, detail in faults[:MOST_ERRORS]], len(faults))
    return dict(document)


def _probed(document: Mapping[str, Any], knowledge: Knowledge) -> list[tuple[str, str]]:
    """What only shows in a plan: families of own crops, the order of dates."""
    bed = {"id": "bed", **document.get("bed", {})}
    try:
        plan_of(
            {**{k: v for k, v in document.items() if k != "bed"}, "beds": [bed]}, today=_any_day, knowledge=knowledge
        )
    except PlanRejected as rejected:
        return [(one.pointer.replace("/beds/0", "/bed", 1), one.detail) for one in rejected.errors]
    return []


def _any_day(_zone: str | None) -> date:
    return date(2000, 1, 1)


def _located(at: str, detail: str, where: Where | None) -> PlanError:
    line, column = (where(at) if where else None) or (None, None)
    return PlanError(at, detail, line, column)
