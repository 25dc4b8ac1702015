"""The work of a job that proposes: a plan for the years to come, for each of many gardens."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Any, NamedTuple

from service.batch.gardens import unpack
from service.batch.judge import Line, Shared, document_of, error_line, plan_read, refused_line
from service.batch.summary import RuleSet
from service.config import read_config
from service.encode import to_bytes
from service.jobs.batching import own_knowledge, refuse
from service.proposing.jobs import propose_document
from service.proposing.question import NotAsked
from service.proposing.run import NoProposal
from service.reading import PlanRejected, Unreadable

__all__ = ("Closing", "prepare", "propose", "refuse")


class Prepared(NamedTuple):
    """What all gardens share, what is asked of each proposal, and the operator's overlay."""

    shared: Shared
    options: Mapping[str, Any]
    overlay: str | None


def prepare(shared: Mapping[str, Any]) -> Prepared:
    """From what a job keeps of it."""
    return Prepared(Shared.unpack(shared["batch"]), shared["options"], read_config().rules)


def propose(garden: list[Any], prepared: Prepared) -> Line:
    """The line of one garden: ``type`` "proposal" or "error"."""
    item = unpack(garden)
    shared, options, overlay = prepared
    try:
        read = document_of(item, shared)
    except Unreadable as error:
        return _failed(item.line, None, [error.detail])
    document = read.document
    if isinstance(document, dict):  # the day of the job, not that on which a worker comes to it
        document = {"as_of": shared.today.isoformat(), **document}
    try:
        plan_read(read, shared, own_knowledge())  # a sheet may have faults that its document does not show
        found = propose_document(to_bytes(document), "json", options, overlay)
    except PlanRejected as rejected:
        return refused_line(read, rejected)
    except Unreadable as error:
        return _failed(item.line, read.name, [error.detail])
    except NotAsked as error:
        return _failed(item.line, read.name, [f"{key}: {said}" for key, said in error.faults])
    except NoProposal as error:
        return _failed(item.line, read.name, [str(error)])
    return {"type": "proposal", "line": item.line, "garden": read.name, "proposal": found}


def _failed(line: int, name: str | None, details: list[str]) -> Line:
    return error_line(line, name, [{"line": line, "detail": detail} for detail in details])


class Closing:
    """The last line of the results."""

    def __init__(self, shared: Mapping[str, Any]) -> None:
        self._stopped: Counter[str] = Counter()
        self._failed = self._short = 0
        self._rules: dict[RuleSet, None] = {}

    def add(self, line: Line) -> None:
        """The next line, in the order of the gardens."""
        if line["type"] == "error":
            self._failed += 1
            return
        self._rules.setdefault(RuleSet(**line["proposal"]["report"]["rules"]))
        self._stopped[line["proposal"]["stopped"]] += 1
        self._short += bool(line["proposal"]["unplaced"])

    def line(self) -> Line:
        """How many gardens there are, how their searches ended, and in how many something found no place."""
        return {
            "type": "summary",
            "complete": True,
            "rules": [one._asdict() for one in self._rules],
            "gardens": self._stopped.total() + self._failed,
            "failed": self._failed,
            "stopped": {how: self._stopped[how] for how in ("optimal", "time", "quick")},
            "not_all_placed": self._short,
        }
