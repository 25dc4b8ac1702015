"""``breakcrop record``: gardens that remember, kept in the record and asked from the command line."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import click

from service.askcommand import QUESTIONS, put_answer
from service.planfile import DEMO, KIND, kind_of, place, rejection, today
from service.recordstore import (
    CLUB,
    FORCE,
    GARDEN,
    bed_of,
    changing,
    club_or_household,
    open_garden,
    reading,
    save,
    the_garden,
    writing,
)
from service.reportout import put_report, report_options
from service.terminal import BAD_INPUT, USAGE, Stop, load_knowledge, page_width, put, read_bytes

if TYPE_CHECKING:
    from service.reading import Kind
    from service.store.repository import Contents

_FORM = click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)


@click.group("record", short_help="Keep gardens, log what happens, and ask about them.")
def record() -> None:
    """Keep gardens on record, log what happens in them, and ask about them.

    The record is a database: BREAKCROP_DATABASE_URL, or a file in your data folder. What is
    logged here is what the service tells, and the other way round.
    """


@record.command()
@click.argument("file", required=False)
@click.option("--name", help="Begin an empty garden of this name instead.")
@CLUB
@KIND
def new(file: str | None, name: str | None, club: str | None, kind: Kind | None) -> int:
    """Put a new garden on record.

    FILE is a plan or an export, "-" for standard input, or "demo". Where there is no club yet,
    one called Household is made for it.
    """
    if (file is None) == (name is None):
        raise Stop("give a file to bring in, or --name for an empty garden", USAGE)
    now = datetime.now(UTC)
    if name is not None:
        typed = _garden_name(name)
        with changing() as repository:
            garden = repository.add_garden(club_or_household(repository, club, now), typed, now=now)
            contents = repository.contents(garden.id)
    else:
        from service.importing import store_garden

        read = _read(file or "", kind, now)
        with changing() as repository:
            garden = store_garden(repository, read, club_id=club_or_household(repository, club, now), now=now)
            contents = repository.contents(garden.id)
    put(_on_record(contents))
    return 0


@record.command("import")
@click.argument("file")
@GARDEN
@KIND
def bring_in(file: str, garden: str | None, kind: Kind | None) -> int:
    """Bring a plan or an export into a garden that is empty.

    FILE is as for record new, which makes a garden of its own. All of it is taken, or nothing
    and every fault is named.
    """
    from service.importing import store_garden

    now = datetime.now(UTC)
    read = _read(file, kind, now)
    with changing() as repository:
        into = the_garden(repository, garden)
        store_garden(repository, read, club_id=into.club_id, into=into.id, now=now)
        contents = repository.contents(into.id)
    put(_on_record(contents))
    return 0


@record.command("export")
@click.argument("file")
@FORCE
@GARDEN
def take_out(file: str, force: bool, garden: str | None) -> int:
    """Write a garden with its journal to a file (JSON); "-" for standard output.

    The file is a plan that every command reads, and record new makes the same garden of it.
    """
    from service.encode import to_bytes
    from service.exporting import export

    with reading() as repository:
        contents = repository.contents(the_garden(repository, garden).id)
    data = to_bytes(export(contents)) + b"\n"
    if file == "-":
        put(data)
        return 0
    save(file, data, force=force)
    put(f"{_named(contents)} is written to {file}.\n")
    return 0


@record.command()
@click.argument("bed")
@click.argument("did")
@click.argument("crop", required=False)
@click.option("--count", metavar="N", help="How many plants; of a loss: without it all are lost.")
@click.option("--date", metavar="DAY", help="The day, such as 2027-04-20, yesterday or 20 April (else today).")
@click.option("--note", metavar="TEXT", help="Anything else.")
@click.option("--cause", metavar="NAME", help="Of a loss: a pest, a disease, or such as frost and drought.")
@click.option("--of", metavar="NAME", help="Of a sighting: the pest or disease.")
@click.option("--level", metavar="WORD", help="Of a sighting: low, moderate or severe.")
@click.option("--kind", metavar="WORD", help="Of a cover: fleece, net, cage, fence, collar; of manuring: compost, "
              "lime, fertiliser, new_soil, broke_sod, raw_manure.")  # fmt: skip
@click.option("--mesh", metavar="MM", help="Of a net.")
@click.option("--edges", metavar="WORD", help="Of a cover: shut or open.")
@click.option("--until", metavar="DAY", help="Of a cover: its last day, where it is known.")
@click.option("--open-by-day-from", metavar="DAY", help="Of a cover: opened by day from then on.")
@click.option("--active", metavar="NAME", help="Of a treatment: the active ingredient on the label.")
@click.option("--harvest-interval", metavar="DAYS", help="Of a treatment: days to wait, from your own label.")
@click.option("--litres", metavar="N", help="Of a watering.")
@click.option("--amount", metavar="N", help="Of a harvest, with --unit.")
@click.option("--unit", metavar="WORD", help="Of a harvest: kg, g, lb, oz, pieces, bunches or litres.")
@click.option("--variety", metavar="NAME", help="Of the crop; two rows of one crop in a bed go by it.")
@click.option("--part", metavar="PART", help="Of the bed, such as first half, last third or 0-0.5.")
@click.option("--planting", metavar="ID", help="The planting or the day it began, where bed and crop are not enough.")
@GARDEN
@_FORM
def log(garden: str | None, form: str, **words: str | None) -> int:
    """Log what was done or seen.

    BED is a bed by its name or id, "-" for none. DID is sown, transplanted, emerged, lost,
    resown, covered, uncovered, treated, watered, manured, sighting, harvested, cleared, note,
    or what people say for one. CROP goes by any of its names.

    What was sown or transplanted is the planting that was planned there, or a new one. A bed that is
    cleared without a CROP is cleared of all that stands in it but what was planted to stay for years.
    """
    if words["bed"] == "-":
        words["bed"] = None
    return _note(garden, form, {key: word for key, word in words.items() if word is not None})


@record.command()
@click.option("--bed", metavar="NAME", help="Take back the last line about this bed.")
@click.option("--line", "corrects", metavar="N", help="Take back the line of this number (see record journal).")
@GARDEN
@_FORM
def undo(bed: str | None, corrects: str | None, garden: str | None, form: str) -> int:
    """Take back the last line of the journal that stands."""
    words = {"did": "undo", "bed": bed, "corrects": corrects}
    return _note(garden, form, {key: word for key, word in words.items() if word is not None})


@record.command()
@click.option("--bed", metavar="NAME", help="Only this bed.")
@GARDEN
def show(bed: str | None, garden: str | None) -> int:
    """Show what stands where today, what comes next, and the last lines of the journal."""
    from service.recordtext import garden_text

    opened = open_garden(garden)
    put(garden_text(opened, bed_of(opened, bed), width=page_width()))
    return 0


@record.command()
@click.option("--bed", metavar="NAME", help="Only lines about this bed.")
@click.option("--last", type=click.IntRange(1), metavar="N", help="Only the last N lines.")
@GARDEN
def journal(bed: str | None, last: int | None, garden: str | None) -> int:
    """List the journal: what was logged, oldest first, and what was taken back."""
    from service.recordtext import journal_text

    opened = open_garden(garden)
    put(journal_text(opened, bed_of(opened, bed), last=last, width=page_width()))
    return 0


@record.command()
@report_options
@GARDEN
def check(season: str | None, form: str, history: bool, severity: str, overlay: str | None, garden: str | None) -> int:
    """Check a garden as it is on record.

    Exit status as for breakcrop check: 0 clear, 1 caution, 2 breach, 3 unknown.
    """
    from rules.seasons import parse_season

    if season is not None and parse_season(season) is None:
        raise Stop(f"{season!r} is not a season; write a year (2027) or a year and quarter", USAGE)
    opened = open_garden(garden, season=season, overlay=overlay)
    return put_report(opened.plan, opened.knowledge, form=form, history=history, severity=severity)


@record.command()
@click.argument("question", type=click.Choice(QUESTIONS))
@click.option("--crop", metavar="NAME", help="A crop by any of its names; for free also a family.")
@click.option("--bed", metavar="NAME", help="A bed by its id or name.")
@click.option("--date", metavar="DAY", help="The day, YYYY-MM-DD (else today).")
@_FORM
@GARDEN
def ask(question: str, crop: str | None, bed: str | None, date: str | None, form: str, garden: str | None) -> int:
    """Answer a question about a garden on record in one sentence, as breakcrop ask does."""
    opened = open_garden(garden)
    return put_answer(question, opened.plan, opened.knowledge, crop=crop, bed=bed, date=date, form=form)


def _note(garden: str | None, form: str, words: dict[str, str]) -> int:
    from service.phonelog import note
    from service.reading import PlanRejected

    try:
        with writing(garden) as open_garden_:
            noted = note(open_garden_, words)
    except PlanRejected as rejected:
        raise Stop("\n".join(error.detail for error in rejected.errors), BAD_INPUT) from None
    if form == "json":
        from service.encode import to_bytes

        put(to_bytes(noted.row()) + b"\n")
    else:
        put(f"{noted.say}\n")
    return 0


def _read(file: str, kind: Kind | None, now: datetime) -> Contents:
    """The garden that a file describes; ``Stop`` with every fault and its place."""
    from service.importing import read_garden
    from service.reading import PlanRejected, Unreadable

    name = str(DEMO) if file == "demo" else file
    shown = "standard input" if file == "-" else name
    body = read_bytes(name)
    try:
        return read_garden(body, kind or kind_of(name, body), knowledge=load_knowledge(), today=today, now=now)
    except PlanRejected as rejected:
        raise Stop(rejection(rejected, shown), BAD_INPUT) from None
    except Unreadable as error:
        raise Stop(f"{place(shown, error.line, error.column)}: {error.detail}", BAD_INPUT) from None


def _garden_name(name: str) -> dict[str, Any]:
    from marshmallow import ValidationError

    from service.schemas.garden import GardenSchema

    try:
        typed: dict[str, Any] = GardenSchema().load({"name": name})
    except ValidationError as error:
        messages: Any = error.messages
        raise Stop(" ".join(str(text) for text in messages["name"]), USAGE) from None
    return typed


def _named(contents: Contents) -> str:
    return contents.garden.name or f"garden {contents.garden.id}"


def _on_record(contents: Contents) -> str:
    counts = (("bed", contents.beds), ("planting", contents.plantings), ("line", contents.journal))
    held = [f"{len(rows)} {word}{'' if len(rows) == 1 else 's'}" for word, rows in counts]
    return (
        f"{_named(contents)} is on record, its id is {contents.garden.id}: "
        f"{held[0]}, {held[1]} and {held[2]} in the journal.\n"
    )
