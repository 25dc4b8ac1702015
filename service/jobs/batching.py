"""The work of a job that checks gardens: the ordinary batch, a chunk at a time."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from service.batch.gardens import GardenText, unpack
from service.batch.judge import Line, Shared, error_line, judge_garden
from service.batch.summary import Summary, brief_of
from service.config import read_config
from service.terminal import load_knowledge

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge


def prepare(shared: Mapping[str, Any]) -> tuple[Shared, Knowledge]:
    """What all gardens share, and the knowledge with the operator's overlay."""
    return Shared.unpack(shared), own_knowledge()


@cache
def own_knowledge() -> Knowledge:
    """The knowledge as the settings of this process have it."""
    return load_knowledge(read_config().rules)


def own_rules() -> str:
    """The name of all that this process judges by: alike for processes that give the same answers."""
    return own_knowledge().digest


def judge(garden: list[Any], prepared: tuple[Shared, Knowledge]) -> Line:
    """The line of one garden."""
    return judge_garden(unpack(garden), *prepared)


def refuse(garden: list[Any], why: str) -> Line:
    """The line of a garden that could not be worked on."""
    item = unpack(garden)
    name = None if isinstance(item, GardenText) else item.name
    return error_line(item.line, name, [{"line": item.line, "detail": why}])


class Closing:
    """The last line of the results."""

    def __init__(self, shared: Mapping[str, Any]) -> None:
        unpacked = Shared.unpack(shared)
        self._summary = Summary(unpacked.season, unpacked.as_of)

    def add(self, line: Line) -> None:
        """The next line, in the order of the gardens."""
        self._summary.add(brief_of(line))

    def line(self) -> Line:
        """What they come to."""
        return self._summary.line()
