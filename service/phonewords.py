"""A flat line as a phone sends it, JSON or form, in the words of the journal: numbers, days and everyday words read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any, NamedTuple

from marshmallow import ValidationError, fields

from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from service.answers.spoken import either
from service.asked import FIRST_YEAR, day_asked
from service.phonevalues import (
    ALL,
    BY_ITSELF,
    MEANT,
    SAID,
    WORK,
    amount_said,
    day_said,
    number_said,
    part_said,
    word_said,
)
from service.schemas.entry import DID, EntrySchema
from service.schemas.fields import IsoDate, Name, OneOf
from service.schemas.plan import Share
from service.schemas.rows import PlainSchema, Several
from service.schemas.words import clean, shown
from service.words import capital

Fault = tuple[str, str]

#: Keys that go by the names that people use, which only the garden can tell.
PLACES = ("bed", "crop", "planting")
#: What to say where a key is missing.
_NEEDED = {
    "active": "Say what it was treated with, the active ingredient on the label",
    "of": "Say which pest or disease was seen",
    "note": "Say what to note",
    "unit": "Say the unit of the amount too, such as kilos, pieces or bunches",
    "amount": "Say the amount that goes with the unit",
}
_PART = "Say which part of the bed, such as first half, last third, or from 0 to 0.5 of its length"


class _Which(PlainSchema):
    """What tells one planting of a crop from another in the same bed; it is the planting's, not the line's."""

    variety = Name()
    part = Share()


class Words(NamedTuple):
    """A line read: what it says in the journal's words, and bed, crop and planting as they were said.

    ``by_itself`` is true of what came up without being sown; ``variety`` and ``part`` are of the planting.
    """

    line: dict[str, Any]
    bed: str | None = None
    crop: str | None = None
    planting: str | None = None
    by_itself: bool = False
    variety: str | None = None
    part: tuple[float, float] | None = None


def read_words(flat: Any, today: date) -> tuple[Words, list[Fault]]:
    """What a flat line says, and what is wrong with it by key; empty texts are absent.

    The line has its date, of today where none is given; with faults it holds what could be read.
    """
    if not isinstance(flat, Mapping):
        return Words({"date": today}), [("", "Send one flat group of keys and values")]
    given = {str(key): _plain(value) for key, value in flat.items()}
    given = {key: value for key, value in given.items() if value not in (None, "")}
    faults = list(_place_faults(given))
    said = normal(given["did"]) if isinstance(given.get("did"), str) else None
    given = _in_full(said, given)
    places = {key: str(given.pop(key)) for key in PLACES if key in given}
    which, unclear = _which({key: given.pop(key) for key in _Which().fields if key in given})
    faults += unclear
    line = {key: _read(key, value, today) for key, value in given.items()}
    wrong = _date_fault(line)
    if wrong is not None:
        faults.append(wrong)
        del line["date"]
    told = "corrects" in line
    if line.get("did") == "undo":
        faults += [(key, f"Undo takes no {key}") for key in ("planting", *which) if key in {**places, **which}]
    elif which and line.get("did") in DID and not (places.keys() & {"crop", "planting"}):
        faults += [(key, f"Name the crop too where you name its {key}") for key in which]
    typed, found = _typed({"date": today.isoformat(), **line})
    if not told:
        typed.pop("corrects", None)
    typed["date"] = day_asked(str(line.get("date"))) or today
    return Words(typed, **places, by_itself=said in BY_ITSELF, **which), faults + found


def _which(given: dict[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    """Variety and part as the plan writes them."""
    if isinstance(given.get("part"), str):
        given["part"] = part_said(given["part"])
    try:
        typed: dict[str, Any] = _Which().load(given)
    except ValidationError as error:
        messages: Any = error.messages
        return {}, [
            (key, _PART if key == "part" else text) for key, texts in messages.items() for text in _texts(texts)
        ]
    return typed, []


def _in_full(said: str | None, given: dict[str, Any]) -> dict[str, Any]:
    """What was said with what its word means besides; other work is a note."""
    if said in WORK:
        many = f", {given['count']} plants" if "count" in given else ""
        more = f": {given['note']}" if "note" in given else ""
        kept = {key: value for key, value in given.items() if key != "count"}
        return {**kept, "did": "note", "note": f"{capital(str(said))}{many}{more}"}
    full = {**MEANT.get(said or "", {}), **given}
    if SAID.get(said or "", said) == "cleared" and normal(str(given.get("crop", ""))) in ALL:
        del full["crop"]
    if SAID.get(said or "", said) == "watered" and "amount" in full and "litres" not in full:
        full["litres"] = full.pop("amount")
    if SAID.get(said or "", said) == "harvested" and (amount := amount_said(full)):
        full = {**{key: value for key, value in full.items() if key != "count"}, **amount}
    return full


def _typed(line: dict[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    did = line.get("did")
    if did is None:
        return line, [("did", "Say what was done, such as sown, transplanted, harvested or cleared")]
    if not isinstance(did, str) or did not in DID:
        close = nearest(str(did), [*DID, *SAID, *WORK], 1)
        hint = f", the nearest is {close[0]}" if close else f", say one of {', '.join(DID)}"
        word = clean(str(did)) if any(map(str.isalnum, str(did))) else "like that"  # signs are not spoken
        return line, [("did", f"The journal has no word {word}{hint}")]
    if did == "undo":
        extra = [key for key in line if key not in ("did", "corrects", "date") and not key.startswith("x-")]
        line = {"corrects": 1, **line}
        if extra:
            return line, [(key, f"Undo takes no {key}") for key in extra]
    try:
        return EntrySchema().load(line), []
    except ValidationError as error:
        messages: Any = error.messages
        return line, [(key, _asked(did, key, text)) for key, texts in messages.items() for text in _texts(texts)]


def _asked(did: str, key: str, text: str) -> str:
    """What is wrong with a key, as a voice would ask for it."""
    if key == "kind" and (kinds := DID[did].kinds):
        manure = ", raw manure where it was fresh and compost where it was well rotted" if did == "manured" else ""
        return f"Say which kind, {either(kinds)}{manure}"
    if key == "unit" and "must be one of" in text:
        return f"Say the unit as kilos, grams, pounds, ounces, pieces, bunches or litres, {text.partition('; ')[2]}"
    return _NEEDED.get(key, text) if text.endswith(f"needs {key}") or " is missing" in text else text


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
        if key in given and (isinstance(given[key], bool) or not isinstance(given[key], str | int)):
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
        return day_said(value, today, ahead=key != "date")
    if isinstance(field, fields.Integer | fields.Float):
        return number_said(key, value)
    if isinstance(field, Several):
        return [word.strip() for word in value.split(",") if word.strip()]
    return word_said(key, value) if isinstance(field, OneOf) else value


def _date_fault(line: Mapping[str, Any]) -> Fault | None:
    day = line.get("date")
    if day is None or (isinstance(day, str) and day_asked(day) is not None):
        return None
    return "date", f"That is no date, write year, month and day in figures with hyphens, {FIRST_YEAR} to 2199"
