"""A question and the names in it: which bed, which crop, which day, or what is wrong with them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date as Day
from functools import cached_property
from typing import NamedTuple

from rules.knowledge.facts import FALLOW, Crop
from rules.knowledge.known import Knowledge
from rules.knowledge.names import normal
from rules.knowledge.shapes import nearest
from rules.model import Bed, Plan, Planting
from rules.seasons import FIRST_YEAR, LAST_YEAR
from service.answers.daymeant import NoDay, day_meant
from service.answers.spoken import bed_name, either, heard, joined, short
from service.phonevalues import FIGURES
from service.schemas.words import LONGEST_NAME
from service.words import as_date, capital, family_name


class Said(NamedTuple):
    """An answer: a sentence to be spoken, and whether it is a yes (or tells what was asked)."""

    say: str
    ok: bool


class Unanswerable(ValueError):
    """A question that cannot be answered as it stands; the message can be spoken."""


class Ask(NamedTuple):
    """A question by name: what it needs, what it may have besides, and what it asks."""

    name: str
    needs: tuple[str, ...]
    takes: tuple[str, ...]
    about: str


#: What each question needs and takes; a date always defaults to the plan's own day.
ASKS: dict[str, Ask] = {
    ask.name: ask
    for ask in (
        Ask("may", ("crop", "bed"), ("date",), "may the crop go into the bed on the date"),
        Ask("was", ("bed",), ("crop", "date"), "what grew in the bed, or when the crop last did"),
        Ask("free", ("crop", "bed"), ("date",), "when is the bed free for the crop or family"),
        Ask("where", ("crop",), ("date",), "in which beds can the crop go on the date"),
        Ask("now", ("bed",), ("date",), "what can go into the bed on the date"),
        Ask("with", ("crop",), ("bed", "date"), "what does the crop go with, in the bed or the garden"),
        Ask("due", (), ("date",), "what is due in the week from the date on"),
        Ask("pick", ("bed",), ("crop", "date"), "may the bed be picked on the date"),
        Ask("cover", ("bed",), ("date",), "when does the cover come off the bed"),
    )
}


@dataclass(frozen=True)
class Question:
    """A question whose names are found; ``crop`` and ``bed`` are there where the ask needs them."""

    plan: Plan
    knowledge: Knowledge
    day: Day
    named_crop: Crop | None
    named_bed: Bed | None
    family: str | None

    @property
    def crop(self) -> Crop:
        """The crop that is asked about."""
        assert self.named_crop is not None
        return self.named_crop

    @property
    def bed(self) -> Bed:
        """The bed that is asked about."""
        assert self.named_bed is not None
        return self.named_bed

    @cached_property
    def beds(self) -> dict[str, Bed]:
        """Beds by id."""
        return {bed.id: bed for bed in self.plan.beds}

    def standing(self, bed: Bed) -> list[Planting]:
        """What stands in a bed on the day, dated rows only, by start."""
        return [
            p
            for p in self.plan.plantings
            if p.bed == bed.id and p.exact != "year" and p.crop.id != FALLOW and p.status != "lost"
            if p.start <= self.day <= p.end
        ]


def gone(question: Question, bed: Bed) -> str | None:
    """Why a bed is none on the day; None where it is there."""
    name = capital(bed_name(bed))
    if bed.start is not None and question.day < bed.start:
        return f"{name} is there from {as_date(bed.start)} only."
    if bed.end is not None and question.day > bed.end:
        heirs = [bed_name(heir) for heir in question.plan.beds if any(r.bed == bed.id for r in heir.replaces)]
        now = f", its ground is now {joined(heirs)}" if heirs else ""
        return f"{name} is no more since {as_date(bed.end)}{now}."
    return None


def require_bed(question: Question, bed: Bed) -> None:
    """Raise ``Unanswerable`` where a bed is not there on the day."""
    why = gone(question, bed)
    if why is not None:
        raise Unanswerable(why)


def ask_named(word: str) -> Ask:
    """The question of a name."""
    found = ASKS.get(word.strip().casefold())
    if found is None:
        raise Unanswerable(f"No question is called {heard(word)}, ask {either(ASKS)}.")
    return found


def resolved(
    ask: Ask, plan: Plan, knowledge: Knowledge, *, crop: str | None, bed: str | None, date: Day | str | None
) -> Question:
    """The question with its names found.

    Raises
    ------
    Unanswerable
        naming all that is missing, not taken or unknown.
    """
    words = {"crop": crop, "bed": bed, "date": date}
    given = {name: word for name, word in words.items() if word is not None and str(word).strip()}
    found = NameFinder(plan, knowledge)
    found.faults += _shape(ask, given)
    wanted = {name: word for name, word in given.items() if name in (*ask.needs, *ask.takes)}
    if crop is not None and "crop" in wanted:
        found.crop(crop, family=ask.name == "free")
    if bed is not None and "bed" in wanted:
        found.bed(bed)
    if "date" in wanted:
        found.date(wanted["date"], ahead=ask.name != "was")
    if found.faults:
        raise Unanswerable(" ".join(found.faults))
    return Question(plan, knowledge, found.day, found.found_crop, found.found_bed, found.family)


def _shape(ask: Ask, given: dict[str, Day | str]) -> Iterator[str]:
    missing = [name for name in ask.needs if name not in given]
    if missing:
        yield f"To ask {ask.name}, name the {joined(missing)}."
    extra = [name for name in given if name not in (*ask.needs, *ask.takes)]
    if extra:
        yield f"The question {ask.name} takes no {either(extra)}, leave it out."


class NameFinder:
    """Finds what a question names, and notes what it does not find."""

    def __init__(self, plan: Plan, knowledge: Knowledge) -> None:
        self.plan, self.knowledge = plan, knowledge
        self.faults: list[str] = []
        self.found_crop: Crop | None = None
        self.found_bed: Bed | None = None
        self.family: str | None = None
        self.day = plan.as_of

    def crop(self, word: str, *, family: bool) -> None:
        """Find a crop, the grower's own first; a family too where the question is about one."""
        known = word if len(word) <= LONGEST_NAME else ""
        ways = _barer(normal(known)) if known else []
        crop = next((found for way in (known, *ways) if (found := self._crop(way))), None)
        kin = next((found for way in (known, *ways) if (found := self.knowledge.find_family(way))), None)
        kin = None if crop is not None else kin
        if crop is not None and crop.id != FALLOW:
            self.found_crop, self.family = crop, crop.family or None
        elif kin is not None and family:
            self.family = kin
        elif kin is not None:
            about = capital(family_name(kin, self.knowledge))
            sample = [crop.name for crop in self.knowledge.crops.values() if crop.family == kin][:3]
            self.faults.append(f"{about} is no crop, name one" + (f" such as {either(sample)}." if sample else "."))
        elif crop is not None:
            self.faults.append("Empty ground is no crop, name one.")
        else:
            near = self.knowledge.nearest(ways[-1], n=1) if ways else []
            self.faults.append(f"No crop is called {heard(word)}" + _nearest(near))

    def _crop(self, word: str) -> Crop | None:
        return self._own(normal(word)) or self.knowledge.find_crop(word)

    def _own(self, word: str) -> Crop | None:
        crops = {p.crop.id: p.crop for p in self.plan.plantings}  # a garden has many plantings of few crops
        own = {normal(name): crop for crop in crops.values() for name in (crop.id, crop.name, crop.plural)}
        return own.get(word) or own.get(word.removesuffix("s")) or own.get(word.removesuffix("es"))

    def bed(self, word: str) -> None:
        """Find a bed by its id or its name, with or without "the" and "bed"."""
        plain = normal(word[: LONGEST_NAME * 2])
        named: dict[str, list[Bed]] = {}
        for bed in self.plan.beds:
            for name in dict.fromkeys((normal(bed.id), normal(bed.name))):
                named.setdefault(name, []).append(bed)
        exact = [bed for bed in self.plan.beds if bed.id == word.strip()]
        found = exact or next((named[name] for name in _shorter(plain) if name in named), [])
        if not found:
            bare = {short_: beds for name, beds in named.items() for short_ in _shorter(name)}
            found = next((bare[name] for name in _shorter(plain) if name in bare), self._by_a_word(plain))
        found = list({bed.id: bed for bed in found}.values())
        if len(found) == 1:
            self.found_bed = found[0]
        elif found:
            ids = either(short(bed.id) for bed in found)
            self.faults.append(f"{len(found)} beds are called {short(word)}, say {ids}.")
        else:
            close = [bed_name(named[name][0]) for name in nearest(plain, named, 1)]
            self.faults.append(f"No bed is called {heard(word)}" + (_nearest(close) if close else self._beds()))

    def _by_a_word(self, plain: str) -> list[Bed]:
        """The one bed whose name has the words, or that is of the kind; none where several are."""
        words = set(_shorter(plain)[-1].split())
        named = [bed for bed in self.plan.beds if words and words <= set(normal(bed.name).split())]
        of_kind = [bed for bed in self.plan.beds if words == {bed.kind}]
        return next((found for found in (named, of_kind) if len(found) == 1), [])

    def _beds(self) -> str:
        names: Sequence[str] = [bed_name(bed) for bed in self.plan.beds]
        if not names:
            return ", the plan has no beds."
        rest = [f"{len(names) - 3} more"] if len(names) > 4 else names[3:]
        return f", there {'is' if len(names) == 1 else 'are'} {joined([*names[:3], *rest])}."

    def date(self, word: Day | str, *, ahead: bool) -> None:
        """Read the day that is asked about."""
        try:
            day = day_meant(word, self.plan.as_of, ahead=ahead) if isinstance(word, str) else word
        except NoDay as fault:
            self.faults.append(str(fault))
            return
        if FIRST_YEAR <= day.year <= LAST_YEAR:
            self.day = day
        else:
            self.faults.append(f"{as_date(day)} is too far off, ask about {FIRST_YEAR} to {LAST_YEAR}.")


def _nearest(names: Sequence[str]) -> str:
    return f", the nearest name is {short(names[0])}." if names else ", and no name is like it."


def _barer(name: str) -> list[str]:
    """A crop's name as it was said, and without the words that people put around it."""
    bare = re.sub(r"^(?:the|a|an|some|my|more) ", "", name)
    return list(dict.fromkeys((name, bare, re.sub(r" (?:plants?|seeds?|seedlings?|plugs?)$", "", bare))))


def _shorter(name: str) -> list[str]:
    """A name as people may shorten it: without "the", without "bed", its number in figures."""
    plain = name.removeprefix("the ").removeprefix("my ").strip()
    bare = plain.removesuffix(" bed").removeprefix("bed ").strip()
    figures = " ".join(str(FIGURES.get(word, word)) for word in bare.split())
    return list(dict.fromkeys(word for word in (name, plain, bare, figures) if word))
