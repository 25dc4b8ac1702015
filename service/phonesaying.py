"""A line of the journal in words that can be spoken: "12 cabbages planted in Kiln bed today"."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from rules.knowledge.facts import Crop
from rules.model import Bed, Plan, Planting
from service.answers.spoken import bed_name, short, short_day
from service.counted import Stage, plants
from service.schemas.words import number_text
from service.words import as_date

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

Line = Mapping[str, Any]

COVERS = {"fleece": "fleece", "net": "a net", "cage": "a cage", "fence": "a fence", "collar": "collars"}
SPREAD = {
    "compost": "compost put on", "lime": "lime put on", "fertiliser": "fertiliser put on",
    "new_soil": "new soil put in", "broke_sod": "sod broken in", "raw_manure": "raw manure put on",
}  # fmt: skip
#: One and many of the units of a harvest.
UNITS = {
    "kg": ("kilogram", "kilograms"), "g": ("gram", "grams"), "lb": ("pound", "pounds"), "oz": ("ounce", "ounces"),
    "pieces": ("piece", "pieces"), "bunches": ("bunch", "bunches"), "litres": ("litre", "litres"),
}  # fmt: skip
_DONE = {
    "sown": "sown in", "transplanted": "planted in", "resown": "sown again in", "lost": "lost in",
    "cleared": "cleared from", "emerged": "up in",
}  # fmt: skip
#: When plants are counted, by what was done; and said of "plants", which cannot be planted twice in a breath.
_STAGES: dict[str, Stage] = {"sown": "sown", "resown": "sown", "transplanted": "planted"}
_SET_OUT = "set out in"
#: The same of what is still to be set out.
_IN_TRAYS = {"sown": "sown in trays for", "emerged": "up in trays for", "lost": "lost in trays for"}
_LEVELS = {"low": "light", "moderate": "moderate", "severe": "severe"}
#: Causes that say less than the word that was used for them.
_VAGUE = frozenset({"animals", "other_disease", "other_pest"})


class Teller:
    """Tells lines of a garden: names of beds and crops are those of its plan."""

    def __init__(self, plan: Plan, knowledge: Knowledge, today: date) -> None:
        self.knowledge, self.today = knowledge, today
        self._beds: dict[str, Bed] = {bed.id: bed for bed in plan.beds}
        self._plantings: dict[str, Planting] = {p.id: p for p in plan.plantings}

    def told(self, line: Line) -> str:
        """What a line says and of which day, without an end mark."""
        return f"{self.what(line)} {self.day(line['date'])}"

    def what(self, line: Line) -> str:
        """What a line says, its day left out."""
        planting = self._plantings.get(line.get("planting", ""))
        crop = planting.crop if planting else None
        tell: Callable[[Line, Crop | None], str] = getattr(self, f"_{line['did']}", self._done)
        return tell(line, crop)

    def crop(self, line: Line) -> str:
        """The crop of a line's planting, "" for a line about none."""
        planting = self._plantings.get(line.get("planting", ""))
        return short(planting.crop.plural) if planting else ""

    def where(self, line: Line) -> str:
        """ "Kiln bed", or "the garden"."""
        word = line.get("bed")
        if word is None:
            return "the garden"
        bed = self._beds.get(word)
        return bed_name(bed) if bed else f"bed {short(word)}"

    def day(self, day: date) -> str:
        """ "today", "yesterday", "on 20 April", and with its year where that is another."""
        if day == self.today:
            return "today"
        if day == self.today - timedelta(days=1):
            return "yesterday"
        return f"on {short_day(day) if day.year == self.today.year else as_date(day)}"

    def _about(self, line: Line, crop: Crop | None) -> str:
        """ "Kiln bed", or "cabbages in Kiln bed" for a line about a planting."""
        return self.where(line) if crop is None else f"{short(crop.plural)} in {self.where(line)}"

    def _done(self, line: Line, crop: Crop | None) -> str:
        planting, done = self._plantings.get(line.get("planting", "")), _DONE[line["did"]]
        if planting and planting.method == "transplant" and planting.start > line["date"] and line["did"] in _IN_TRAYS:
            done = _IN_TRAYS[line["did"]]
        cause = f" to {self._cause(line['cause'])}" if "cause" in line else ""
        if planting and planting.method == "volunteer" and line["did"] == "emerged":
            done = "up unsown in"
        count, stage = line.get("count"), _STAGES.get(line["did"], "stands")
        told = plants(crop, count, stage)
        if count is not None and stage == "planted" and told.endswith(("plant", "plants")):
            done = _SET_OUT
        if planting and planting.variety and planting.variety.name:
            told = f"{told}, {short(planting.variety.name)},"
        return f"{told} {done} {self.where(line)}{cause}"

    def _covered(self, line: Line, crop: Crop | None) -> str:
        mesh = f" of {number_text(line['mesh'])} mm mesh" if "mesh" in line else ""
        return f"{self._about(line, crop)} covered with {COVERS[line['kind']]}{mesh}"

    def _uncovered(self, line: Line, crop: Crop | None) -> str:
        return f"{self._about(line, crop)} uncovered"

    def _treated(self, line: Line, crop: Crop | None) -> str:
        return f"{self._about(line, crop)} treated with {short(line['active'])}"

    def _watered(self, line: Line, crop: Crop | None) -> str:
        litres = line.get("litres")
        given = f" with {number_text(litres)} {'litre' if litres == 1 else 'litres'}" if litres else ""
        return f"{self._about(line, crop)} watered{given}"

    def _manured(self, line: Line, crop: Crop | None) -> str:
        return f"{SPREAD[line['kind']]} {self.where(line)}"

    def _sighting(self, line: Line, crop: Crop | None) -> str:
        level = f"{_LEVELS[line['level']]} attack of " if "level" in line else ""
        on = f"on {short(crop.plural)} " if crop else ""
        return f"{level}{self._trouble(line['of'])} seen {on}in {self.where(line)}"

    def _harvested(self, line: Line, crop: Crop | None) -> str:
        what = plants(crop, None)
        amount = line.get("amount")
        if amount is not None and line["unit"] == "pieces" and amount == int(amount):
            what = plants(crop, int(amount), "picked")
        elif amount is not None:
            one, many = UNITS[line["unit"]]
            what = f"{number_text(amount)} {one if amount == 1 else many} of {what}"
        return f"{what} harvested in {self.where(line)}"

    def _note(self, line: Line, crop: Crop | None) -> str:
        return f"note about {self._about(line, crop)}"

    def _cause(self, word: str) -> str:
        loss = self.knowledge.find_loss(word)
        return self._trouble(word) if loss is None or loss in _VAGUE else short(self.knowledge.facts.losses[loss])

    def _trouble(self, word: str) -> str:
        known = self.knowledge.find_trouble(word)
        return short(known.name if known else word.replace("_", " "))
