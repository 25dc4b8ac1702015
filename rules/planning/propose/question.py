"""A question of the first stage: its instance, and what the instance's numbers mean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from rules.checks.context import Context
from rules.model import Wishes
from rules.planning.propose.instance import Instance
from rules.planning.propose.lots import Lot, Way
from rules.planning.propose.plots import Plot
from rules.planning.propose.times import SLOTS


class Stand(NamedTuple):
    """What a choice stands for: a lot in a plot, set in a growing year, in one of its ways."""

    lot: int
    plot: int
    year: int
    way: Way


@dataclass(frozen=True, eq=False)
class Question:
    """An instance with what its numbers mean."""

    wishes: Wishes
    context: Context
    plots: tuple[Plot, ...]
    lots: tuple[Lot, ...]
    stands: tuple[Stand, ...]
    instance: Instance
    demands: tuple[tuple[int, int], ...]
    #: Why a lot cannot stand in a plot and year: "bed" (not its), "ground" (not free), or the key that forbids it.
    barred: Mapping[tuple[int, int, int], str] = field(default_factory=dict)
    #: Presences of a family, the earlier and the later, in beds beside each other in one year and the next.
    beside: tuple[tuple[int, int], ...] = ()

    def slots_of(self, stand: Stand) -> tuple[int, ...]:
        """The slots that a choice fills, counted from EARLY of the first year planned."""
        return filled(stand, self.wishes)


def filled(stand: Stand, wishes: Wishes) -> tuple[int, ...]:
    """The slots that a stand fills, counted from EARLY of the first year planned."""
    base = (stand.year - wishes.first_year) * SLOTS
    if stand.way[1] == "perennial":
        return tuple(range(base, (wishes.years + 1) * SLOTS))
    return tuple(base + slot for slot in stand.way[0])
