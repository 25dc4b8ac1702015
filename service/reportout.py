"""A plan judged and the report put out, for every command that checks."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from service.terminal import colour_wanted, page_width, put

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan
    from rules.report import Severity

STATUS = {"clear": 0, "caution": 1, "breach": 2, "unknown": 3}
#: As ``rules.report.SEVERITIES``, which this module does not import: it would load the engine for ``--help``.
SEVERITIES = ("breach", "caution", "advice", "benefit")

_OPTIONS = (
    click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text",
                 show_default=True, help="How to write the report."),
    click.option("--season", help='The season to judge, as "2027" or "2027-spring"; otherwise as the plan says.'),
    click.option("--history", is_flag=True, help="Also tell what went wrong in earlier seasons."),
    click.option("--severity", type=click.Choice(SEVERITIES), default="benefit", show_default=True,
                 help="The least severity to list; the verdict stays that of the whole report."),
    click.option("--rules", "overlay", metavar="FILE", help="A club's changes to the rule set (YAML)."),
)  # fmt: skip


def report_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options that say what is judged and how it is told: form, season, history, severity and overlay."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def put_report(read: Plan, knowledge: Knowledge, *, form: str, history: bool, severity: Severity) -> int:
    """Check a plan, write the report as text, json or csv, and return the exit status of its verdict."""
    from rules import check

    report = check(read, knowledge, history=history)
    shown = report.at_least(severity)
    if form == "json":
        from service.encode import report_dict, to_bytes

        put(to_bytes(report_dict(shown)) + b"\n")
    elif form == "csv":
        from service.tables import report_csv

        put(report_csv(shown, read, knowledge).encode())
    else:
        from service.text import report_text

        width, colour = page_width(), colour_wanted()
        hidden = len(report.findings) - len(shown.findings)
        put(report_text(shown, read, knowledge, width=width, colour=colour, hidden=hidden))
    return STATUS[report.verdict]
