"""Which planting a line from a phone is about: what stands in the bed on the day, or what was planned for it.

The clearest wins; where two are as clear, the fault lists them in a sentence that can be spoken.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from rules.knowledge.facts import Crop
from rules.knowledge.names import normal
from rules.model import WHOLE, Bed, Plan, Planting
from service.answers.spoken import bed_name, either, joined, short, verb
from service.speech import speakable
from service.store.projection import State
from service.words import as_date, capital

#: What begins a planting, or begins it anew.
STARTS = frozenset({"sown", "transplanted", "resown"})
#: Days before its planned start in which a planting may be begun, and in which one for setting out is sown in trays.
EARLY, IN_TRAYS = 60, 150
#: Days after its planned start in which a planting may be begun: a season that slipped.
LATE = 90
#: Days before its planned start in which a crop that is named may be there already, its start not logged.
SOON = 30
#: Days in which more of a crop set out belongs to the same planting, or a sowing again makes good a loss.
SAME, AGAIN = 21, 60
#: Of two that could be meant the nearer in time is, when it is nearer by more days than this.
CLEAR = 7

_OVER = ("done", "lost")


class Unclear(ValueError):
    """No planting, or more than one, could be meant; ``key`` is the word that would settle it."""

    def __init__(self, key: str, detail: str) -> None:
        self.key = key
        super().__init__(detail)


@dataclass(frozen=True)
class Asked:
    """What was said: the word, the day, and the bed, crop, variety and part of the bed where they were named.

    ``by_itself`` is true of what came up without being sown.  ``states`` are those of the plantings that may be
    logged about, ``logged`` the first day that a standing line tells of the life of each, where one does.
    """

    plan: Plan
    did: str
    day: date
    bed: Bed | None
    crop: Crop | None
    states: dict[str, State]
    logged: Mapping[str, date]
    by_itself: bool = False
    variety: str | None = None
    part: tuple[float, float] | None = None

    @property
    def rows(self) -> list[Planting]:
        """The plantings of the bed and crop that were named."""
        wanted = None if self.crop is None else {self.crop.id, *self.crop.members}
        return [
            p
            for p in self.plan.plantings
            if p.id in self.states and (self.bed is None or p.bed == self.bed.id)
            if wanted is None or p.crop.id in wanted or (self.crop and self.crop.id in p.crop.members)
        ]

    def status(self, p: Planting) -> str:
        """What is on record of a planting: a plan says of what should stand by now that it grows."""
        return self.states[p.id].status or "planned"


def find(asked: Asked) -> Planting | None:
    """The planting that is meant; None where one begins that is not on record.

    Raises
    ------
    Unclear
        where it takes another word to tell.
    """
    if asked.by_itself:
        return _volunteer(asked)
    if asked.did in STARTS:
        return _begun(asked)
    ranked = [(how, p) for p in asked.rows if (how := rank(asked, p)) is not None]
    if not ranked:
        raise _nothing(asked)
    if asked.variety or asked.part:
        ranked = [(how, p) for how, p in ranked if _alike(asked, p)] or ranked
    best = min(how for how, _ in ranked)
    meant = [p for how, p in ranked if how == best]
    if asked.did == "emerged":  # of several sowings the last comes up
        meant = [p for p in meant if p.start == max(p.start for p in meant)]
    return _one(asked, meant)


def rank(asked: Asked, p: Planting) -> int | None:
    """How well a planting fits what is said of one that is there; less is better, None not at all."""
    status, day = asked.status(p), asked.day
    if status in _OVER:
        # A line that was forgotten; a second end is told apart when it is logged.
        return 3 if p.start <= day <= p.end else None
    if p.start <= day <= p.end:
        return 0 if status == "growing" or asked.crop is None else 1
    if day < p.start:
        if p.id in asked.logged:
            # In trays; nothing is picked or cleared before the first that is told of it.
            before = asked.did in ("harvested", "cleared") and day < asked.logged[p.id]
            return None if before else 2
        return 4 if asked.crop is not None and p.start - day <= _days(SOON) else None
    return 4 if day - p.end <= _days(LATE) else None


def _volunteer(asked: Asked) -> Planting | None:
    there = [p for p in asked.rows if p.method == "volunteer" and asked.status(p) not in _OVER]
    there = [p for p in there if p.start <= asked.day <= p.end]
    return _one(asked, there) if there else _new(asked)


def _begun(asked: Asked) -> Planting | None:
    fits = [(days, p) for p in asked.rows if (days := _distance(asked, p)) is not None]
    fits = [(days, p) for days, p in fits if _alike(asked, p, unnamed=asked.status(p) != "growing")]
    if asked.did == "resown":  # what was lost, where there is such
        fits = [(days, p) for days, p in fits if asked.status(p) == "lost"] or fits
    if fits:
        nearest = min(days for days, _ in fits)
        meant = [p for days, p in fits if days - nearest <= CLEAR]
        return _one(asked, meant)
    twice = [p for p in asked.rows if asked.did == "sown" and p.start == asked.day and p.method != "transplant"]
    twice = [p for p in twice if asked.status(p) == "growing" and asked.crop is not None and _alike(asked, p)]
    return _said_twice(asked, twice[0]) if twice else _new(asked)


def _alike(asked: Asked, p: Planting, *, unnamed: bool = False) -> bool:
    """True for a planting of the variety and part that were named, or with ``unnamed`` one that names neither."""
    name = p.variety.name if p.variety else None
    variety = asked.variety is None or normal(asked.variety) == normal(name or "") or (unnamed and not name)
    return variety and (asked.part in (None, p.part) or (unnamed and p.part == WHOLE))


def _said_twice(asked: Asked, p: Planting) -> None:
    """Refuses what looks like one thumb on one button twice."""
    bed = next(bed for bed in asked.plan.beds if bed.id == p.bed)
    were = verb([p.crop], "was", "were")
    said = f"{capital(short(p.crop.plural))} {were} sown in {bed_name(bed)} on {as_date(p.start)} already"
    raise Unclear("did", f"{said}; if this is another row, name its variety or its part of the bed")


def _new(asked: Asked) -> None:
    """Nothing: a planting begins that is not on record, in the bed and of the crop that must have been named."""
    if asked.crop is None:
        raise Unclear("crop", f"Name the crop that {'came up' if asked.by_itself else f'was {asked.did}'}")
    if asked.bed is None:
        where = "came up in" if asked.by_itself else "went into"
        raise Unclear("bed", f"Name the bed that the {short(asked.crop.plural)} {where}")


def _distance(asked: Asked, p: Planting) -> int | None:
    """Days between what was planned and the day, for a planting that could begin then; None for any other."""
    status, did, day = asked.status(p), asked.did, asked.day
    if did == "resown":
        began = p.start <= day if status == "lost" else p.start < day
        return (day - p.start).days if status != "done" and began and day <= p.end + _days(AGAIN) else None
    if status == "lost" and asked.states[p.id].told:
        return (day - p.end).days if p.end <= day <= p.end + _days(AGAIN) else None
    if status in _OVER:
        return None
    if status == "growing":
        filled = did == "transplanted" and p.start <= day <= p.start + _days(SAME)
        return (day - p.start).days if filled else None
    trays = did == "sown" and p.method == "transplant"
    early, late = p.start - _days(IN_TRAYS if trays else EARLY), p.start + _days(LATE)
    if p.exact != "day":
        late = max(late, p.end)
        if early <= day <= late:
            return 0 if p.start <= day <= p.end else min(abs((day - p.start).days), abs((day - p.end).days))
    return abs((day - p.start).days) if early <= day <= late else None


def _one(asked: Asked, meant: Sequence[Planting]) -> Planting:
    if len(meant) == 1:
        return meant[0]
    crops = {p.crop.id: p.crop for p in meant}
    beds = [bed for bed in asked.plan.beds if bed.id in {p.bed for p in meant}]
    if len(crops) > 1:
        names = crop_names(crops.values())
        where = bed_name(beds[0]) if len(beds) == 1 else "the garden"
        raise Unclear("crop", f"{joined(names)} could be meant in {where}, name the crop")
    plural = short(meant[0].crop.plural)
    if len(beds) > 1:
        raise Unclear("bed", f"{capital(plural)} could be meant in {joined(map(bed_name, beds))}, name the bed")
    varieties = {normal(p.variety.name): p.variety.name for p in meant if p.variety and p.variety.name}
    if len(varieties) == len(meant):
        which = either(short(name) for name in varieties.values())
        raise Unclear(
            "variety", f"{len(meant)} plantings of {plural} fit in {bed_name(beds[0])}, name the variety, {which}"
        )
    # An id that a voice would read otherwise than it is written is known by its day.
    names = (f"{p.id} of " if speakable(p.id) == p.id else "" for p in meant)
    which = either(f"{name}{as_date(p.start)}" for name, p in zip(names, meant, strict=True))
    raise Unclear("planting", f"{len(meant)} plantings of {plural} fit in {bed_name(beds[0])}, say planting {which}")


def _nothing(asked: Asked) -> Unclear:
    """What is on record instead of what was named."""
    where = f"in {bed_name(asked.bed)}" if asked.bed else "in the garden"
    ended = [p for p in asked.rows if asked.status(p) in _OVER and p.end < asked.day]
    if ended and asked.crop:
        last = max(ended, key=lambda p: p.end)
        was = "lost" if asked.status(last) == "lost" else "cleared"
        many = verb([last.crop], "was", "were")
        return Unclear("crop", f"The {short(last.crop.plural)} {where} {many} {was} on {as_date(last.end)}")
    there = [p.crop for p in asked.plan.plantings if _stands(asked, p)]
    has = f", {joined(crop_names(there))} {verb(there, 'does', 'do')}" if there and asked.crop else ""
    if asked.crop is None:
        return Unclear("bed", f"Nothing stands {where} on {as_date(asked.day)}, by what is on record")
    stand = verb([asked.crop], "stands", "stand")
    said = f"No {short(asked.crop.plural)} {stand} {where} on {as_date(asked.day)}, by what is on record{has}"
    return Unclear("crop", said if has else f"{said}, log it as sown or transplanted first")


def _stands(asked: Asked, p: Planting) -> bool:
    here = asked.bed is not None and p.bed == asked.bed.id and p.id in asked.states
    return here and asked.status(p) not in _OVER and p.start <= asked.day <= p.end


def crop_names(crops: Iterable[Crop]) -> list[str]:
    """The names of some crops as they are spoken, each once."""
    return list(dict.fromkeys(short(crop.plural) for crop in crops))


def _days(number: int) -> timedelta:
    return timedelta(days=number)
