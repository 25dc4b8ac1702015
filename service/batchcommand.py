"""``breakcrop batch``: check every garden of a sheet."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import click

from service.terminal import (
    BAD_INPUT,
    BAD_OUTPUT,
    FAILURE,
    NO_INPUT,
    USAGE,
    Stop,
    colour_wanted,
    load_knowledge,
    page_width,
    put,
    read_bytes,
)

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.report import Severity
    from service.batch.answer import Answer
    from service.batch.columns import SheetRejected
    from service.batch.gardens import Form, Gardens
    from service.batch.judge import Shared

STATUS = {"clear": 0, "caution": 1, "breach": 2, "unknown": 3, None: BAD_INPUT}
_FILE: dict[str, Any] = {"metavar": "FILE"}


@click.command(short_help="Check every garden of a sheet.")
@click.argument("plots")
@click.option("--season", help='The season to judge, as "2027" or "2027-spring".')
@click.option("--site", help="What all gardens share (YAML or JSON).", **_FILE)
@click.option("--sightings", help="A second sheet: garden, bed, date, of, level.", **_FILE)
@click.option("--out", help="Where to write the report (else standard output).", **_FILE)
@click.option("--format", "form", type=click.Choice(["csv", "ndjson"]), help="How to write the report; else as "
              "the name of --out says, or as what comes in.")  # fmt: skip
@click.option("--summary", is_flag=True, help="Print a page about all gardens; the report only goes to --out.")
@click.option("--severity", type=click.Choice(["breach", "caution", "advice", "benefit"]), default="benefit",
              show_default=True, help="The least severity to report.")  # fmt: skip
@click.option("--jobs", type=click.IntRange(1, 256), help="Processes to work in (else one a core).")
@click.option("--rules", "overlay", help="A club's changes to the rule set (YAML).", **_FILE)
def batch(
    plots: str,
    season: str | None,
    site: str | None,
    sightings: str | None,
    out: str | None,
    form: Form | None,
    summary: bool,
    severity: Severity,
    jobs: int | None,
    overlay: str | None,
) -> int:
    """Check every garden of a sheet and report on each.

    PLOTS is a CSV file, or "-" for standard input: one row a planting with the columns garden, bed,
    crop, and season or start; also end, first_harvest, status, cause, method, count, spacing, part
    (0-0.5), variety, resists, id, replaces, and of the bed kind, length, width, depth, x, y (metres).
    Rows of one garden stand together; days are written 2027-04-20 or 20.04.2027. PLOTS may also hold
    a plan document a line (NDJSON).

    A row that cannot be read fails its garden and no other. Exit status: 65 if any garden could not
    be checked, else by the worst verdict: 2 breach, 1 caution, 3 unknown, 0 clear.
    """
    from rules.seasons import parse_season
    from service.batch.answer import Answer
    from service.batch.records import BOM
    from service.batch.run import Work
    from service.batch.summarytext import summary_text
    from service.signals import cores

    if season is not None and parse_season(season) is None:
        raise Stop(f"{season!r} is not a season; write a year (2027) or a year and quarter", USAGE)
    _distinct(plots, site, sightings, out)
    knowledge = load_knowledge(overlay)
    with _source(plots) as stream:
        gardens, shared = _opened(plots, stream, site, sightings, season, severity, knowledge)
        work = Work(shared, form or _form_of(out) or gardens.form)
        answer = Answer(gardens, work, knowledge, jobs or cores())
        with _target(out, quiet=summary) as write:
            if out is not None and work.form == "csv" and not _is_device(out):
                write(BOM)  # without it a spreadsheet on Windows takes UTF-8 for its own old encoding
            _told(answer, stream, write, bar=out is not None or summary or not sys.stdout.isatty())
    if summary:
        put(summary_text(answer.summary.line(), knowledge, width=page_width(), colour=colour_wanted()))
    return STATUS[answer.summary.status()]


def _told(answer: Answer, stream: BinaryIO, write: Callable[[bytes], bool], bar: bool) -> None:
    """Every piece of the answer to where it goes, with a line of progress on a terminal."""
    from concurrent.futures.process import BrokenProcessPool

    progress = _Progress(stream) if bar and sys.stderr is not None and sys.stderr.isatty() else None
    pieces = iter(answer)
    try:
        for piece in pieces:
            if not write(piece):
                return
            if progress:
                progress.show(answer.summary.gardens)
    except BrokenProcessPool:
        raise Stop("a process of the batch was killed, perhaps for want of memory; nothing more was checked. "
                   "Run it again with --jobs 1.", FAILURE) from None  # fmt: skip
    finally:
        pieces.close()
        if progress:
            progress.end()


class _Progress:
    """One line on the terminal: how many gardens, and how much of the file."""

    def __init__(self, stream: BinaryIO) -> None:
        self.stream, self.last = stream, 0.0
        self.size = os.fstat(stream.fileno()).st_size if stream.seekable() else 0

    def show(self, gardens: int) -> None:
        """Say where the batch is, a few times a second."""
        if time.monotonic() - self.last < 0.2:
            return
        self.last = time.monotonic()
        part = f", {100 * self.stream.tell() // self.size} % read" if self.size else ""
        print(f"\r{gardens:,} gardens checked{part} ", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Leave a clean line."""
        print("\r" + " " * 60 + "\r", end="", file=sys.stderr, flush=True)


