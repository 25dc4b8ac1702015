"""``breakcrop net``: what to cut for a net on hoops."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.planfile import KIND, open_plan
from service.terminal import BAD_INPUT, USAGE, Stop, page_width, put

if TYPE_CHECKING:
    from service.reading import Kind

_LENGTH = {"metavar": "LENGTH"}


@click.command(short_help="Say what to cut for a net on hoops.")
@click.argument("plan")
@click.option("--bed", "beds", multiple=True, metavar="ID", help="A bed to cover; may be given more than once.")
@click.option("--height", help="Height of the hoops (else 60 cm).", **_LENGTH)
@click.option("--spacing", help="Most between two hoops (else 75 cm).", **_LENGTH)
@click.option("--leg", help="How deep a leg goes into the ground (else 20 cm).", **_LENGTH)
@click.option("--edge", help="Edge of the net to bury (else 15 cm).", **_LENGTH)
@click.option("--net-width", help="The width that the net is sold in.", **_LENGTH)
@click.option("--pipe", help="The length of a hoop pipe.", **_LENGTH)
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@KIND
def net(plan: str, beds: tuple[str, ...], form: str, kind: Kind | None, **lengths: str | None) -> int:
    """Say what to cut to put a net on hoops over one bed or several.

    PLAN is a file, "-" for standard input, or "demo". Without --bed all open beds that have a
    length and a width are worked out. A LENGTH is a number of cm, or has its unit: "60 cm",
    "0.6 m", "2 ft 6 in". The text is in the garden's units, JSON in cm.
    """
    from rules.planning.netting import cut_list
    from service.asked import beds_asked, hoop_work

    read, knowledge = open_plan(plan, kind)
    chosen, unknown = beds_asked(read, beds)
    work, wrong = hoop_work(lengths)
    lines = [said for _, said in unknown] + [f"--{name.replace('_', '-')}: {said}" for name, said in wrong]
    if lines:
        raise Stop("\n".join(lines), BAD_INPUT if unknown else USAGE)
    cut = cut_list(chosen, work)
    if form == "json":
        from service.encode import to_bytes
        from service.nettext import net_dict

        put(to_bytes(net_dict(cut, work, knowledge)) + b"\n")
    else:
        from service.nettext import net_text

        put(net_text(cut, work, read, knowledge, width=page_width()))
    return 0
