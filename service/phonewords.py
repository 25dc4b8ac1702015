"""A flat line as a phone sends it, JSON or form, in the words of the journal: numbers, days and everyday words read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import Any, NamedTuple

from marshmallow import ValidationError, fields

from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from service.asked import FIRST_YEAR, day_asked
from service.schemas.entry import DID, EntrySchema
from service.schemas.fields import IsoDate, OneOf
from service.schemas.rows import Several
from service.schemas.words import clean, shown

Fault = tuple[str, str]

#: What people say for a word of the journal.
SAID = {
    "sow": "sown", "sowed": "sown", "plant": "transplanted", "planted": "transplanted",
    "planted out": "transplanted", "set out": "transplanted", "transplant": "transplanted", "came up": "emerged",
    "up": "emerged", "lose": "lost", "died": "lost", "sown again": "resown", "resow": "resown",
    "resowed": "resown", "cover": "covered", "netted": "covered", "uncover": "uncovered",
    "treat": "treated", "sprayed": "treated", "water": "watered", "manure": "manured", "fed": "manured",
    "limed": "manured", "seen": "sighting", "saw": "sighting", "spotted": "sighting", "harvest": "harvested",
    "picked": "harvested", "dug up": "harvested", "lifted": "harvested", "clear": "cleared", "pulled": "cleared",
    "removed": "cleared", "noted": "note", "undo last": "undo",
}  # fmt: skip
#: What people say for a unit of a harvest.
UNITS = {
    "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg", "gram": "g", "grams": "g", "pound": "lb",
    "pounds": "lb", "lbs": "lb", "ounce": "oz", "ounces": "oz", "piece": "pieces", "bunch": "bunches",
    "litre": "litres", "liter": "litres", "liters": "litres", "l": "litres",
}  # fmt: skip
#: Words that stand for other keys too: a phone has one box for a crop and one for a bed.
PLACES = ("bed", "crop")
_DAYS = {"today": 0, "now": 0, "yesterday": 1}
_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:\.[0-9]{1,6})?", re.ASCII)
_MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ][0-9]{2}:[0-9]{2}\S{0,24}", re.ASCII)


class Words(NamedTuple):
    """A line read: what it says in the journal's words, and bed and crop as they were said."""

    line: dict[str, Any]
    bed: str | None
    crop: str | None


def read_words(flat: Any, today: date) -> tuple[Words, list[Fault]]:
    """What a flat line says, and what is wrong with it by key; empty texts are absent.

    The line has its date, of today where none is given; with faults it holds what could be read.
    """
    if not isinstance(flat, Mapping):
        return Words({"date": today}, None, None), [("", "Send one flat group of keys and values")]
    given = {str(key): _plain(value) for key, value in flat.items()}
    given = {key: value for key, value in given.items() if value not in (None, "")}
    faults = list(_place_faults(given))
    places = {key: str(given.pop(key)) for key in PLACES if key in given}
    line = {key: _read(key, value, today) for key, value in given.items()}
    wrong = _date_fault(line)
    if wrong is not None:
        faults.append(wrong)
        del line["date"]
    told = "corrects" in line
    typed, found = _typed({"date": today.isoformat(), **line})
    if not told:
        typed.pop("corrects", None)
    typed["date"] = day_asked(str(line.get("date"))) or today
    return Words(typed, places.get("bed"), places.get("crop")), faults + found


def _typed(line: dict[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    did = line.get("did")
    if did is None:
        return line, [("did", "Say what was done, such as sown, transplanted, harvested or cleared")]
    if did not in DID:
        close = nearest(str(did), [*DID, *SAID], 1)
        hint = f", the nearest is {SAID.get(close[0], close[0])}" if close else f", say one of {', '.join(DID)}"
        return line, [("did", f"The journal has no word {clean(str(did))}{hint}")]
    if did == "undo":
        extra = [key for key in line if key not in ("did", "corrects", "date") and not key.startswith("x-")]
        line = {"corrects": 1, **line}
        if extra:
            return line, [(key, f"Undo takes no {key}") for key in extra]
    try:
        return EntrySchema().load(line), []
    except ValidationError as error:
        messages: Any = error.messages
        return line, [(key, text) for key, texts in messages.items() for text in _texts(texts)]


def _texts(found: Any) -> Iterator[str]:
    if isinstance(found, Mapping):
        for inner in found.values():
            yield from _texts(inner)
    elif isinstance(found, list):
        for inner in found:
            yield from _texts(inner)
    else:
        yield str(found)


def _plain(value: Any) -> Any:
    return value.strip() if isinstance(value, str) else value


def _place_faults(given: dict[str, Any]) -> Iterator[Fault]:
    for key in PLACES:
        if key in given and not isinstance(given[key], str | int):
            yield key, f"The {key} must be a name, not {shown(given.pop(key))}"


def _read(key: str, value: Any, today: date) -> Any:
    """A text as its field takes it; what cannot be read is left for the field to refuse."""
    if not isinstance(value, str):
        return value
    if key == "did":
        word = normal(value)
        return SAID.get(word, word)
    field = EntrySchema._declared_fields.get(key)
    if isinstance(field, IsoDate):
        return _day(value, today)
    if isinstance(field, fields.Integer | fields.Float) and _NUMBER.fullmatch(value):
        return float(value) if "." in value else int(value)
    if isinstance(field, Several):
        return [word.strip() for word in value.split(",") if word.strip()]
    if key == "unit":
        return UNITS.get(normal(value), value)
    return value.casefold() if isinstance(field, OneOf) else value


def _day(value: str, today: date) -> str:
    if value.casefold() in _DAYS:
        return (today - timedelta(days=_DAYS[value.casefold()])).isoformat()
    moment = _MOMENT.fullmatch(value)
    return moment.group(1) if moment else value


def _date_fault(line: Mapping[str, Any]) -> Fault | None:
    day = line.get("date")
    if day is None or (isinstance(day, str) and day_asked(day) is not None):
        return None
    return "date", f"That is no date, write year, month and day in figures with hyphens, {FIRST_YEAR} to 2199"
