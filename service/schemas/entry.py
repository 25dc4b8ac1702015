"""A line of the journal as it is sent: flat, so that a phone can fill it in."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from marshmallow import ValidationError, fields, validate, validates_schema

from service.schemas.fields import DecimalNumber, IsoDate, Name, OneOf, Refused, Slug, Strict, WholeNumber
from service.schemas.rows import PlainSchema, Several
from service.schemas.words import shown

LONGEST_NOTE = 1_000

COVERS = ("fleece", "net", "cage", "fence", "collar")
AMENDMENTS = ("compost", "lime", "fertiliser", "new_soil", "broke_sod", "raw_manure")


class Details(NamedTuple):
    """What a word of the journal needs and what else it takes; ``kinds`` are the words for its ``kind``."""

    needs: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()


#: Of a line that made its planting; never sent, and kept by an export.
MADE = "made"
#: Of a line that was said in one breath with the one before it; never sent, and kept by an export.
JOINED = "joined"
#: The words of the journal.  All take bed, planting, date and note as well.
DID: dict[str, Details] = {
    "sown": Details(takes=("count", MADE)),
    "transplanted": Details(takes=("count", MADE)),
    "emerged": Details(takes=("count", MADE)),
    "lost": Details(takes=("cause", "count")),
    "resown": Details(takes=("count", MADE)),
    "covered": Details(("kind",), ("mesh", "edges", "open_by_day_from", "until", "plantings"), COVERS),
    "uncovered": Details(),
    "treated": Details(("active",), ("harvest_interval",)),
    "watered": Details(takes=("litres",)),
    "manured": Details(("kind",), (), AMENDMENTS),
    "sighting": Details(("of",), ("level",)),
    "harvested": Details(takes=("amount", "unit")),
    "cleared": Details(takes=(JOINED,)),
    "note": Details(("note",)),
    "undo": Details(("corrects",)),
}
#: Keys that stand in columns of their own; all others are details.
PLACED = ("did", "date", "bed", "planting", "note", "corrects")
#: The same with what an import brings along and a line that is sent does not have.
STORED = (*PLACED, "recorded_at")


class Note(Strict, fields.String):
    """Text of 1 to 1,000 characters, on several lines if need be."""

    by_text = True
    _form = re.compile(r"^[^\u0000-\u0008\u000b-\u001f\u007f-\u009f\ud800-\udfff]*$")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(validate.Length(1, LONGEST_NOTE), validate.Regexp(self._form), **kwargs)

    def read(self, value: Any) -> str:
        """The text without blanks around it, or ``Refused``."""
        if type(value) is str and len(value) <= LONGEST_NOTE:
            text = value.replace("\r\n", "\n").strip()
            if text and self._form.fullmatch(text):
                return text
        raise Refused

    def complaint(self, value: Any) -> str:
        """What is wrong and what would be right."""
        return f"must be text of 1 to {LONGEST_NOTE:,} characters without control characters; got {shown(value)}"


class EntrySchema(PlainSchema):
    """One line: what was done or seen, where and when."""

    did = OneOf(tuple(DID), required=True)
    date = IsoDate()
    bed = Slug()
    planting = Slug()
    note = Note()
    corrects = WholeNumber(1, 2**31 - 1)
    count = WholeNumber(1, 1_000_000)
    cause = Name()
    kind = OneOf((*COVERS, *AMENDMENTS))
    mesh = DecimalNumber(0.1, 200)
    edges = OneOf(("shut", "open"))
    open_by_day_from = IsoDate()
    until = IsoDate()
    plantings = Several(Slug(), most=1_000)
    active = Name()
    harvest_interval = WholeNumber(0, 365)
    litres = DecimalNumber(0, 1_000_000, above=True)
    of = Name()
    level = OneOf(("low", "moderate", "severe"))
    amount = DecimalNumber(0, 1_000_000, above=True)
    unit = OneOf(("kg", "g", "lb", "oz", "pieces", "bunches", "litres"))

    @validates_schema
    def _fits_its_word(self, data: dict[str, Any], **kwargs: Any) -> None:
        if faults := misfits(data):
            raise ValidationError(faults)


def misfits(data: dict[str, Any]) -> dict[str, list[str]]:
    """What a typed line lacks or has too much for its word, by key."""
    did = data["did"]
    details = DID[did]
    faults = {key: [f"{did} needs {key}"] for key in details.needs if key not in data}
    for key in data:
        if key not in (*STORED, *details.needs, *details.takes):
            faults[key] = [f"{did} does not take {key}"]
    if "corrects" in data and did != "undo":
        faults["corrects"] = [f"{did} does not take corrects"]
    kind = data.get("kind")
    if details.kinds and kind is not None and kind not in details.kinds:
        faults["kind"] = [f"kind must be one of {', '.join(details.kinds)}; got {shown(kind)}"]
    if ("amount" in data) != ("unit" in data) and "unit" in details.takes:
        missing = "unit" if "amount" in data else "amount"
        faults[missing] = [f"{missing} is missing: an amount and its unit go together"]
    for key in ("until", "open_by_day_from"):
        if key in data and "date" in data and data[key] < data["date"]:
            faults[key] = [f"{key} {data[key]} lies before the date {data['date']}"]
    return faults
