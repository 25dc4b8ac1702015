"""What an application holds beside Flask's own: its settings and the knowledge it judges by."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from pathlib import Path

from flask import current_app

import rules
from rules.knowledge import yamlfile
from rules.knowledge.known import Knowledge
from service.config import Config
from service.errors import Problem

KEY = "breakcrop"

log = logging.getLogger("breakcrop")


@dataclass(frozen=True, slots=True)
class State:
    """Settings, and either the knowledge or the reason why there is none."""

    config: Config
    knowledge: Knowledge | None
    fault: str | None = None


def load_state(config: Config) -> State:
    """Load the knowledge; a fault is kept and told at ``/readyz``, so that the process stays up."""
    try:
        return State(config, load_knowledge(config.rules))
    except (ValueError, OSError) as error:
        log.error("the knowledge could not be loaded:\n%s", error)
        return State(config, None, str(error))


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
