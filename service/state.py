"""What an application holds beside Flask's own: its settings, the knowledge it judges by, and the record."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from pathlib import Path

from flask import current_app

import rules
from rules.knowledge import yamlfile
from rules.knowledge.known import Knowledge
from service.config import Config
from service.database import open_store
from service.errors import Problem
from service.store.errors import StoreError
from service.store.migrating import require_head
from service.store.session import Store
from service.store.using import Hold, use

KEY = "breakcrop"

log = logging.getLogger("breakcrop")


@dataclass(slots=True)
class State:
    """Settings, the record, and either the knowledge or the reason why there is none."""

    config: Config
    store: Store
    knowledge: Knowledge | None
    fault: str | None = None
    #: The record was seen to have the shape that this version needs; that does not change while it runs.
    shaped: bool = False
    #: Says that this process uses the record, so that nothing is restored under what it remembers.
    using: Hold | None = None


def load_state(config: Config) -> State:
    """Load the knowledge; a fault is kept and told at ``/readyz``, so that the process stays up.

    The record is opened when it is first asked for, in the process that asks.
    """
    record = open_store(config.database_url)
    try:
        return State(config, record, load_knowledge(config.rules))
    except (ValueError, OSError) as error:
        log.error("the knowledge could not be loaded:\n%s", error)
        return State(config, record, None, str(error))


def load_knowledge(overlay: str | None) -> Knowledge:
    """The knowledge, with the overlay at a path laid over it."""
    if overlay is None:
        return rules.load_knowledge()
    return rules.load_knowledge(yamlfile.load(Path(overlay).read_text("utf-8"), overlay))


def current() -> State:
    """The state of the application that answers this request."""
    state: State = current_app.extensions[KEY]
    return state


def knowledge() -> Knowledge:
    """The knowledge; ``Problem`` (503) where it could not be loaded."""
    found = current().knowledge
    if found is None:
        raise Problem("not-ready", "The knowledge could not be loaded, so nothing can be answered.")
    return found


def store() -> Store:
    """The record; ``Unavailable`` while it is not in the shape that this version needs."""
    state = current()
    if not state.shaped:
        state.using = use(state.store)
        require_head(state.store)
        state.shaped = True
    return state.store


def record_fault() -> str | None:
    """Why the record cannot be used, or None; one sentence."""
    try:
        require_head(store())
    except StoreError as error:
        return error.detail
    return None
