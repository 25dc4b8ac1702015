"""``breakcrop map`` and ``breakcrop timeline``: pictures of a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.labelcommand import save
from service.planfile import KIND, open_plan
from service.terminal import USAGE, Stop

if TYPE_CHECKING:
    from service.reading import Kind

#: As in ``service.pictures``, which this module does not import: it would load the engine for ``--help``.
USUAL_YEARS, MOST_YEARS = 6, 20
_SEASON = click.option("--season", help='The season to judge, as "2027" or "2027-spring"; otherwise as the plan says.')
_OUT = click.option("--out", metavar="FILE", help="Where to write; otherwise to standard output.")


@click.command("map", short_help="Draw the beds of a plan on a day.")
@click.argument("plan")
@click.option("--day", metavar="DAY", help="The day, YYYY-MM-DD (else the plan's as_of, or the middle of --season).")
@_SEASON
@_OUT
@KIND
def draw_map(plan: str, day: str | None, season: str | None, out: str | None, kind: Kind | None) -> int:
    """Draw the beds of a plan to scale, with what stands in them on a day, as SVG.

    PLAN is a file, "-" for standard input, or "demo". Families have a pattern, letters and a colour;
    findings of the judged season are marked. The picture stands by itself, for a page or for print.
    """
    from rules import check
    from service.pictures import map_svg
    from service.pictures.asked import map_day

    read, knowledge = open_plan(plan, kind, season)
    shown, faults = map_day(read, day, season)
    if faults:
        raise Stop("\n".join(f"--{name}: {said}" for name, said in faults), USAGE)
    return save(out, map_svg(read, check(read, knowledge), knowledge, day=shown).encode())


@click.command("timeline", short_help="Draw beds and years, and when a family may return.")
@click.argument("plan")
@click.option("--years", type=click.IntRange(1, MOST_YEARS), default=USUAL_YEARS, show_default=True, metavar="N",
              help="Growing years to show, the last being the one after the judged season's.")  # fmt: skip
@_SEASON
@_OUT
@KIND
def draw_timeline(plan: str, years: int, season: str | None, out: str | None, kind: Kind | None) -> int:
    """Draw what stood and will stand in each bed over the years, as SVG.

    PLAN is a file, "-" for standard input, or "demo". Years without a record are hatched; a line
    after a family shows its break, until it is free again.
    """
    from rules import check
    from service.pictures import timeline_svg

    read, knowledge = open_plan(plan, kind, season)
    return save(out, timeline_svg(read, check(read, knowledge), knowledge, years=years).encode())
