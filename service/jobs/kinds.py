"""The kinds of job, and the functions that do their work.

Functions are named, not imported: only the process that works through a chunk needs what they need.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any, NamedTuple

#: The most gardens of any chunk.
MOST = 100


class Kind(NamedTuple):
    """A kind of job.  A function is named as ``module:function``.

    Attributes
    ----------
    prepare
        Takes what all gardens share, as it was sent; returns what ``work`` gets for every garden.
    work
        Takes one garden as it was packed, and what was prepared; returns its line, a plain dict
        whose ``type`` is ``error`` where the garden could not be answered.
    refuse
        Takes a garden and a sentence; returns the line of a garden that nothing could be said about.
    closing
        Takes what all gardens share, as it was sent; returns what adds the lines up (``add(line)``)
        and says what they come to (``line()``).
    most
        Gardens in a chunk.
    patience
        Seconds that one garden may take; its process is ended then.
    """

    name: str
    prepare: str
    work: str
    refuse: str
    closing: str
    most: int = MOST
    patience: float = 60.0


#: Tells the rule set of the process that it is called in.
RULES = "service.jobs.batching:own_rules"


def _functions(module: str, work: str) -> tuple[str, ...]:
    return tuple(f"service.jobs.{module}:{name}" for name in ("prepare", work, "refuse", "Closing"))


KINDS = {
    kind.name: kind
    for kind in (
        Kind("batch", *_functions("batching", "judge")),
        # A search may take all of its time: small chunks, so that little is lost with a worker.
        Kind("proposals", *_functions("proposing", "propose"), most=5, patience=600.0),
    )
}


def function(named: str) -> Any:
    """The function of a name.

    >>> function("math:floor")(2.5)
    2
    """
    module, _, name = named.partition(":")
    return getattr(import_module(module), name)
