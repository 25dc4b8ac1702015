"""What became of a planting: its state, from what was planned and what the journal says.

One pure function.  It is total: whatever the journal holds, in whatever order it was written, the
state never contradicts itself (start <= first harvest <= end, a cause only for what was lost).
What may be logged in the first place is for ``service.record`` to say.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

#: What tells of a planting's own life; all else in the journal leaves its state alone.
LIFE = frozenset({"sown", "transplanted", "emerged", "lost", "resown", "harvested", "cleared"})
#: As many plants as a planting may have in the plan's format.
MOST_PLANTS = 1_000_000


class Planned(NamedTuple):
    """A planting as it was planned or first written down.

    ``opens`` is the first day that this can mean: the start, or that of the season's window.
    """

    opens: date
    start: date | None = None
    season: str | None = None
    end: date | None = None
    first_harvest: date | None = None
    status: str | None = None
    cause: str | None = None
    method: str | None = None
    count: int | None = None


class Attempt(NamedTuple):
    """A sowing that came to nothing before the planting was sown again."""

    start: date
    end: date
    cause: str | None


class State(NamedTuple):
    """What is so: dates (None where not known), status, the cause of a loss, earlier attempts.

    ``told`` is True where the journal, not only the plan, says what the status is.  ``count`` is the plants
    that stand (of what is over: that last stood), as planned until the journal gives a number.
    """

    status: str | None
    start: date | None
    season: str | None
    end: date | None
    first_harvest: date | None
    cause: str | None
    attempts: tuple[Attempt, ...] = ()
    told: bool = False
    count: int | None = None


class Act(NamedTuple):
    """A line about a planting's life: the day, what was done, the cause of a loss, and how many plants."""

    date: date
    did: str
    cause: str | None = None
    count: int | None = None


def project(planned: Planned, acts: Iterable[Act]) -> State:
    """The state of a planting.

    Parameters
    ----------
    planned
        What was planned; every field that the journal does not speak about stays as it is there.
    acts
        The standing lines about its life, by day.

    Notes
    -----
    *In the ground.*  A planting starts on the day it is sown or transplanted, whichever came last
    before anything else was done to it; with method ``transplant`` a sowing is one in trays and
    starts nothing.  *Resown*, or sown after a loss, keeps the earlier attempt apart.  What comes
    after the end (a harvest dated after the clearing) changes nothing.

    *How many.*  The number sown or set out is what stands; what came up takes its place; more that are
    transplanted later fill gaps and are added.  A loss with a number is of so many plants: the rest lives
    on, and only a loss of all that are known to stand, or one without a number, ends the planting.
    Where no number is known, a loss with one leaves the rest alive: a host too many on record is the
    safer fault.
    """
    life = _Life(planned)
    for act in acts:
        if act.did in LIFE:
            getattr(life, act.did)(act)
    return life.state()


class _Life:
    """A planting's life so far; one method for each word of ``LIFE``."""

    def __init__(self, planned: Planned) -> None:
        self.planned = planned
        self.status, self.cause = planned.status, planned.cause
        #: True once the journal says the status.
        self.told = False
        self.attempts: list[Attempt] = []
        self._anew()

    def _anew(self) -> None:
        self.start: date | None = None
        self.end: date | None = None
        self.first_harvest: date | None = None
        #: The first day of this attempt on which something in the ground is told of.
        self.seen: date | None = None
        #: True until something but a sowing is told of.
        self.young = True
        #: The plants that the journal knows of, in the ground or still in trays; None for as many as planned.
        self.number: int | None = None

    @property
    def over(self) -> bool:
        """True when this attempt has ended, by the plan's word or the journal's."""
        return self.status in ("done", "lost")

    @property
    def in_trays(self) -> bool:
        """True while a planting that is to be set out is not in the ground yet."""
        return self.seen is None and self.planned.method == "transplant" and not self.over

    @property
    def standing(self) -> int | None:
        """The plants that there are, where known; those in trays are not the planned ones."""
        return self.planned.count if self.number is None and not self.in_trays else self.number

    def sown(self, act: Act) -> None:
        if self.told and self.status == "lost":
            self.resown(act)
        elif self.in_trays:
            self.number = act.count or self.number
        elif self.seen is None:
            self._starts(act)

    def transplanted(self, act: Act) -> None:
        if self.told and self.status == "lost":
            self.resown(act)
        elif not (self.told and self.over):
            if self.young:
                self._starts(act)
            elif act.count is not None and self.standing is not None:
                self.number = min(self.standing + act.count, MOST_PLANTS)
        self.young = False

    def emerged(self, act: Act) -> None:
        if self.over:
            return
        if not self.in_trays:
            self._grows(act.date)
        self.number = act.count or self.number

    def harvested(self, act: Act) -> None:
        if not (self.told and self.over):
            self.first_harvest = self.first_harvest or act.date
            self.young = False
            self._grows(act.date)

    def lost(self, act: Act) -> None:
        if self.told and self.over:
            return
        if act.count is not None and act.count < (self.standing or act.count + 1):
            self._thinned(act)
        else:
            self.seen = self.seen or act.date
            self.status, self.cause, self.end, self.told = "lost", act.cause, act.date, True

    def _thinned(self, loss: Act) -> None:
        left = None if self.standing is None else self.standing - (loss.count or 0)
        if not self.in_trays:
            self._grows(loss.date)
        self.number = left

    def cleared(self, act: Act) -> None:
        if self.told and self.over:
            return
        last = max(self.start or date.min, self.seen or date.min, self.first_harvest or date.min)
        self.seen = self.seen or act.date
        if self.status == "lost":  # by the plan's word: the bed was cleared of what was lost
            planned = self.planned.end or act.date
            self.end, self.told = planned if planned >= last else act.date, True
        else:
            self.status, self.cause, self.end, self.told = "done", None, act.date, True

    def resown(self, act: Act) -> None:
        if self.seen is not None or self.attempts or self.status in ("growing", "done", "lost"):
            start = self.start or min(self.planned.opens, self.seen or act.date, act.date)
            end = self.end or (self.planned.end if self.over and not self.attempts else None) or act.date
            # An attempt ends by the day of the next sowing, however late its loss was noted.
            self.attempts.append(Attempt(start, max(start, min(end, act.date)), self.cause))
            self._anew()
        self.status, self.cause = "growing", None
        self._starts(act)

    def _starts(self, act: Act) -> None:
        self.start, self.number = act.date, act.count
        self._grows(act.date)

    def _grows(self, day: date) -> None:
        self.seen = self.seen or day
        if not self.over:
            self.status, self.told = "growing", True

    def state(self) -> State:
        planned, start, season = self.planned, self.start, None
        if start is None:
            start, season = planned.start, planned.season
            if self.seen is not None and self.seen < planned.opens:
                start, season = self.seen, None
        opens = start or planned.opens
        end, first = self.end, self.first_harvest
        if end is None and not self.attempts and planned.end is not None and planned.end >= (first or opens):
            end = planned.end
        if first is None and not self.attempts and planned.first_harvest is not None:
            first = planned.first_harvest if opens <= planned.first_harvest <= (end or date.max) else None
        cause = self.cause if self.status == "lost" else None
        count = planned.count if self.number is None or self.seen is None else self.number
        return State(self.status, start, season, end, first, cause, tuple(self.attempts), self.told, count)
