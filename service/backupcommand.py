"""``breakcrop backup`` and ``breakcrop restore``: the record to a file and back."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from service.recordstore import FORCE, replacing, speaking
from service.terminal import BAD_OUTPUT, NO_INPUT, Stop, put
from service.workcommand import settings


@click.command(short_help="Copy the record to a file, while it runs.")
@click.argument("file")
@FORCE
def backup(file: str, force: bool) -> int:
    """Copy the record to a file, while the service goes on.

    FILE is whole or not there at all, and is checked before it is kept. Every write that was
    acknowledged before is in it. It holds all gardens, journals and tokens (these as digests), so
    keep it where nobody else can read it. For one garden see record export.
    """
    from service.backup import back_up, database_file
    from service.database import open_store

    with speaking():
        store = open_store(settings().database_url)
        if database_file(store).resolve() == Path(file).resolve():
            raise Stop(f"{file} is the record itself; name another file", BAD_OUTPUT)
        with replacing(file, force=force) as unfinished:
            held = back_up(store, unfinished)
    put(f"The record is backed up to {file}: {_counted(*held)}.\n")
    return 0


@click.command(short_help="Put a backup in the record's place.")
@click.argument("file")
def restore(file: str) -> int:
    """Put a backup in the record's place, when the service is stopped.

    The record that was there is kept beside it under another name, and told. Nothing is changed
    unless FILE is a whole record of this version or an earlier one and nothing uses the record.
    """
    from service import backup as copies
    from service.database import open_store

    path = Path(file)
    try:
        path.open("rb").close()
    except OSError as error:
        raise Stop(f"{file}: {error.strerror or error}", NO_INPUT) from None
    try:
        with speaking():
            store = open_store(settings().database_url)
            held, aside = copies.restore(store, path, now=datetime.now(UTC))
            place = copies.database_file(store)
    except OSError as error:
        raise Stop(f"the record cannot be written: {error.strerror or error}", BAD_OUTPUT) from None
    put(f"{place} holds {_counted(*held)} again.\n")
    if aside is not None:
        put(f"The record that was there before is kept as {aside}.\n")
    return 0


def _counted(gardens: int, lines: int) -> str:
    return (
        f"{gardens:,} {'garden' if gardens == 1 else 'gardens'} and "
        f"{lines:,} {'line' if lines == 1 else 'lines'} of journal"
    )
