"""How every command opens a plan: a file, standard input, or the garden that comes with the program."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from service.terminal import BAD_INPUT, USAGE, Stop, load_knowledge, read_bytes

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan
    from service.reading import Kind, PlanRejected

DEMO = Path(__file__).parent / "demo" / "tannery.yaml"
#: The option that says what a plan is written in.
KIND = click.option("--kind", type=click.Choice(["json", "yaml"]), help="What the plan is written in, when in doubt.")


def open_plan(
    plan: str, kind: Kind | None = None, season: str | None = None, overlay: str | None = None
) -> tuple[Plan, Knowledge]:
    """The plan that a command names ("demo", "-" or a file), and the knowledge to judge it by.

    Raises
    ------
    Stop
        where the season is none, or the plan cannot be read: every fault with its place.
    """
    from rules.seasons import parse_season
    from service.reading import read_plan

    if season is not None and parse_season(season) is None:
        raise Stop(f"{season!r} is not a season; write a year (2027) or a year and quarter", USAGE)
    body, found = plan_bytes(plan)
    knowledge = load_knowledge(overlay)
    with telling_faults(plan):
        return read_plan(body, kind or found, today=today, season=season, knowledge=knowledge), knowledge


def plan_bytes(plan: str) -> tuple[bytes, Kind]:
    """The bytes of the plan that a command names, and what they seem to be written in."""
    name = str(DEMO) if plan == "demo" else plan
    body = read_bytes(name)
    return body, kind_of(name, body)


@contextmanager
def telling_faults(plan: str) -> Iterator[None]:
    """Ends the command where the plan cannot be read, with every fault and its place."""
    from service.reading import PlanRejected, Unreadable

    name = {"demo": str(DEMO), "-": "standard input"}.get(plan, plan)
    try:
        yield
    except PlanRejected as rejected:
        raise Stop(rejection(rejected, name), BAD_INPUT) from None
    except Unreadable as error:
        raise Stop(f"{place(name, error.line, error.column)}: {error.detail}", BAD_INPUT) from None


def kind_of(path: str, body: bytes) -> Kind:
    """ "json" or "yaml", by the file's name or else by its first mark."""
    suffix = Path(path).suffix.lower()
    if suffix in (".yaml", ".yml"):
        return "yaml"
    if suffix == ".json":
        return "json"
    return "json" if body.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] in (b"{", b"[") else "yaml"


def today(zone: str | None) -> date:
    """Today in a time zone; where the zone is unknown, today where the program runs."""
    from zoneinfo import ZoneInfo

    try:
        return datetime.now(ZoneInfo(zone) if zone else None).date()
    except (OSError, ValueError, LookupError):  # no such zone, or no zones on this machine
        return datetime.now().date()


def place(name: str, line: int | None, column: int | None) -> str:
    """``file:line:column``, or the file alone."""
    return f"{name}:{line}:{column}" if line else name


def rejection(rejected: PlanRejected, name: str) -> str:
    """Every fault of a plan, one a line, as ``file:line:column: pointer: what``."""
    errors, total = rejected.errors, rejected.total
    lines = []
    for error in errors:
        parts = (place(name, error.line, error.column), error.pointer, error.detail)
        lines.append(": ".join(part for part in parts if part))
    if total > len(errors):
        lines.append(f"and {total - len(errors)} more")
    lines.append("1 thing to mend" if total == 1 else f"{total} things to mend")
    return "\n".join(lines)
