"""Proposals beside greedy choice, flow and published rotations: ``python tests/bench/proposals.py [--quick]``.

Three tables: published rotations; gardens of 12, 60 and 200 beds; the reference sizes of slot models with the figures
of this project's own trial runs beside ours (single runs, 60 s, HiGHS 1.16, 2 cores; no run times, gaps or optimum
counts could be seen in the papers, so none are quoted).  ``rows()`` gives ``run.py`` the row that has a target.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from time import perf_counter

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "rules" / "propose")]  # found as a script as well

from invented import CROPS, KNOWLEDGE, garden_of, grew  # noqa: E402
from measure import Row, Target  # noqa: E402
from published import EIGHT, FOUR, Published  # noqa: E402
from recipe_slot import STRESS_RETURNS, draw, instance_of  # noqa: E402

from rules import check  # noqa: E402
from rules.checks.context import Context  # noqa: E402
from rules.model import Bed, Plan, Planting  # noqa: E402
from rules.planning.propose import Proposal, Wish, Wishes, propose  # noqa: E402
from rules.planning.propose.building import ask  # noqa: E402
from rules.planning.propose.flow import greedy, quick  # noqa: E402
from rules.planning.propose.improve import Clock, searched  # noqa: E402
from rules.planning.propose.judging import joined  # noqa: E402
from rules.planning.propose.laying import lay  # noqa: E402

FIRST, YEARS, SECONDS = 2027, 4, 10.0
THIRTY = (
    *("potato", "leaf_lettuce", "bush_bean", "carrot", "onion_sets", "beet", "pea", "zucchini", "tomato", "cabbage"),
    *(
        "spinach",
        "broad_bean",
        "leek",
        "garlic",
        "sweet_corn",
        "runner_bean",
        "winter_squash",
        "cucumber",
        "swiss_chard",
    ),
    *("kale", "broccoli", "parsnip", "radish", "turnip", "scallion", "arugula", "celeriac", "corn_salad"),
    *("brussels_sprouts", "parsley"),
)
#: Seed of the recipe, rows, columns, years, fill, neighbour rule; value, bound and seconds of our own trial runs.
SLOT_MODELS = (
    (201, 2, 4, 4, 0.85, "hard", "value 0 proven, at most 0.1 s"),
    (202, 4, 4, 4, 0.85, "hard", "value 0 proven, at most 0.1 s"),
    (203, 4, 6, 4, 0.85, "hard", "value 0 proven, at most 1.8 s"),
    (205, 5, 10, 5, 0.85, "hard", "value 0 proven, at most 0.2 s"),
    (302, 4, 4, 4, 1.0, "hard", "value 1600 proven, 16.0 s"),
    (303, 4, 6, 5, 1.0, "hard", "value 3000 proven, 26.8 s"),
    (305, 5, 10, 5, 1.0, "hard", "value 5450, bound 3000, 60 s"),
    (306, 10, 10, 5, 1.0, "hard", "value 13000, bound 0, 60 s"),
)


def garden(beds: int, seed: int = 1) -> Plan:
    """Raised beds in rows of ten, three years of one crop each on record."""
    r = random.Random(seed)
    places = [
        Bed(f"b{n:03}", f"Bed {n + 1}", "raised", 300, 120, position=(n % 10 * 1.8, n // 10 * 3.6)) for n in range(beds)
    ]
    grown = [crop for crop in THIRTY if crop != "garlic"]
    past = [grew(b.id, r.choice(grown), f"{y}-04-20", f"{y}-09-20") for b in places for y in range(FIRST - 3, FIRST)]
    return garden_of(*places, past=past)


def thirty(beds: int, fill: float) -> Wishes:
    """Thirty crops in equal parts, on ``fill`` of the beds all told, at least a quarter bed of each."""
    amount = max(0.25, round(4 * beds * fill / len(THIRTY)) / 4)
    return Wishes(tuple(Wish(CROPS[crop], amount) for crop in THIRTY), FIRST, YEARS)


def timed(wishes: Wishes, plan: Plan, seconds: float) -> tuple[Proposal, float]:
    """A proposal and the seconds on the clock that it took."""
    started = perf_counter()
    return propose(wishes, plan, KNOWLEDGE, seconds=seconds, clock=perf_counter), perf_counter() - started


# -- tables


def published(rotation: Published, years: int, seconds: float) -> Iterable[tuple[str, ...]]:
    """A published rotation, greedy choice, flow and HiGHS for the same wishes, all judged by the ordinary check."""
    plan = replace(rotation.garden(), judge=rotation.window(years), judged_season=None)
    wishes, label = rotation.wishes(years), f"{rotation.name}; {years} of them planned"
    yield label, f"published ({rotation.source})", *judged(plan, tuple(rotation.plantings(years))), "-"
    question = ask(wishes, Context(plan, KNOWLEDGE, told="none"))
    for name, method in (("greedy", greedy), ("flow", quick)):
        started = perf_counter()
        amounts = method(question.instance)
        took = perf_counter() - started
        short = sum(question.instance.short(amounts)) / 4
        yield label, name, *judged(plan, lay(question, amounts).plantings, short), f"{took:.2f} s"
    found, took = timed(wishes, rotation.garden(), seconds)
    short = sum(one.amount for one in found.unplaced)
    gap = f"HiGHS, gap {100 * found.gap:.2f} %"
    yield label, gap, *judged(plan, found.plantings, short), f"{took:.1f} s"


def judged(plan: Plan, plantings: Sequence[Planting], short: float = 0) -> tuple[str, ...]:
    """Beds missing, breaches, cautions and points of a plan with some plantings."""
    report = check(joined(plan, plantings), KNOWLEDGE)
    counts = [sum(f.severity == severity for f in report.findings) for severity in ("breach", "caution")]
    return f"{short:g}", *map(str, counts), f"{sum(report.score.values())}"


def gardens(seconds: float, sizes: Iterable[tuple[int, float]]) -> Iterable[tuple[str, ...]]:
    """Gardens of some beds: what greedy and flow leave out, and what the whole search reaches in its time."""
    for beds, fill in sizes:
        plan, wishes = garden(beds), thirty(beds, fill)
        instance = ask(wishes, Context(plan, KNOWLEDGE, told="none")).instance
        found, took = timed(wishes, plan, seconds)
        asked = sum(demand.amount for demand in instance.demands) / 4 / YEARS
        rough = [instance.worth - instance.cost(method(instance)) for method in (greedy, quick)]
        missing = sum(one.amount for one in found.unplaced)
        yield (
            f"{beds} beds, {asked:g} asked a year",
            *(f"{value:.0f}" for value in (*rough, found.value, found.bound)),
            f"{100 * found.gap:.2f} % ({found.stopped})",
            f"{missing:g}",
            f"{took:.1f} s",
        )


def slot_models(
    seconds: float, models: Iterable[tuple[int, int, int, int, float, str, str]]
) -> Iterable[tuple[str, ...]]:
    """The reference sizes of slot models: our value, bound and seconds on the clock beside those of the trial runs."""
    for seed, rows, cols, years, fill, rule, trial in models:
        stress = fill == 1.0
        returns = {"returns": STRESS_RETURNS} if stress else {}
        instance = instance_of(draw(seed, rows, cols, years, 3 if stress else 2, fill, stress=stress, **returns), rule)
        solved = searched(instance, quick(instance), Clock(perf_counter), seconds)
        ours = f"value {solved.cost:.0f}, bound {solved.bound:.0f}, {solved.seconds:.1f} s"
        yield f"{rows * cols} beds, {years} years, {rule}", f"{len(instance.choices)}", ours, trial


def rows(seconds: float = 9.0) -> list[Row]:
    """The row with a target: 12 beds, 4 years, 30 crops; a gap that came after 10 s on the clock counts as none."""
    found, took = timed(thirty(12, 1.25), garden(12), seconds)
    missing = sum(one.amount for one in found.unplaced)
    figures = f"gap {100 * found.gap:.2f} % ({found.stopped}) in {took:.1f} s; {missing:g} beds missing"
    return [
        Row(
            "proposal, 12 beds, 4 years, 30 crops",
            figures,
            Target("at most", 0.02, "a gap of {:.0%} within 10 s"),
            None,
            found.gap if took <= SECONDS else 1.0,
        )
    ]


def lines(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown."""
    every = [tuple(header), tuple("---" for _ in header), *map(tuple, rows)]
    return "\n".join("| " + " | ".join(row) + " |" for row in every)


def tables(short: bool = False) -> str:
    """The three tables, and how they were made."""
    seconds = 2.0 if short else SECONDS
    plans = (row for one, years in ((FOUR, 4), (EIGHT, 4), (EIGHT, 8)) for row in published(one, years, seconds))
    sizes = [(12, 0.6), (12, 1.25), (12, 1.9)] if short else [(12, 0.6), (12, 1.25), (12, 1.9), (60, 1.25), (200, 1.25)]
    models = SLOT_MODELS[:4] if short else SLOT_MODELS
    parts = (
        lines(("rotation", "by", "beds missing", "breaches", "cautions", "points", "time"), plans),
        lines(
            ("garden", "greedy", "flow", "value", "bound", "gap", "beds missing, all years", "time"),
            gardens(seconds, sizes),
        ),
        lines(("slot model", "choices", "ours", "trial runs"), slot_models(6 * seconds, models)),
        f"{date.today()}, {seconds:g} s for each proposal.",
    )
    return "\n\n".join(parts)


def main(arguments: Sequence[str]) -> int:
    """Print the tables."""
    print(tables("--quick" in arguments))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
