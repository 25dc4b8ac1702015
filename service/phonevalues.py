"""What people say for the words, numbers and days of a line: everyday text in, the journal's own values out.

What cannot be read is given back as it was, for the field that it is meant for to refuse.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, timedelta
from fractions import Fraction

from rules.knowledge.names import normal
from service.words import MONTHS

#: What people say for a word of the journal.
SAID = {
    "sow": "sown", "sowed": "sown", "seeded": "sown", "plant": "transplanted", "planted": "transplanted",
    "planted out": "transplanted", "set out": "transplanted", "transplant": "transplanted", "came up": "emerged",
    "up": "emerged", "sprouted": "emerged", "germinated": "emerged", "lose": "lost", "died": "lost",
    "sown again": "resown", "resow": "resown", "resowed": "resown", "cover": "covered", "netted": "covered",
    "fleeced": "covered", "caged": "covered", "fenced": "covered", "uncover": "uncovered", "treat": "treated",
    "sprayed": "treated", "water": "watered", "irrigated": "watered", "manure": "manured", "fed": "manured",
    "fertilised": "manured", "fertilized": "manured", "limed": "manured", "composted": "manured",
    "seen": "sighting", "saw": "sighting", "spotted": "sighting", "harvest": "harvested", "picked": "harvested",
    "dug up": "harvested", "lifted": "harvested", "clear": "cleared", "pulled": "cleared",
    "pulled up": "cleared", "removed": "cleared", "noted": "note", "undo last": "undo", "volunteer": "emerged",
    "volunteers": "emerged", "volunteered": "emerged", "self sown": "emerged", "self seeded": "emerged",
    "killed": "lost", "failed": "lost", "eaten": "lost", "frosted": "lost", "bolted": "lost", "drowned": "lost",
}  # fmt: skip
#: What some of these say besides.
MEANT = {
    "netted": {"kind": "net"}, "fleeced": {"kind": "fleece"}, "caged": {"kind": "cage"}, "fenced": {"kind": "fence"},
    "limed": {"kind": "lime"}, "composted": {"kind": "compost"}, "fed": {"kind": "fertiliser"},
    "fertilised": {"kind": "fertiliser"}, "fertilized": {"kind": "fertiliser"},
    "frosted": {"cause": "frost"}, "bolted": {"cause": "bolting"}, "drowned": {"cause": "waterlogging"},
}  # fmt: skip
#: Of what came up by itself.
BY_ITSELF = frozenset({"volunteer", "volunteers", "volunteered", "self sown", "self seeded"})
#: Said for a crop, of all that stands in a bed.
ALL = frozenset({"all", "everything", "all of it", "the lot", "whole bed", "the whole bed"})
#: Other work, which the journal keeps as a note.
WORK = frozenset({
    "weeded", "hoed", "mulched", "thinned", "thinned out", "pruned", "staked", "tied up", "earthed up", "pinched out",
    "pricked out", "potted on", "hardened off", "dug", "dug over", "turned over", "tidied",
    "forked over", "raked", "mown", "trimmed",
})  # fmt: skip
#: What people say for the words that a key takes.
WORDS = {
    "unit": {
        "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg", "gram": "g", "grams": "g", "pound": "lb",
        "pounds": "lb", "lbs": "lb", "ounce": "oz", "ounces": "oz", "piece": "pieces", "head": "pieces",
        "heads": "pieces", "fruit": "pieces", "fruits": "pieces", "bulb": "pieces", "bulbs": "pieces",
        "cob": "pieces", "cobs": "pieces", "ears": "pieces", "stick": "pieces", "sticks": "pieces",
        "stalk": "pieces", "stalks": "pieces", "spear": "pieces", "spears": "pieces", "pod": "pieces",
        "pods": "pieces", "leaf": "pieces", "leaves": "pieces", "root": "pieces", "roots": "pieces",
        "bunch": "bunches", "litre": "litres", "liter": "litres", "liters": "litres", "l": "litres",
    },
    "kind": {
        "netting": "net", "insect net": "net", "insect mesh": "net", "bird net": "net", "row cover": "fleece",
        "frost cloth": "fleece", "garden fleece": "fleece", "collars": "collar", "fertilizer": "fertiliser",
        "feed": "fertiliser", "garden compost": "compost", "leaf mould": "compost", "rotted manure": "compost",
        "well rotted manure": "compost", "raw manure": "raw_manure", "fresh manure": "raw_manure",
        "new soil": "new_soil", "broke sod": "broke_sod", "turf": "broke_sod",
    },
    "level": {
        "few": "low", "a few": "low", "light": "low", "mild": "low", "slight": "low", "medium": "moderate",
        "some": "moderate", "bad": "severe", "heavy": "severe", "high": "severe", "many": "severe", "a lot": "severe",
        "lots": "severe", "loads": "severe", "everywhere": "severe", "one": "low", "a couple": "low",
    },
}  # fmt: skip
#: What may be said after the number of a key, and means nothing more.
_AFTER = {
    "count": ("plant", "plants", "seed", "seeds"), "litres": ("l", "litre", "litres", "liter", "liters"),
    "mesh": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "harvest_interval": ("day", "days"),
}  # fmt: skip
#: Units as they may be said after a number in words.
_UNITS = frozenset({*WORDS["unit"], "kg", "g", "lb", "oz", "pieces", "bunches", "litres"})
#: Millimetres in an inch.
_INCH = 25.4
_FEW = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
#: Numbers in words, as a voice writes the small ones.
FIGURES = {word: number for number, word in enumerate(_FEW, 1)}
NUMBERS = {
    **FIGURES,
    **{"a": 1, "an": 1, "half a dozen": 6, "dozen": 12, "a dozen": 12, "twenty": 20, "thirty": 30, "forty": 40},
    **{"fifty": 50, "sixty": 60, "eighty": 80, "hundred": 100, "a hundred": 100, "half": 0.5, "a half": 0.5},
    **{"half a": 0.5, "half an": 0.5, "quarter": 0.25, "a quarter": 0.25, "couple": 2, "a couple": 2, "a couple of": 2},
}
_NUMBER = re.compile(r"[+-]?[0-9]{1,12}(?:[.][0-9]{1,6}|,[0-9]{1,2})?", re.ASCII)
_MIXED = re.compile(r"(?:([0-9]{1,6}) )?([0-9]{1,3})/([1-9][0-9]{0,2})", re.ASCII)
_WITH_WORD = re.compile(r"([0-9][0-9 .,/]{0,20}?)\s*([^\W\d_]{1,20})")
_MOMENT = re.compile(r"([0-9]{4}-[0-9]{2}-[0-9]{2})[T ][0-9]{2}:[0-9]{2}\S{0,24}", re.ASCII)
_DAYS = {"today": 0, "now": 0, "yesterday": 1, "day before yesterday": 2, "the day before yesterday": 2, "tomorrow": -1}
_WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
#: Parts of a bed's length, and how many there are of each.
_NTH = {"first": 1, "second": 2, "third": 3, "fourth": 4}
_PARTS = {"half": 2, "third": 3, "quarter": 4}
_FROM_TO = re.compile(r"(?:from )?([0-9.]{1,6}) ?(?:to|-|,) ?([0-9.]{1,6})", re.ASCII)
_AGO = re.compile(r"(\S{1,8}) (day|week)s? ago")
_MONTHS = {name[:length].casefold(): number for number, name in enumerate(MONTHS, 1) for length in (3, len(name))}
_DATED = re.compile(r"(?:(\d{1,2})(?:st|nd|rd|th)?(?: of)? ([a-z]{3,9})|([a-z]{3,9}) (\d{1,2})(?:st|nd|rd|th)?),?"
                    r"(?: (\d{4}))?", re.ASCII)  # fmt: skip


def word_said(key: str, text: str) -> str:
    """A word as its key takes it.

    >>> word_said("unit", "Kilos"), word_said("kind", "raw manure"), word_said("level", "Severe")
    ('kg', 'raw_manure', 'severe')
    """
    return WORDS.get(key, {}).get(normal(text), text.casefold())


def number_said(key: str, text: str) -> int | float | str:
    """A number: in figures with a point or a comma, a fraction or a small one in words; its unit may follow.

    >>> number_said("count", "a dozen"), number_said("litres", "2,5 litres"), number_said("amount", "1 1/2")
    (12, 2.5, 1.5)
    >>> number_said("litres", "1,000"), number_said("litres", "5 gallons"), number_said("mesh", "1/4 inch")
    ('1,000', '5 gallons', 6.35)
    """
    word = normal(text)
    if word in NUMBERS:
        return NUMBERS[word]
    split = _WITH_WORD.fullmatch(text)
    if split and split[2].casefold() in _AFTER.get(key, ()):
        text = split[1].strip()
    elif split and key == "mesh" and split[2].casefold() in ("in", "inch", "inches"):
        inches = number_said("", split[1].strip())
        return round(inches * _INCH, 2) if isinstance(inches, int | float) else text
    if mixed := _MIXED.fullmatch(text):
        return float(int(mixed[1] or 0) + Fraction(int(mixed[2]), int(mixed[3])))
    if not _NUMBER.fullmatch(text):
        return text
    plain = text.replace(",", ".")
    return float(plain) if "." in plain else int(plain)


def part_said(text: str) -> list[float] | str:
    """A part of a bed as two shares of its length.

    >>> part_said("first half"), part_said("the middle third"), part_said("0 to 0.25"), part_said("left")
    ([0.0, 0.5], [0.3333, 0.6667], [0.0, 0.25], 'left')
    """
    words = normal(text).removeprefix("the ").split()
    if len(words) == 2 and (many := _PARTS.get(words[1])):
        named = {**_NTH, "last": many, "middle": 2 if many == 3 else 0}
        if 0 < (nth := named.get(words[0], 0)) <= many:
            return [round((nth - 1) / many, 4), round(nth / many, 4)]
    found = _FROM_TO.fullmatch(text.strip().strip("[]()").casefold())
    try:
        return [float(found[1]), float(found[2])] if found else text
    except ValueError:
        return text


def amount_said(given: Mapping[str, object]) -> dict[str, object]:
    """The amount and unit of a harvest where one word holds both, or where what was counted is its pieces.

    >>> amount_said({"amount": "2.5 kilos"}), amount_said({"count": 6}), amount_said({"amount": 2, "unit": "kg"})
    ({'amount': '2.5', 'unit': 'kilos'}, {'amount': 6, 'unit': 'pieces'}, {})
    >>> amount_said({"amount": "half a kilo"}), amount_said({"amount": "a bag"})
    ({'amount': 0.5, 'unit': 'kilo'}, {})
    """
    amount = given.get("amount")
    if amount is None and "unit" not in given and "count" in given:
        return {"amount": given["count"], "unit": "pieces"}
    if not isinstance(amount, str) or "unit" in given:
        return {}
    if split := _WITH_WORD.fullmatch(amount):
        return {"amount": split[1].strip(), "unit": split[2]}
    many, _, unit = normal(amount).rpartition(" ")
    return {"amount": NUMBERS[many], "unit": unit} if many in NUMBERS and unit in _UNITS else {}


def day_said(text: str, today: date, *, ahead: bool = False) -> str:
    """A day as YYYY-MM-DD; one without its year is the last such day, or the next where it may lie ahead.

    >>> day = date(2027, 4, 22)
    >>> day_said("yesterday", day), day_said("last Sunday", day), day_said("two weeks ago", day)
    ('2027-04-21', '2027-04-18', '2027-04-08')
    >>> day_said("20 April 2026", day), day_said("May 3rd", day), day_said("May 3rd", day, ahead=True)
    ('2026-04-20', '2026-05-03', '2027-05-03')
    """
    if moment := _MOMENT.fullmatch(text):
        return moment[1]
    word = " ".join(text.casefold().split()).removeprefix("on ")
    back = _DAYS.get(word)
    if back is None and (ago := _AGO.fullmatch(word)):
        many = number_said("", ago[1])
        back = many * (7 if ago[2] == "week" else 1) if isinstance(many, int) and 0 < many <= 400 else None
    if back is None and (name := word.removeprefix("last ")) in _WEEK:
        back = (today.weekday() - _WEEK.index(name)) % 7 or (7 if name != word else 0)
    if back is not None:
        return (today - timedelta(days=back)).isoformat()
    dated = _DATED.fullmatch(word)
    month = _MONTHS.get(dated[2] or dated[3]) if dated else None
    if dated is None or month is None:
        return text
    number, year = int(dated[1] or dated[4]), dated[5]
    years = (
        [int(year)] if year else range(today.year, today.year + 9) if ahead else range(today.year, today.year - 9, -1)
    )
    days = (_day(one, month, number) for one in years)
    fit = (day for day in days if day is not None and (year or (day >= today if ahead else day <= today)))
    return next((day.isoformat() for day in fit), text)


def _day(year: int, month: int, number: int) -> date | None:
    try:
        return date(year, month, number)
    except ValueError:
        return None
