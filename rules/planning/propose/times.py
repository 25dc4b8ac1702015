"""When crops can be set and how long they stand: the slots of a growing year, from frost dates and facts.

A growing year has three slots: ``EARLY`` from six weeks before the last spring frost to midsummer of the frost-free
time, ``LATE`` from there to a fortnight after the first autumn frost, ``WINTER`` from there to the next ``EARLY``.
Days to harvest, hardiness, how long a crop stands and when it is set where that follows from none of these
(``facts/setting.yaml``) are facts; what they leave open is judgement and named as such here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple

from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.knowledge.setting import Glass
from rules.model import Garden, Slot, Window
from rules.planning.timing import hardiness
from rules.reading import assumed_end
from rules.seasons import LAST_YEAR, growing_year_window, in_tropics, next_on, season_window, winter_end

EARLY, LATE, WINTER = 0, 1, 2
SLOTS = 3
#: A crop's place in the rotation: set in spring or summer, set to stand over winter, or there for good.
Phase = Literal["main", "winter", "perennial"]

#: Days before the last spring frost on which the hardiest crops go in (facts/hardiness.yaml, very_hardy).
_FIRST_SET = timedelta(days=42)
#: How long after the first autumn frost beds are cleared for what is set to stand over winter (judgement).
_CLEARED = timedelta(days=14)
#: A crop is left this many days to be picked before the next one needs its ground (judgement).
PICKING = timedelta(days=7)
#: The earliest that crops to stand over winter are set, before the first autumn frost (judgement).
_LATE_SUMMER = timedelta(days=60)
#: How much later than planned a crop may be set where its ground is not free before (judgement).
MOST_LATE = timedelta(days=45)
#: Crops that need so many days, and no more than the second, are set in autumn for the next year (judgement).
_OVER_A_WINTER = (200, 330)
#: Points for a second-best way, a quarter bed: gone before winter, set in autumn where spring is usual, ripe in time
#: only if it is a quick kind; what is picked to the first frost pulled out at midsummer or set after it (judgement).
_CUT_SHORT, _AUTUMN_SET, _QUICK_KINDS, _PULLED_EARLY, _MISSES_SUMMER = 1.0, 2.0, 2.0, 6.0, 10.0
LAST_DAY = date(LAST_YEAR, 12, 31)


class Season(NamedTuple):
    """The days that divide a growing year: the first of EARLY, the last of it, and the last of LATE; and its frosts."""

    early: date
    middle: date
    late: date
    spring: date
    autumn: date


@dataclass(frozen=True, slots=True)
class Timing:
    """One way to grow a crop: set from ``start`` to ``latest``, gone by ``end``, ripe ``ripe`` days after it was set.

    ``slots`` counts on from EARLY of the year in which it is set: 3 is EARLY of the next.
    """

    slots: tuple[int, ...]
    start: date
    latest: date
    end: date
    ripe: timedelta
    phase: Phase
    cost: float = 0.0


def season(year: int, garden: Garden) -> Season:
    """The slots of a growing year in a garden."""
    window, latitude = growing_year_window(year, garden.latitude), garden.latitude
    usual = season_window(year, None, latitude)
    spring, autumn = usual.start, usual.end
    if garden.last_spring_frost is not None:
        spring = next_on(window.start, garden.last_spring_frost.p50)
    if garden.first_autumn_frost is not None:
        autumn = next_on(spring + timedelta(days=1), garden.first_autumn_frost.p50)
    middle = spring + (autumn - spring) / 2
    if in_tropics(latitude) and garden.first_autumn_frost is None:
        return Season(spring, middle, autumn, spring, autumn)
    return Season(max(window.start, spring - _FIRST_SET), middle, autumn + _CLEARED - timedelta(days=1), spring, autumn)


def is_tender(crop: Crop, knowledge: Knowledge) -> bool:
    """Whether a crop goes out only after the last frost."""
    return hardiness(crop, knowledge).from_last_frost >= 0


def glass(crop: Crop, knowledge: Knowledge) -> Glass:
    """How a crop takes to a greenhouse."""
    setting = knowledge.facts.setting.get(crop.id)
    return "no" if setting is None else setting.glass


def timings(crop: Crop, year: int, garden: Garden, knowledge: Knowledge, slot: Slot = "any") -> tuple[Timing, ...]:
    """The ways to grow a crop that is set in a growing year; none where the season is too short for it."""
    if year + 2 > LAST_YEAR:
        return ()
    ways = list(_Year(crop, year, garden, knowledge).ways())
    if slot == "overwinter":
        ways = [way for way in ways if WINTER in way.slots or way.phase == "perennial"]
    elif slot == "main":
        ways = [way for way in ways if WINTER not in way.slots or way.phase == "perennial"]
    if ways:
        least = min(way.cost for way in ways)
        ways = [Timing(w.slots, w.start, w.latest, w.end, w.ripe, w.phase, w.cost - least) for w in ways]
    return tuple(ways)


class _Year:
    """One crop in one growing year."""

    def __init__(self, crop: Crop, year: int, garden: Garden, knowledge: Knowledge) -> None:
        self.crop, self.garden = crop, garden
        self.this, self.next = season(year, garden), season(year + 1, garden)
        self.hardy = hardiness(crop, knowledge)
        setting, common = knowledge.facts.setting.get(crop.id), knowledge.facts.common.get(crop.id)
        #: Days from the first autumn frost, first and last, to set it for winter.
        self.autumn = common.autumn if common is not None else None
        self.common, self.autumn_alone = common is not None, False
        #: The last day to set it in spring or summer.
        self.set_by, self.set_from = date.max, self.this.spring + timedelta(days=self.hardy.from_last_frost)
        if setting is not None and not self._frostless:
            self.autumn_alone = setting.autumn is not None and setting.spring is None
            self.autumn = setting.autumn or self.autumn
            if setting.spring is not None:
                first, last = (timedelta(days=days) for days in setting.spring)
                self.set_from, self.set_by = max(self.set_from, self.this.spring + first), self.this.spring + last
        ripe = crop.maturity
        self.least, self.most = (
            (timedelta(days=ripe.least), timedelta(days=ripe.most)) if ripe else (timedelta(0), timedelta(0))
        )
        #: The last day by which picking must have begun.
        self.picked_by = self.this.autumn - timedelta(days=self.hardy.before_first_frost)

    @property
    def _frostless(self) -> bool:
        return in_tropics(self.garden.latitude) and self.garden.first_autumn_frost is None

    def ways(self) -> Iterator[Timing]:
        crop, this = self.crop, self.this
        first = max(this.early, self.set_from)
        if crop.perennial:
            yield Timing((EARLY,), first, first + MOST_LATE, LAST_DAY, timedelta(0), "perennial")
            return
        if crop.maturity is None:
            yield Timing((EARLY, LATE), first, first + MOST_LATE, this.autumn, timedelta(0), "main")
            return
        if _OVER_A_WINTER[0] <= crop.maturity.least and crop.maturity.most <= _OVER_A_WINTER[1]:
            yield from self._all_winter(first) if self.set_by < date.max else self._over_winter(0.0)
            return
        if crop.maturity.most > _OVER_A_WINTER[1]:
            yield self._way((EARLY, LATE, WINTER, SLOTS + EARLY, SLOTS + LATE), first, self.next.late)
            return
        if self.autumn_alone:
            yield from self._into_winter() if crop.stands == "winter_end" else self._over_winter(0.0)
            return
        late = list(self._late())
        if not late or first <= this.middle - MOST_LATE:
            yield from self._early(first)
        yield from late
        if crop.over_winter is not None:
            yield from self._over_winter(0.0 if self.autumn else _AUTUMN_SET)

    def _way(
        self,
        slots: tuple[int, ...],
        start: date,
        last: date,
        phase: Phase = "main",
        cost: float = 0.0,
        by: date | None = None,
        ripe: timedelta | None = None,
    ) -> Timing:
        """A way that is gone by ``last``; it must be ripe some days before, or ``by`` a day."""
        if ripe is None:
            ripe = self.least if phase == "winter" or slots[-1] >= SLOTS else self.most
        latest = min((by or last - PICKING) - ripe, self.set_by)
        end = max(start + ripe, min(assumed_end(self.crop, start, self.garden), last))
        return Timing(slots, start, max(start, min(latest, start + MOST_LATE)), end, ripe, phase, cost)

    def _early(self, first: date) -> Iterator[Timing]:
        this, stands = self.this, self.crop.stands
        short = first + self.most + PICKING <= this.middle and stands != "winter_end"
        if short:
            yield self._way((EARLY,), first, this.middle, cost=_PULLED_EARLY if stands == "first_frost" else 0.0)
        if short and stands != "first_frost":
            return
        ripe, cost = self._ripening(first)
        if first + ripe > self.picked_by:
            return
        if stands == "winter_end":
            yield self._way((EARLY, LATE, WINTER), first, self._winter_end(), "main", cost, self.picked_by, ripe)
            cost += _CUT_SHORT
        yield self._way((EARLY, LATE), first, this.late, "main", cost, self.picked_by, ripe)

    def _late(self) -> Iterator[Timing]:
        this, stands = self.this, self.crop.stands
        first = max(this.middle + timedelta(days=1), self.set_from)
        ripe, cost = self._ripening(first)
        if first + ripe > self.picked_by or first > self.set_by:
            return
        if stands == "winter_end":
            yield self._way((LATE, WINTER), first, self._winter_end(), "main", cost, self.picked_by, ripe)
        else:
            cost += _MISSES_SUMMER if stands == "first_frost" else 0.0
            yield self._way((LATE,), first, this.late, "main", cost, self.picked_by, ripe)

    def _ripening(self, first: date) -> tuple[timedelta, float]:
        """Days to harvest for what is set on a day, and the points for it: quick kinds alone may be in time."""
        return (self.most, 0.0) if first + self.most <= self.picked_by else (self.least, _QUICK_KINDS)

    def _all_winter(self, first: date) -> Iterator[Timing]:
        """Set out in summer, picked from late winter on."""
        yield self._way((EARLY, LATE, WINTER, SLOTS + EARLY), first, self.next.middle)
        late = self.this.middle + timedelta(days=1)
        if late <= self.set_by:
            yield self._way((LATE, WINTER, SLOTS + EARLY), late, self.next.middle)

    def _into_winter(self) -> Iterator[Timing]:
        """Set in late summer or autumn, standing through the winter."""
        assert self.autumn is not None
        first, last = (self.this.autumn + timedelta(days=days) for days in self.autumn)
        self.set_by = last
        slots = (WINTER,) if first > self.this.late else (LATE, WINTER)
        yield self._way(slots, max(first, self.this.middle + timedelta(days=1)), self._winter_end(), ripe=timedelta(0))

    def _over_winter(self, cost: float) -> Iterator[Timing]:
        """Set in late summer or autumn, picked in the next spring or summer."""
        this, after, crop = self.this, self.next, self.crop
        if self._frostless:
            return
        if crop.over_winter is not None:
            self.least, self.most = timedelta(days=crop.over_winter.least), timedelta(days=crop.over_winter.most)
        if self.autumn is not None:
            first, self.set_by = (this.autumn + timedelta(days=days) for days in self.autumn)
        elif crop.over_winter is not None:
            first, self.set_by = this.autumn, date.max  # the days of spring are past
        else:
            first = max(this.autumn - _LATE_SUMMER, self._winter_end() - self.most)
        if self.common or crop.lifecycle != "biennial":
            first = max(first, this.late + timedelta(days=1))
        before = (WINTER,) if first > this.late else (LATE, WINTER)
        phase: Phase = "winter" if first > this.late else "main"
        if first + self.least + PICKING <= after.middle:
            yield self._way((*before, SLOTS + EARLY), first, after.middle, phase, cost)
        else:
            yield self._way((*before, SLOTS + EARLY, SLOTS + LATE), first, after.late, phase, cost)

    def _winter_end(self) -> date:
        return winter_end(self.this.late, self.garden.latitude)


def slot_days(year: int, slot: int, garden: Garden) -> Window:
    """The days of a slot, counted on from EARLY of a growing year."""
    year, slot = year + slot // SLOTS, slot % SLOTS
    this = season(year, garden)
    if slot == EARLY:
        return Window(this.early, this.middle)
    if slot == LATE:
        return Window(this.middle + timedelta(days=1), this.late)
    return Window(this.late + timedelta(days=1), season(year + 1, garden).early - timedelta(days=1))
