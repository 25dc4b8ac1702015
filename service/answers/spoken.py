"""Words for answers: names cut to what a voice can carry, lists that fit, one sentence under 200 characters."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from functools import lru_cache
from typing import NamedTuple

from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.model import Bed, Plan
from service.speech import sentence, speakable
from service.words import MONTHS, as_list

#: The most characters of an answer: "under 200".
MOST = 199
#: Of a name so much is spoken.
_LONGEST = 40


def say(text: str) -> str:
    """A text as it is spoken: no symbols, units and dates in words, under 200 characters."""
    return sentence(text, MOST)


def short(name: str) -> str:
    """A name as it is spoken, cut after a whole word where it is long."""
    said = speakable(name)
    return said if len(said) <= _LONGEST else said[:_LONGEST].rsplit(" ", 1)[0].rstrip(" ,")


def heard(word: str) -> str:
    """What somebody said, as it is spoken back; "that" where nothing of it can be spoken."""
    said = short(word)
    return said if any(mark.isalnum() for mark in said) else "that"


def bed_name(bed: Bed) -> str:
    """A bed as it stands in a sentence."""
    return short(bed.name) or f"bed {short(bed.id)}" if bed.name != bed.id else f"bed {short(bed.id)}"


def joined(words: Iterable[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return as_list(words)


def either(words: Iterable[str]) -> str:
    """ "a", "a or b", "a, b or c"."""
    items = list(words)
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " or " + items[-1] if items else ""


def clauses(main: str, *more: str) -> str:
    """A sentence with as many of its further clauses, in order, as a voice has room for."""
    said = main
    for clause in more:
        if clause and fits(said + clause):
            said += clause
    return said


def fits(text: str) -> bool:
    """Whether a text leaves a sentence under 200 characters."""
    return len(speakable(text)) < MOST


class Reserve(NamedTuple):
    """What a sentence leaves open, in one or more ways, the fullest first; the smaller ``rank`` the weightier."""

    rank: int
    ways: Sequence[str]


def with_reserves(main: str, reserves: Sequence[Reserve]) -> str:
    """A sentence with what it leaves open, in the order given, the weightiest as fully as there is room for.

    A reserve that has a short way keeps it; one of a single way is left out where there is no room.
    """
    said = [one.ways[-1] if len(one.ways) > 1 else "" for one in reserves]
    for n in sorted(range(len(reserves)), key=lambda n: reserves[n].rank):
        tried = ([*said[:n], way, *said[n + 1 :]] for way in reserves[n].ways)
        said = next((one for one in tried if fits(main + "".join(one))), said)
    return clauses(main, *said)


def fitted(names: Sequence[str], lead: str, tail: str = "") -> str:
    """A list between two texts, the names that do not fit told as a number."""
    for count in range(len(names), 0, -1):
        left = len(names) - count
        said = lead + joined([*names[:count], *([f"{left} more"] if left else [])]) + tail
        if fits(said):
            return said
    return f"{lead}{len(names)}{tail}"


def short_day(day: date) -> str:
    """ "20 April"."""
    return f"{day.day} {MONTHS[day.month - 1]}"


def verb(crops: Sequence[Crop], one: str, many: str) -> str:
    """A verb as some crops take it: garlic stands, beans stand."""
    return one if len(crops) == 1 and crops[0].uncounted else many


def inside(text: str, plan: Plan, knowledge: Knowledge) -> str:
    """A sentence as it stands inside another: its first letter small, but in names that have it large."""
    text = text.rstrip(".")
    names = (*_large(knowledge), *(bed.name for bed in plan.beds), *(p.crop.plural for p in plan.plantings))
    if any(name and name[:1].isupper() and text.startswith(name) for name in names):
        return text
    return text[:1].lower() + text[1:]


@lru_cache(maxsize=4)
def _large(knowledge: Knowledge) -> tuple[str, ...]:
    """Names of what is known that are written with a capital."""
    crops = [
        name for crop in (*knowledge.crops.values(), *knowledge.groups.values()) for name in (crop.name, crop.plural)
    ]
    troubles = [*(pest.name for pest in knowledge.pests.values()), *(one.name for one in knowledge.diseases.values())]
    return tuple(dict.fromkeys(name for name in (*crops, *troubles) if name[:1].isupper()))
