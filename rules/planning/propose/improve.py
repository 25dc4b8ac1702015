"""Better amounts by solving parts again: some years or some plots at a time, with all else held as it is.

A part is small enough to be solved at once where the whole is not.  First only what is missing and what would be a
caution counts, then everything.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise

from rules.planning.propose.highs import PROOF, Solved, solve
from rules.planning.propose.instance import Instance
from rules.planning.propose.parts import Parts

#: Costs below this are left out of the coarse instance: which bed of several, not whether.
_COARSE = 10.0
#: So many choices make a part at first, of so many plots at the least, and the longest that such a part is solved, in
#: seconds; after a round without anything better parts are so much larger and solved so much longer, so many times.
_CHOICES, _PLOTS, _LONGEST, _LARGER, _TIMES = 250, 2, 1.0, 2, 3
#: Shares of the time, and its most in seconds: for a trial without a start; until parts must be done.
_TRIED, _TRIAL, _PARTS = 0.15, 2.0, 0.6
#: So many choices at the most are two years of a garden that are solved together.
_PAIRED = 2000
#: Seconds that a part takes beside its solving, where no clock tells.
_BESIDE = 0.01


class Clock:
    """The seconds that were spent: by a clock from outside, else by what the solver says that it took."""

    def __init__(self, read: Callable[[], float] | None = None) -> None:
        self._read, self._solver = read, 0.0
        self._began = read() if read else 0.0

    def took(self, seconds: float) -> None:
        """The solver took some seconds."""
        self._solver += seconds

    @property
    def spent(self) -> float:
        """Seconds so far."""
        return self._read() - self._began if self._read else self._solver


def coarse(instance: Instance) -> Instance:
    """The instance with nothing but what is missing and what would be a caution."""
    presences = tuple(p if p.cost >= _COARSE else p._replace(cost=0.0) for p in instance.presences)
    limits = tuple(limit for limit in instance.limits if limit.cost is None or limit.cost >= _COARSE)
    return replace(instance, presences=presences, limits=limits)


def improved(
    instance: Instance,
    amounts: tuple[int, ...],
    clock: Clock,
    until: float,
    found: Callable[[tuple[int, ...]], None] | None = None,
) -> tuple[int, ...]:
    """Amounts that cost no more; each better round is told to ``found``."""
    better = _rounds(coarse(instance), amounts, clock, clock.spent + (until - clock.spent) / 2, found)
    if instance.rank(better) > instance.rank(amounts):
        better = amounts
    better = _rounds(instance, better, clock, until, found)
    return better if instance.rank(better) <= instance.rank(amounts) else amounts


def searched(
    instance: Instance,
    amounts: tuple[int, ...],
    clock: Clock,
    until: float,
    found: Callable[[tuple[int, ...], float], None] | None = None,
) -> Solved:
    """Amounts of the least cost that is found, and a bound: parts first, then the whole.

    A start that is good makes the solver slow to prove it where all that is asked fits, so a short trial goes without;
    where it is proven there is nothing left to seek.
    """
    begun = clock.spent
    told = None if found is None else (lambda better: found(better, instance.floor))
    trial = _timed(instance, min(_TRIAL, (until - begun) * _TRIED), None, clock, found)
    if trial is not None and instance.rank(trial.amounts) < instance.rank(amounts):
        amounts = trial.amounts
    proof = trial
    if trial is None or not trial.proven:
        amounts = improved(instance, amounts, clock, begun + (until - begun) * _PARTS, told)
        proof = _timed(instance, until - clock.spent, amounts, clock, found)
        if proof is not None and instance.cost(amounts) - proof.cost > PROOF:
            amounts = proof.amounts
    bound = max([instance.floor, *(one.bound for one in (trial, proof) if one is not None)])
    cost = instance.cost(amounts)
    return Solved(amounts, cost, min(cost, bound), cost - bound <= PROOF, clock.spent - begun)


def _timed(
    instance: Instance,
    seconds: float,
    start: tuple[int, ...] | None,
    clock: Clock,
    found: Callable[[tuple[int, ...], float], None] | None,
) -> Solved | None:
    solved = solve(instance, seconds, start, found=found) if seconds > 0 else None
    clock.took(solved.seconds if solved else max(0.0, seconds))
    return solved


def _rounds(
    instance: Instance,
    amounts: tuple[int, ...],
    clock: Clock,
    until: float,
    found: Callable[[tuple[int, ...]], None] | None = None,
) -> tuple[int, ...]:
    """Round after round of parts, half of all plots at the most, until nothing is better or time is up."""
    parts, order, size = Parts(instance), random.Random(1), 1
    most = len(instance.choices) // 2
    while size <= _LARGER**_TIMES:
        better = False
        for free in _blocks(instance, order, min(most, _CHOICES * size)):
            left = min(_LONGEST * size, until - clock.spent)
            if left <= 0:
                return amounts
            part = parts.part(amounts, free)
            solved = solve(part.instance, left, part.amounts)
            clock.took(_BESIDE + (solved.seconds if solved else left))
            if solved is not None and solved.cost < part.instance.cost(part.amounts) - 1e-6:
                amounts, better = part.within(amounts, solved.amounts), True
        if better and found is not None:
            found(amounts)
        size *= 1 if better else _LARGER
    return amounts


def _blocks(instance: Instance, order: random.Random, most: int) -> Iterator[list[int]]:
    """The choices of each year, of two years at a time where these are few, and of some plots in a new order."""
    by_year: dict[int, list[int]] = {}
    by_plot: dict[int, list[int]] = {}
    for n, choice in enumerate(instance.choices):
        by_year.setdefault(choice.year, []).append(n)
        by_plot.setdefault(choice.plot, []).append(n)
    years = sorted(by_year)
    yield from (by_year[year] for year in years if len(by_year) > 1)
    for year, after in pairwise(years):
        if len(by_year[year]) + len(by_year[after]) <= _PAIRED:
            yield by_year[year] + by_year[after]
    plots = list(by_plot)
    order.shuffle(plots)
    block: list[int] = []
    many = 0
    for plot in plots:
        if many >= _PLOTS and len(block) + len(by_plot[plot]) > most:
            yield block
            block, many = [], 0
        block, many = block + by_plot[plot], many + 1
    if block:
        yield block
