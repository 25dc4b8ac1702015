"""``breakcrop labels``: labels for the plantings of a plan, to print."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.planfile import KIND, open_plan
from service.terminal import BAD_INPUT, BAD_OUTPUT, USAGE, Stop, put

if TYPE_CHECKING:
    from service.reading import Kind


@click.command(short_help="Make labels to print.")
@click.argument("plan")
@click.option("--bed", "beds", multiple=True, metavar="ID", help="Only this bed; may be given more than once.")
@click.option("--planting", "plantings", multiple=True, metavar="ID", help="Only this planting; likewise.")
@click.option("--sheet", default="a4-24", show_default=True, help="a4-24, a4-14, letter-30, or stake.")
@click.option("--from", "first", type=click.IntRange(1), default=1, show_default=True, metavar="N",
              help="The place of the first label on a sheet that is used in part.")  # fmt: skip
@click.option("--pdf", is_flag=True, help="Write PDF instead of HTML.")
@click.option("--link", metavar="URL", help="The garden's page on a service; each label gets a QR code to its record.")
@click.option("--out", metavar="FILE", help="Where to write; otherwise to standard output.")
@KIND
def labels(
    plan: str,
    beds: tuple[str, ...],
    plantings: tuple[str, ...],
    sheet: str,
    first: int,
    pdf: bool,
    link: str | None,
    out: str | None,
    kind: Kind | None,
) -> int:
    """Make labels with crop, variety, bed and date, as a page to print.

    PLAN is a file, "-" for standard input, or "demo". Everything planned or standing gets a label.
    With --link 'https://HOST/gardens/ID#KEY' each carries a QR code that opens the planting's
    record; KEY is the garden's publishable key, which can read and nothing else.
    """
    from service.labels import NoPdf, NotInFont, labels_html, labels_pdf
    from service.labels.asked import labels_asked

    read, _ = open_plan(plan, kind)
    asked, faults = labels_asked(read, beds=beds, plantings=plantings, sheet=sheet, first=first, link=link)
    if asked is None:
        named = any(name in ("bed", "planting") for name, _ in faults)
        raise Stop("\n".join(f"--{name}: {said}" for name, said in faults), BAD_INPUT if named else USAGE)
    if not asked.labels:
        raise Stop("nothing is planned or stands there, so there is nothing to label", BAD_INPUT)
    title = f"Labels for {read.garden.name}"
    if not pdf:
        return save(out, labels_html(asked.labels, asked.sheet, first=asked.first, title=title).encode())
    try:
        return save(out, labels_pdf(asked.labels, asked.sheet, first=asked.first, title=title))
    except NoPdf as error:
        raise Stop(str(error), USAGE) from None
    except NotInFont as error:
        raise Stop(str(error), BAD_INPUT) from None


def save(out: str | None, data: bytes) -> int:
    """Write to a file, or to standard output where none is named."""
    if out in (None, "-"):
        put(data)
        return 0
    try:
        with open(out, "wb") as file:
            file.write(data)
    except OSError as error:
        raise Stop(f"{out}: {error.strerror or error}", BAD_OUTPUT) from None
    return 0
