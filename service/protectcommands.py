"""``breakcrop protect`` and ``breakcrop calendar``: what to expect and do in a span of days, and when."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.planfile import KIND, open_plan
from service.terminal import USAGE, Stop, colour_wanted, page_width, put

if TYPE_CHECKING:
    from rules.model import Plan, Window
    from service.reading import Kind

_SINCE = click.option("--from", "since", metavar="DAY", help="First day, YYYY-MM-DD (else the plan's as_of).")
_UNTIL = click.option("--to", "until", metavar="DAY", help="Last day (else the end of the judged season).")


@click.command(short_help="Say which pests to expect, and what to do.")
@click.argument("plan")
@_SINCE
@_UNTIL
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@KIND
def protect(plan: str, since: str | None, until: str | None, form: str, kind: Kind | None) -> int:
    """Say which pests to expect on what stands in some days, and what to do, least harm first.

    PLAN is a file, "-" for standard input, or "demo". A span is a year at most.
    """
    from rules.planning.protection import protect as work_out

    read, knowledge = open_plan(plan, kind)
    found = work_out(read, span(read, since, until), knowledge)
    if form == "json":
        from service.encode import to_bytes
        from service.protectdict import protect_dict

        put(to_bytes(protect_dict(found, knowledge)) + b"\n")
    else:
        from service.protecttext import protect_text

        put(protect_text(found, read, knowledge, width=page_width(), colour=colour_wanted()))
    return 0


@click.command(short_help="Write the tasks as a calendar file.")
@click.argument("plan")
@_SINCE
@_UNTIL
@KIND
def calendar(plan: str, since: str | None, until: str | None, kind: Kind | None) -> int:
    """Write the tasks of some days as iCalendar: breakcrop calendar PLAN > plan.ics

    PLAN is a file, "-" for standard input, or "demo". A task keeps its identifier from one run to
    the next, so that a calendar which reads the file again changes its entries and adds no twins.
    """
    from rules.planning.tasks import tasks
    from service.ics import calendar_ics

    read, knowledge = open_plan(plan, kind)
    put(calendar_ics(tasks(read, span(read, since, until), knowledge), read))
    return 0


def span(plan: Plan, since: str | None, until: str | None) -> Window:
    """The days that the options name.

    Raises
    ------
    Stop
        where they are no span, naming every fault.
    """
    from service.asked import window_asked

    window, faults = window_asked(plan, since, until)
    if window is None:
        raise Stop("\n".join(f"--{name}: {said}" for name, said in faults), USAGE)
    return window
