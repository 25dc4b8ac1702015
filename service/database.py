"""The database that the service and its commands share: BREAKCROP_DATABASE_URL, or SQLite in the user's data folder."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from service.store.session import Store

VARIABLE = "BREAKCROP_DATABASE_URL"


def open_store(url: str | None = None) -> Store:
    """The store of a URL, else of the environment's, else in the user's data folder; nothing is connected yet.

    Raises
    ------
    Unavailable
        for a URL that no database answers to.
    """
    from sqlalchemy.exc import ArgumentError

    from service.store.errors import Unavailable
    from service.store.session import Store

    try:
        store = Store(url or os.environ.get(VARIABLE) or None)
    except ArgumentError:
        raise Unavailable(f"{VARIABLE} is no database URL; write sqlite:///path or postgresql://host/name.") from None
    if store.url.get_backend_name() not in ("sqlite", "postgresql"):
        raise Unavailable(f"{VARIABLE} names a kind of database that is not served; use sqlite or postgresql.")
    return store


def ready_store(url: str | None = None) -> Store:
    """The store, in the shape that this version needs: a command may be the first to use it.

    Raises
    ------
    Busy, Unavailable
        when the database does not answer, or a newer version has changed it.
    """
    from service.store.errors import Unavailable
    from service.store.migrating import current_revision, head_revision, known_revision, migrate

    store = open_store(url)
    found = current_revision(store)
    if found == head_revision():
        return store
    if found is not None and not known_revision(found):
        raise Unavailable("The record was made by a newer breakcrop; install that version to use it.")
    migrate(store)
    return store