def _opened(
    plots: str,
    stream: BinaryIO,
    site: str | None,
    sightings: str | None,
    season: str | None,
    severity: Severity,
    knowledge: Knowledge,
) -> tuple[Gardens, Shared]:
    """The gardens and what they share; every fault of header, site and sightings ends the command here."""
    from service.batch.columns import SheetRejected
    from service.batch.gardens import Gardens, read_sightings
    from service.batch.judge import Shared
    from service.planfile import today

    try:
        gardens = Gardens(stream)
    except SheetRejected as rejected:
        raise _unreadable(plots, rejected) from None
    if site is not None and gardens.site is not None:
        raise Stop("what all gardens share stands in the stream and in --site; give it once", USAGE)
    shared_site = _site(site, gardens.site, plots, knowledge)
    if gardens.form == "csv" and season is None and not (shared_site or {}).get("judge"):
        raise Stop("say which season to judge, as in --season 2027", USAGE)
    seen = {}
    if sightings is not None:
        with _source(sightings) as sheet:
            try:
                seen = read_sightings(sheet)
            except SheetRejected as rejected:
                raise _unreadable(sightings, rejected) from None
    zone = ((shared_site or {}).get("garden") or {}).get("time_zone")
    return gardens, Shared(today(zone), season, shared_site, seen, severity)


def _site(path: str | None, told: object, plots: str, knowledge: Knowledge) -> dict[str, Any] | None:
    from service.batch.site import good_site, read_site
    from service.planfile import kind_of, place, rejection
    from service.reading import PlanRejected, Unreadable

    if path is None and told is None:
        return None
    try:
        if path is None:
            return good_site(told, knowledge)
        body = read_bytes(path)
        return read_site(body, kind_of(path, body), knowledge)
    except PlanRejected as rejected:
        raise Stop(rejection(rejected, path or _shown(plots)), BAD_INPUT) from None
    except Unreadable as error:
        raise Stop(f"{place(path or plots, error.line, error.column)}: {error.detail}", BAD_INPUT) from None


def _unreadable(path: str, rejected: SheetRejected) -> Stop:
    faults = [f"{_shown(path)}:{fault.line}: {fault.detail}" for fault in rejected.faults[:100]]
    return Stop("\n".join(faults), BAD_INPUT)


def _shown(path: str) -> str:
    return "standard input" if path == "-" else path


def _distinct(plots: str, site: str | None, sightings: str | None, out: str | None) -> None:
    """Standard input is read once, and nothing is written over what is read."""
    if [plots, site, sightings].count("-") > 1:
        raise Stop("only one of the files can be standard input", USAGE)
    for path in (plots, site, sightings):
        with suppress(OSError):
            if out is not None and path is not None and path != "-" and os.path.samefile(path, out):
                raise Stop(f"--out would write over {path}; choose another name", USAGE)


def _form_of(out: str | None) -> Form | None:
    """The form that a file's name tells."""
    suffix = Path(out or "").suffix.lower()
    forms: dict[str, Form] = {".csv": "csv", ".ndjson": "ndjson", ".jsonl": "ndjson"}
    return forms.get(suffix)


@contextmanager
def _source(path: str) -> Iterator[BinaryIO]:
    """The bytes of a file or of standard input, as a stream."""
    if path == "-":
        if sys.stdin is None:
            raise Stop("standard input: it is closed", NO_INPUT)
        yield sys.stdin.buffer
        return
    try:
        stream = open(path, "rb")  # noqa: SIM115
    except OSError as error:
        raise Stop(f"{path}: {error.strerror or error}", NO_INPUT) from None
    with stream:
        yield stream


def _is_device(out: str) -> bool:
    """True for a pipe or the like, which no file can take the place of."""
    return Path(out).exists() and not Path(out).is_file()


@contextmanager
def _target(out: str | None, *, quiet: bool) -> Iterator[Callable[[bytes], bool]]:
    """Where pieces go: nowhere, to standard output, or to a file that takes its name when it is whole."""
    if out is None:
        yield (lambda _piece: True) if quiet else put
        return
    final = Path(out)
    path = final if _is_device(out) else final.with_name(f"{final.name}.part")
    try:
        with path.open("wb") as file:
            yield lambda piece: file.write(piece) >= 0
        if path != final:
            path.replace(final)
    except OSError as error:
        raise Stop(f"{out}: {error.strerror or error}", BAD_OUTPUT) from None
    finally:
        if path != final:
            path.unlink(missing_ok=True)
