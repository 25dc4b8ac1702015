"""Tasks as iCalendar (RFC 5545): all-day events with identifiers that stay the same."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from rules.model import Plan
from rules.planning.tasks import Task

#: What a garden's identifiers are made under; a name of our own, no address to fetch.
_NAMESPACE = uuid5(NAMESPACE_URL, "urn:breakcrop:task")
_PRODUCT = "-//breakcrop//tasks//EN"


def calendar_ics(tasks: Iterable[Task], plan: Plan) -> bytes:
    """The calendar as bytes; the same for the same plan, its stamp being the plan's own day."""
    from icalendar import Calendar, Event

    garden = plan.garden
    calendar = Calendar()
    calendar.add("prodid", _PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", garden.name)
    stamp = datetime.combine(plan.as_of, time(), UTC)
    for task in tasks:
        event = Event()
        event.add("uid", str(uuid5(_NAMESPACE, f"{garden.site or ''}/{garden.name}/{task.key}")))
        event.add("dtstamp", stamp)
        event.add("dtstart", task.day)
        event.add("dtend", task.day + timedelta(days=1))  # the end of an all-day event is the day after
        event.add("summary", task.title)
        if task.note:
            event.add("description", task.note)
        if task.every is not None:
            until = {"until": task.until} if task.until is not None else {}
            event.add("rrule", {"freq": "daily", "interval": task.every, **until})
        event.add("transp", "TRANSPARENT")
        event.add("categories", [task.kind])
        calendar.add_component(event)
    return bytes(calendar.to_ical())
