"""How commands open the record: the database, the garden or club that is meant, and what can go wrong with either."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import click

from service.planfile import today
from service.terminal import BAD_INPUT, BAD_OUTPUT, FAILURE, Stop, load_knowledge
from service.workcommand import ready_record, settings

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan
    from service.record import Record
    from service.store.repository import Contents, Repository
    from service.store.tables import Club, Garden

    Named = TypeVar("Named", Club, Garden)

#: The club of those who garden for themselves.
HOUSEHOLD = "Household"
#: The option that says which garden is meant.
GARDEN = click.option("--garden", metavar="NAME", help="A garden by its name or id; otherwise the only one.")
#: The option that says whose garden it is.
CLUB = click.option("--club", metavar="NAME", help="A club by its name or id; otherwise the only one.")
#: The option that lets a file be written over.
FORCE = click.option("--force", is_flag=True, help="Write over a file that is there.")


class Opened(NamedTuple):
    """A stored garden as it stands, the plan that it is today, and the knowledge to judge it by."""

    contents: Contents
    plan: Plan
    knowledge: Knowledge


def open_garden(word: str | None, *, season: str | None = None, overlay: str | None = None) -> Opened:
    """The garden that is meant, ready to be asked: store to contents to plan.

    Raises
    ------
    Stop
        where it cannot be told which garden is meant, or it holds nothing yet.
    """
    from rules.reading import PlanFaults
    from service.mapping import garden_plan

    with reading() as repository:
        contents = repository.contents(the_garden(repository, word).id)
    knowledge = load_knowledge(overlay or settings().rules)
    as_of = today(contents.garden.time_zone)
    try:
        plan = garden_plan(contents, knowledge, as_of=as_of, season=season)
    except PlanFaults as found:
        if contents.beds or contents.plantings:
            raise Stop("\n".join(fault.detail for fault in found.faults), BAD_INPUT) from None
        name = contents.garden.name or contents.garden.id
        raise Stop(f"{name} has no beds yet; bring them in with: breakcrop record import FILE", BAD_INPUT) from None
    return Opened(contents, plan, knowledge)


@contextmanager
def writing(word: str | None) -> Iterator[Record]:
    """A transaction that writes to the garden that is meant; a ``Stop`` leaves nothing behind."""
    from service.record import Record

    knowledge = load_knowledge(settings().rules)
    with changing() as repository:
        garden = the_garden(repository, word)
        yield Record(repository, garden.id, knowledge, today=today(garden.time_zone), now=datetime.now(UTC))


@contextmanager
def reading() -> Iterator[Repository]:
    """The record as it is at one moment."""
    from service.store.repository import Repository

    with speaking(), closing(ready_record(settings())) as store, store.read() as session:
        yield Repository(session)


@contextmanager
def changing() -> Iterator[Repository]:
    """A transaction that changes the record, all of it or nothing."""
    from service.store.repository import Repository

    with speaking(), closing(ready_record(settings())) as store, store.write() as session:
        yield Repository(session)


@contextmanager
def speaking() -> Iterator[None]:
    """Within the block, what the store refuses ends the command with its sentence."""
    from service.store.errors import Busy, StoreError, Unavailable

    try:
        yield
    except StoreError as error:
        ours = isinstance(error, Busy | Unavailable)
        raise Stop(error.detail, FAILURE if ours else BAD_INPUT) from None


def the_garden(repository: Repository, word: str | None, *, club_id: str | None = None) -> Garden:
    """The garden of a name or id, or the only one; ``Stop``."""
    clubs = repository.clubs() if club_id is None else [repository.club(club_id)]
    gardens = [garden for club in clubs for garden in repository.gardens(club.id)]
    if not gardens:
        raise Stop("No garden is on record yet; begin one with: breakcrop record new FILE", BAD_INPUT)
    return _meant(word, gardens, "garden")


def the_club(repository: Repository, word: str | None) -> Club:
    """The club of a name or id, or the only one; ``Stop``."""
    clubs = repository.clubs()
    if not clubs:
        raise Stop("No club is on record yet; create one with: breakcrop clubs create NAME", BAD_INPUT)
    return _meant(word, clubs, "club")


def club_or_household(repository: Repository, word: str | None, now: datetime) -> str:
    """The id of the club that is meant; a household's where there is none yet."""
    if word is None and not repository.clubs():
        return repository.add_club(HOUSEHOLD, now=now).id
    return the_club(repository, word).id


def bed_of(opened: Opened, word: str | None) -> str | None:
    """The id of the bed that a word names, None where it names none; ``Stop``."""
    if word is None:
        return None
    from service.answers.question import NameFinder

    found = NameFinder(opened.plan, opened.knowledge)
    found.bed(word)
    if found.found_bed is None:
        raise Stop("\n".join(found.faults), BAD_INPUT)
    return found.found_bed.id


def _meant(word: str | None, rows: Sequence[Named], what: str) -> Named:
    from rules.knowledge.names import normal
    from rules.knowledge.shapes import nearest

    listed = "".join(f"\n  {row.id}  {row.name or ''}".rstrip() for row in rows)
    if word is None:
        if len(rows) == 1:
            return rows[0]
        raise Stop(f"{len(rows)} {what}s are on record; say which with --{what}:{listed}", BAD_INPUT)
    found = [row for row in rows if row.id == word] or [row for row in rows if normal(row.name or "") == normal(word)]
    if len(found) == 1:
        return found[0]
    if found:
        ids = ", ".join(row.id for row in found)
        raise Stop(f"{len(found)} {what}s are called {word!r}; give an id: {ids}", BAD_INPUT)
    close = nearest(word, [row.name or row.id for row in rows], 1)
    hint = f"; did you mean {close[0]!r}?" if close else f"; there is:{listed}"
    raise Stop(f"no {what} is called {word!r}{hint}", BAD_INPUT)


def save(path: str, data: bytes, *, force: bool) -> None:
    """Write a file whole or not at all; ``Stop`` where one is there already and is not to be written over."""
    with replacing(path, force=force) as unfinished:
        unfinished.write_bytes(data)


@contextmanager
def replacing(path: str, *, force: bool) -> Iterator[Path]:
    """A file to fill that takes the place of another at the end of the block, when it is whole and on the disk.

    Raises
    ------
    Stop
        where the place is taken (unless ``force``) or cannot be written to.
    """
    place = Path(path)
    if place.is_dir():
        raise Stop(f"{path} is a folder; name a file", BAD_OUTPUT)
    if not force and place.exists():
        raise Stop(f"{path} is there already; add --force to write over it", BAD_OUTPUT)
    try:
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name}.", suffix=".part")
        os.close(handle)
        unfinished = Path(name)
        try:
            yield unfinished
            _settled(unfinished)
            os.replace(unfinished, place)
            _settled(place.parent)
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise Stop(f"{path}: {error.strerror or error}", BAD_OUTPUT) from None


def _settled(path: Path) -> None:
    """Wait until a file, or what a folder lists, is on the disk."""
    if path.is_dir() and os.name == "nt":  # folders cannot be opened there
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
