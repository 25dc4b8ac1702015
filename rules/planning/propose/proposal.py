"""The answer: what goes where in which year, how good it is, and what could not be placed and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from rules.model import Plan, Planting, Wish
from rules.report import Report

#: How the search ended: with a proof, at its time limit, or with the quick answer alone.
Stopped = Literal["optimal", "time", "quick"]


@dataclass(frozen=True, slots=True)
class Placed:
    """How much of a wish stands in a year, in beds, and in which beds."""

    wish: Wish
    year: int
    amount: float
    beds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Relaxation:
    """A change to the question that was tried and makes room; ``text`` says it to the grower.

    ``kind``: a bed more, a year's rest less, a fixed placement dropped, other beds allowed, more beds for winter
    crops, a dislike dropped, another season of the year, or less asked for.
    """

    kind: Literal["bed", "rest", "fixed", "beds", "winter_beds", "dislike", "slot", "fewer"]
    text: str


@dataclass(frozen=True, slots=True)
class Unplaced:
    """What of a wish found no place in a year, in beds; what stops it; the smallest change that helps."""

    wish: Wish
    year: int
    amount: float
    reason: str
    relaxation: Relaxation | None = None


@dataclass(frozen=True, slots=True)
class Proposal:
    """A plan for some years that the ordinary check has judged.

    ``plantings`` are what is added to the plan, the fixed and kept ones included; ``plan`` holds everything and
    judges the whole horizon; ``report`` is the ordinary check of it.  ``value`` is what the solver reached and
    ``bound`` the most that can be reached, in points: 100 for each quarter bed wanted and placed (300 for a must),
    less penalties; ``gap`` = (bound - value) / bound.  Musts come first: both speak of plans that miss as few of them
    as can be.  They speak of families, beds and seasons; which family follows which or lies beside its last place, and
    crops inside a bed, are settled by search, without proof.  ``counting`` says in plain words what cannot fit by
    counting alone.
    """

    plantings: tuple[Planting, ...]
    plan: Plan
    report: Report
    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...]
    value: float
    bound: float
    stopped: Stopped
    counting: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    alternatives: tuple[Proposal, ...] = ()

    @property
    def gap(self) -> float:
        """How far the value may lie below the best there is, as a share of the bound; 0 = proven best."""
        return max(0.0, (self.bound - self.value) / self.bound) if self.bound > 0 else 0.0
