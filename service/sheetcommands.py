"""``breakcrop record import-sheet`` and ``export-sheet``: the plantings of a garden as a sheet (CSV), in and out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.planfile import rejection
from service.recordstore import FORCE, GARDEN, reading, save, the_garden, writing
from service.tables import columns
from service.terminal import BAD_INPUT, Stop, put, read_bytes
from service.words import tame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from service.store.tables import Planting


class _OnlyTried(Exception):
    """Ends a transaction so that nothing of it stands."""


@click.command("import-sheet")
@click.argument("file")
@click.option("--dry-run", is_flag=True, help="Say what would be added, and add nothing.")
@GARDEN
def bring_in_sheet(file: str, dry_run: bool, garden: str | None) -> int:
    """Add the plantings of a sheet to a garden.

    FILE is a CSV file, or "-" for standard input: one row a planting with the columns bed, crop, and
    season or start; also id, end, first_harvest, status, cause, method, count, spacing, part (0-0.5),
    replaces, variety, resists and parthenocarpic. Beds go by their id or name and must be on record.

    All rows are added, or none and every bad row is named with its line and column.
    """
    from service.plantingsheet import import_plantings
    from service.reading import PlanRejected

    body, added = read_bytes(file), []
    try:
        with writing(garden) as opened:
            added = import_plantings(opened, body)
            name = opened.repository.garden(opened.garden_id).name or f"garden {opened.garden_id}"
            beds = {bed.id: bed.name or bed.id for bed in opened.contents().beds}
            if dry_run:
                raise _OnlyTried
    except PlanRejected as rejected:
        raise Stop(rejection(rejected, "standard input" if file == "-" else file), BAD_INPUT) from None
    except _OnlyTried:
        put("\n".join(_rows(added, beds)) + "\n\n")
    many = "1 planting" if len(added) == 1 else f"{len(added):,} plantings"
    done = f"{'is' if len(added) == 1 else 'are'} added to"
    put(f"{many} {'would be added to' if dry_run else done} {tame(name)}.\n")
    return 0


@click.command("export-sheet")
@click.argument("file")
@click.option(
    "--formulas",
    type=click.Choice(["defused", "kept"]),
    default="defused",
    show_default=True,
    help="Whether cells that a spreadsheet would run have an apostrophe before them.",
)
@FORCE
@GARDEN
def take_out_sheet(file: str, formulas: str, force: bool, garden: str | None) -> int:
    """Write the plantings of a garden to a sheet (CSV); "-" for standard output.

    They are told as they stand, with what the journal says of each, and import-sheet reads them back.
    A file begins with a byte order mark, by which a spreadsheet knows its accents.
    """
    from service.plantingsheet import marked, plantings_csv

    with reading() as repository:
        contents = repository.contents(the_garden(repository, garden).id)
    sheet = plantings_csv(contents, defuse=formulas == "defused")
    if file == "-":
        put(sheet.encode())
        return 0
    save(file, marked(sheet), force=force)
    put(f"The plantings of {tame(contents.garden.name or contents.garden.id)} are written to {file}.\n")
    return 0


def _rows(added: Sequence[Planting], beds: dict[str, str]) -> list[str]:
    """What would be added, a line each."""
    rows = [(beds[p.bed], p.crop, p.start.isoformat() if p.start else p.season or "", p.id) for p in added]
    return columns(("Bed", "Crop", "When", "Id"), [tuple(map(tame, row)) for row in rows])
