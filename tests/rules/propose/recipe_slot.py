"""The instance recipe ``recipe_slot`` of the published trial runs, as instances of our first stage."""

import random
from typing import NamedTuple

from rules.planning.propose.instance import Choice, Demand, Hold, Instance, Limit, Presence, Room

SLOTS, CROPS, FAMILIES = 2, 20, 9
RETURNS = (3, 4, 4, 3, 3, 3, 2, 2, 2)
STRESS_RETURNS = (4, 4, 4, 3, 3, 3, 3, 3, 3)
SHORTFALL, BREACH, PAIR = 100, 30, 1


class Recipe(NamedTuple):
    """A garden drawn by the recipe."""

    rows: int
    cols: int
    years: int
    families: list
    durations: list
    starts: list
    demand: list
    history: list
    returns: tuple

    @property
    def beds(self):
        return self.rows * self.cols

    @property
    def check(self):
        slots = sum(d * t for d, t in zip(self.demand, self.durations, strict=True))
        return {"bed_slots": slots, "bed_crops": sum(self.demand), "sum_history": sum(map(sum, self.history))}


def draw(seed, rows, cols, years, hist, fill, returns=RETURNS, stress=False):
    """A garden; draw order as in the recipe."""
    r, beds = random.Random(seed), rows * cols
    families, durations, starts = [], [], []
    for i in range(CROPS):
        families.append(i if i < FAMILIES else r.randrange(FAMILIES))
        long = r.random() < 0.45
        durations.append(SLOTS if long else 1)
        starts.append([0] if long else sorted(r.sample(range(SLOTS), r.choice([1, SLOTS]))))
    caps = [max(1, beds // n) for n in returns]
    target, total, demand, use = int(fill * beds * SLOTS), 0, [0] * CROPS, [0] * FAMILIES
    for _ in range(5000):
        if total >= target:
            break
        i = r.randrange(CROPS)
        if use[families[i]] + 1 > caps[families[i]] or total + durations[i] > target:
            continue
        demand[i] += 1
        use[families[i]] += 1
        total += durations[i]
    history = [[r.randrange(FAMILIES) for _ in range(hist)] for _ in range(beds)]
    if stress:
        met = []
        for i in range(CROPS):
            if demand[i] and families[i] not in met and len(met) < 2:
                met.append(families[i])
                demand[i] += 2
    return Recipe(rows, cols, years, families, durations, starts, demand, history, returns)


def instance_of(recipe, neighbours="none"):
    """The recipe's garden as an instance: plots hold one crop a slot, and the break is soft."""
    choices, presences, place = [], [], {}
    rooms, holds, wanted = {}, {}, {}
    for b in range(recipe.beds):
        for t in range(recipe.years):
            for f in range(FAMILIES):
                place[f, b, t] = len(presences)
                presences.append(Presence(b, str(f), t))
            for c, amount in enumerate(recipe.demand):
                if not amount:
                    continue
                for s in recipe.starts[c]:
                    n = len(choices)
                    choices.append(Choice(c, b, t, 1))
                    for slot in range(s, s + recipe.durations[c]):
                        rooms.setdefault((b, t, slot), []).append(n)
                    holds.setdefault(place[recipe.families[c], b, t], []).append(n)
                    wanted.setdefault((c, t), []).append(n)
    limits = []
    for f in range(FAMILIES):
        for b in range(recipe.beds):
            for end in range(recipe.years):
                window = range(end - recipe.returns[f] + 1, end + 1)
                past = sum(
                    1 for t in window if t < 0 and -t <= len(recipe.history[b]) and recipe.history[b][-t - 1] == f
                )
                limits.append(Limit(tuple(place[f, b, t] for t in window if t >= 0), 0 if past else 1, BREACH))
    if neighbours != "none":
        for a, b in _pairs(recipe):
            for t in range(recipe.years):
                for f in range(FAMILIES):
                    cost = None if neighbours == "hard" else PAIR
                    limits.append(Limit((place[f, a, t], place[f, b, t]), 1, cost))
    return Instance(
        tuple(choices),
        tuple(presences),
        tuple(Room(tuple(here), 1) for here in rooms.values()),
        tuple(Hold(presence, tuple(here), 1) for presence, here in holds.items()),
        tuple(limits),
        tuple(
            Demand(tuple(here), recipe.demand[c], SHORTFALL * recipe.durations[c]) for (c, _), here in wanted.items()
        ),
    )


def _pairs(recipe):
    for row in range(recipe.rows):
        for col in range(recipe.cols):
            here = row * recipe.cols + col
            if col + 1 < recipe.cols:
                yield here, here + 1
            if row + 1 < recipe.rows:
                yield here, here + recipe.cols
