"""What a line of the journal may say: the names in it are known, and it fits what is on record."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from rules.knowledge.shapes import nearest
from rules.reading.events import UNLISTED
from service.schemas.words import shown
from service.store.projection import LIFE, State

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

Fault = tuple[str, str]
#: Words that speak of a bed; the others may speak of the garden.
IN_A_BED = LIFE | {"covered", "uncovered", "treated", "manured", "sighting"}
#: Words that may be dated ahead: a plan for protection and soil is kept in the journal too.
AHEAD = frozenset({"covered", "uncovered", "treated", "manured", "note", "undo"})


def name_faults(
    line: Mapping[str, Any], beds: Container[str], plantings: Mapping[str, str], knowledge: Knowledge
) -> Iterator[Fault]:
    """What is wrong with the names in a typed line, by key; ``plantings`` gives the bed of each."""
    did = line["did"]
    if did in LIFE and "planting" not in line:
        yield "planting", f"{did} needs a planting"
    if did in IN_A_BED and "bed" not in line:
        yield "bed", f"{did} needs a bed"
    if "bed" in line and line["bed"] not in beds:
        yield "bed", f"no bed has the id {shown(line['bed'])}"
    for key in ("planting", "plantings"):
        named = line.get(key)
        for word in named if isinstance(named, list) else [named] if named else []:
            if word not in plantings:
                yield key, f"no planting has the id {shown(word)}"
    if "of" in line and knowledge.find_trouble(line["of"]) is None and knowledge.find_loss(line["of"]) not in UNLISTED:
        close = knowledge.nearest(line["of"], "trouble")
        yield "of", f"no pest or disease is known as {shown(line['of'])}{_hint(close)}"
    if "cause" in line and knowledge.find_trouble(line["cause"]) is None and knowledge.find_loss(line["cause"]) is None:
        close = nearest(line["cause"].casefold(), knowledge.cause_words())
        yield "cause", f"no pest, disease or other cause is known as {shown(line['cause'])}{_hint(close)}"


def time_faults(line: Mapping[str, Any], today: date, state: State | None) -> Iterator[Fault]:
    """What does not fit the day or the state of the line's planting."""
    did, day = line["did"], line["date"]
    if day > today and did not in AHEAD:
        yield "date", f"{did} on {day} lies ahead; log it when it is done"
    if state is None or did not in LIFE or not state.told:
        return
    over = state.status in ("done", "lost")
    if over and state.end is not None and did in ("emerged", "harvested", "lost", "cleared"):
        if day > state.end or did in ("lost", "cleared"):
            said = "cleared" if state.status == "done" else "lost"
            yield "did", f"it was {said} on {state.end}; undo that first if it is wrong"
    elif did == "sown" and state.status != "lost" and state.start is not None:
        yield "did", f"it stands since {state.start}; log resown, or undo what is wrong"
    elif did == "resown" and state.status == "done":
        yield "did", f"it was cleared on {state.end}; add a new planting instead"


def _hint(close: list[str]) -> str:
    return f"; did you mean {' or '.join(close)}?" if close else "; say it in a note instead"
