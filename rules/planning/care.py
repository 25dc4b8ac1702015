"""What a protection plan is made of: pests to expect, covers, measures, days to wait."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rules.knowledge.facts import Control, Crop, Pest
from rules.knowledge.thresholds import Threshold
from rules.model import Cover, Planting, Treatment, Window

#: From which sum of reasons on a risk is high or middling (judgement).
HIGH, MIDDLING = 4, 2


@dataclass(frozen=True, slots=True)
class Expected:
    """A pest to expect on a crop: its risk (1 and up) and the reasons for it, in words.

    ``any_soil`` is True for a pest that lives in any soil, whatever grew there; ``for_cause`` where
    something in this garden, and not its way of life alone, speaks for it.
    """

    pest: Pest
    risk: int
    reasons: tuple[str, ...]
    any_soil: bool = False
    for_cause: bool = True

    @property
    def level(self) -> str:
        """The risk as high, medium or low."""
        return "high" if self.risk >= HIGH else "medium" if self.risk >= MIDDLING else "low"


@dataclass(frozen=True, slots=True)
class Guard:
    """Covers for a crop: what is planned, and what a net would keep out beside that.

    ``planned`` are the covers of the plan over this crop and ``kept_out`` the pests that they keep
    from all of its plantings, coming from elsewhere.  A net with openings of ``mesh_mm`` at most
    would keep out ``pests``; None and empty where none is needed.  ``on`` is the day it goes on,
    None where the plantings start on different days.  ``open_from`` is the day from which a cover
    must be open by day for insects to reach the flowers, ``flower_known`` False where that day is
    worked out.  ``trap`` are pests that would come out of the ground beneath it, ``trap_beds`` the
    beds where.
    """

    planned: tuple[Cover, ...]
    kept_out: tuple[Pest, ...]
    mesh_mm: float | None
    pests: tuple[Pest, ...]
    on: date | None
    open_from: date | None
    flower_known: bool
    trap: tuple[Pest, ...]
    trap_beds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CropCare:
    """One crop of the window: where it stands, what to expect on it, its cover, the numbers to act at.

    ``expected`` has the pests of high and middling risk and some of low risk, the worst first.
    ``animals`` are birds and beasts that eat it.
    """

    crop: Crop
    plantings: tuple[Planting, ...]
    expected: tuple[Expected, ...]
    animals: tuple[Pest, ...]
    guard: Guard | None
    thresholds: tuple[Threshold, ...]


@dataclass(frozen=True, slots=True)
class Measure:
    """A control, told once, with the pests it is for and the crops they threaten."""

    control: Control
    pests: tuple[Pest, ...]
    crops: tuple[Crop, ...]


@dataclass(frozen=True, slots=True)
class Wait:
    """A treatment and its label's days before harvest; ``until`` is None where they are not on record."""

    treatment: Treatment
    plantings: tuple[Planting, ...]
    until: date | None


@dataclass(frozen=True, slots=True)
class Protection:
    """The whole answer for a window of days, crops in order of their first day."""

    window: Window
    crops: tuple[CropCare, ...]
    ladder: tuple[Measure, ...]
    waits: tuple[Wait, ...]
    cautions: tuple[str, ...]
