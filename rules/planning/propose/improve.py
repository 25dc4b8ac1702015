"""Better amounts by solving blocks again: one year at a time, then two, with all other years held as they are.

A block is small enough to be solved at once where the whole is not, and years pinch each other only through breaks.
First only what is missing and what would be a caution counts, then everything.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

from rules.planning.propose.highs import solve
from rules.planning.propose.instance import Instance

#: No block is given longer than this share of all the time.
_SHARE = 0.1
#: Costs below this are left out of the coarse instance: which bed of several, not whether.
_COARSE = 10.0


def coarse(instance: Instance) -> Instance:
    """The instance with nothing but what is missing and what would be a caution."""
    presences = tuple(p if p.cost >= _COARSE else p._replace(cost=0.0) for p in instance.presences)
    limits = tuple(limit for limit in instance.limits if limit.cost is None or limit.cost >= _COARSE)
    return replace(instance, presences=presences, limits=limits, bonuses=())


def improved(
    instance: Instance,
    amounts: tuple[int, ...],
    seconds: float,
    found: Callable[[tuple[int, ...]], None] | None = None,
) -> tuple[tuple[int, ...], float]:
    """Amounts that cost no more, and the seconds that the solver took; each better one is told to ``found``."""
    used, years = 0.0, sorted({choice.year for choice in instance.choices})
    single, double = [(year,) for year in years], list(pairwise(years))
    for one, blocks in ((coarse(instance), single), (coarse(instance), double), (instance, single)):
        before = float("inf")
        while one.cost(amounts) < before and used < seconds:
            before = one.cost(amounts)
            for block in blocks:
                left = seconds - used
                if left <= 0:
                    break
                free = {n for n, choice in enumerate(one.choices) if choice.year in block}
                solved = solve(one, min(seconds * _SHARE, left), amounts, free=free)
                if solved is None:
                    continue
                used += solved.seconds
                if solved.cost < one.cost(amounts):
                    amounts = solved.amounts
                    if found is not None and one is instance:
                        found(amounts)
    return amounts, used
