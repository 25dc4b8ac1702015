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
#: How much dearer everything else is where only bonuses are sought.
_RAISED = 20.0
#: So few choices are solved at once where bonuses are sought, else two years at a time.
_AT_ONCE = 2000


def coarse(instance: Instance) -> Instance:
    """The instance with nothing but what is missing and what would be a caution."""
    presences = tuple(p if p.cost >= _COARSE else p._replace(cost=0.0) for p in instance.presences)
    limits = tuple(limit for limit in instance.limits if limit.cost is None or limit.cost >= _COARSE)
    return replace(instance, presences=presences, limits=limits)


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


def followed(instance: Instance, amounts: tuple[int, ...], seconds: float) -> tuple[tuple[int, ...], float]:
    """Amounts that cost the same and earn more of an instance's bonuses, and the seconds that the solver took."""
    plain, used = replace(instance, bonuses=()), 0.0
    cost, rich = plain.cost(amounts), _weighed(instance)
    years = sorted({choice.year for choice in instance.choices})
    blocks = [tuple(years)] if len(instance.choices) <= _AT_ONCE else list(pairwise(years))
    for block in blocks if instance.bonuses else ():
        left = seconds - used
        if left <= 0:
            break
        free = {n for n, choice in enumerate(instance.choices) if choice.year in block}
        solved = solve(rich, left if len(blocks) == 1 else left / 2, amounts, free=free)
        if solved is not None:
            used += solved.seconds
            if solved.cost < rich.cost(amounts) and plain.cost(solved.amounts) <= cost:
                amounts = solved.amounts
    return amounts, used


def _weighed(instance: Instance) -> Instance:
    """The instance with all costs so raised that a bonus hardly outweighs any."""
    return replace(
        instance,
        choices=tuple(c._replace(cost=c.cost * _RAISED) for c in instance.choices),
        presences=tuple(p._replace(cost=p.cost * _RAISED) for p in instance.presences),
        limits=tuple(x if x.cost is None else x._replace(cost=x.cost * _RAISED) for x in instance.limits),
        demands=tuple(d._replace(cost=d.cost * _RAISED) for d in instance.demands),
    )
