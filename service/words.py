"""Dates, lists, names and evidence in plain English, for every door that speaks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from rules.report import SEVERITIES, Finding, Grounds

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan, Window

MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
GRADES = {
    "trial": "measured in trials",
    "guidance": "published guidance",
    "practice": "growers' practice, not measured in trials",
}
#: Source keys that are no publication, told as what they are.
HONEST = {
    "memory": "known from memory, no page was read for it",
    "common practice": "common practice without a published source",
    "judgement": "our own judgement",
    "derived": "worked out from other figures",
}
#: Severity to its count in words, one and many.
COUNTED = {
    "breach": ("1 breaks a rule", "{n} break a rule"),
    "caution": ("1 works against you", "{n} work against you"),
    "advice": ("1 is advice", "{n} are advice"),
    "benefit": ("1 is a benefit", "{n} are benefits"),
}


def as_date(day: date) -> str:
    """ "1 November 2027"."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def as_month(day: date) -> str:
    """ "November 2027"."""
    return f"{MONTHS[day.month - 1]} {day.year}"


def as_span(window: Window) -> str:
    """ "1 March 2027 to 31 May 2027"."""
    return f"{as_date(window.start)} to {as_date(window.end)}"


def as_list(words: Iterable[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    items = list(words)
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1] if items else ""


def as_season(word: str) -> str:
    """ "2027-spring" as "spring 2027"; "2027" as "season 2027"."""
    year, _, quarter = word.partition("-")
    return f"{quarter} {year}" if quarter else f"season {year}"


def tame(text: str) -> str:
    """The text without control characters, which could steer a terminal."""
    return "".join(mark if mark.isprintable() else " " for mark in text)


def capital(text: str) -> str:
    """The text with its first letter raised, the rest as it is."""
    return text[:1].upper() + text[1:]


def family_name(key: str, knowledge: Knowledge) -> str:
    """ "cabbage family" for Brassicaceae; the key itself where no name is known."""
    family = knowledge.families.get(key)
    return family.name if family else key


def crop_plural(key: str, plan: Plan, knowledge: Knowledge) -> str:
    """The plural of a crop, a group word or a grower's own crop."""
    found = knowledge.crops.get(key) or knowledge.groups.get(key)
    if found is None:
        found = next((planting.crop for planting in plan.plantings if planting.crop.id == key), None)
    return found.plural if found else key.replace("_", " ")


def publishers(keys: Iterable[str], knowledge: Knowledge) -> list[str]:
    """Who says it, each once, in the order given; special keys in honest words."""
    names: list[str] = []
    for key in keys:
        source = knowledge.sources.get(key)
        name = HONEST.get(key) or (source.publisher if source else key)
        if name not in names:
            names.append(name)
    return names


def evidence_words(grounds: Grounds, knowledge: Knowledge) -> str:
    """How strong the ground is and who stands behind it, in one or two sentences."""
    read = publishers((key for key in grounds.sources if key not in HONEST), knowledge)
    rest = [HONEST[key] for key in HONEST if key in grounds.sources]
    said = GRADES[grounds.grade]
    if read:
        said += ": " + "; ".join(read)
    if rest:
        said += (". In part: " if read else ": ") + "; ".join(rest)
    if grounds.contested_by:
        said += ". Contested by " + "; ".join(publishers(grounds.contested_by, knowledge))
    return capital(said) + "."


def tally(findings: Sequence[Finding]) -> str:
    """ "2 break a rule, 1 works against you and 3 are advice"."""
    parts = []
    for severity in SEVERITIES:
        number = sum(finding.severity == severity for finding in findings)
        if number:
            parts.append(COUNTED[severity][number > 1].format(n=number))
    return as_list(parts)
