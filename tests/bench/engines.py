"""Pair questions put to our compiled table and to general rule engines, side by side.

A question is two plantings that stand near each other; the answer is every pair rule whose sides
and conditions hold for them.  The rules of the rule set are turned into plain rows (lists of crop
ids, comparisons of numbers and words), which each engine gets in its own language.  What a plan
cannot show, and which of two rules stands back behind a more specific one, is asked of none.
Answers that differ are an error, not a figure.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from importlib.metadata import PackageNotFoundError, version
from random import Random
from statistics import median
from time import perf_counter
from typing import Any, NamedTuple

from measure import markdown, shown

from rules import Knowledge
from rules.checks.conditions import beside, judged
from rules.checks.context import Context
from rules.checks.neighbours import Neighbour
from rules.knowledge.facts import Crop
from rules.knowledge.pairrows import TOGETHER_DAYS, compile_pair
from rules.knowledge.pairtable import PairTable
from rules.knowledge.shapes import Checker
from rules.knowledge.yamlfile import Located
from rules.model import Bed, Garden, Plan, Planting, Treatment, Window

HEADER = ("engine", "load", "first asking", "asked again", "a question", "times ours")
OURS, LOOP = "our compiled table", "plain loop over the rows"

Value = bool | float | str
Facts = Mapping[str, Value]
#: The id of a rule, and the crop that acts; "" where both may.
Answer = tuple[str, str]


class Limit(NamedTuple):
    """One condition on a fact; ``sign`` is ">=", "<=", "==" or "in"."""

    fact: str
    sign: str
    value: Value | tuple[str, ...]


class Row(NamedTuple):
    """A pair rule without its words: the crops of both sides and the conditions."""

    rule: str
    both: bool
    a: tuple[str, ...]
    b: tuple[str, ...]
    limits: tuple[Limit, ...]


class Question(NamedTuple):
    """Two plantings as we meet them, and the same as facts, either of them taken to act."""

    near: Neighbour
    ways: tuple[Facts, Facts]


Ask = Callable[[Question], frozenset[Answer]]


@dataclass(frozen=True, slots=True)
class Engine:
    """``load`` makes all rows ready to be asked; ``package`` is what to install for it."""

    name: str
    load: Callable[[], Ask]
    package: str | None = None


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds to load, and for all questions on the first and on the second asking."""

    load: float
    first: float
    again: float


# -- the rules and the questions

_SIGNS: dict[str, Callable[[Any, Any], bool]] = {
    ">=": lambda value, limit: value >= limit,
    "<=": lambda value, limit: value <= limit,
    "==": lambda value, limit: value == limit,
    "in": lambda value, among: value in among,
}


def rows_of(knowledge: Knowledge) -> tuple[Row, ...]:
    """Every pair rule as a row."""
    return tuple(
        Row(
            rule.id,
            rule.options["acts"] == "both",
            tuple(sorted(rule.compiled.a.levels)),
            tuple(sorted(rule.compiled.b.levels)),
            tuple(_limits(rule.options.get("only_if", {}))),
        )
        for rule in knowledge.by_kind.get("pair", ())
    )


#: What ``_limits`` can say; ``also`` is what a plan cannot show.
_SAYABLE = {"together", "out_by", "within_m", "gap_m", "a_before_b", "plants", "young", "ground", "treated", "also"}


def _limits(only_if: Mapping[str, Any]) -> Iterator[Limit]:
    if strange := only_if.keys() - _SAYABLE:
        raise RuntimeError(f"the benchmark cannot put these conditions to other engines: {sorted(strange)}")
    yield Limit("days", ">=", only_if.get("together", TOGETHER_DAYS))
    reach = only_if.get("within_m") or only_if.get("gap_m", (None, None))[1] or 0
    yield Limit("metres", "<=", reach)
    if not reach:
        yield Limit("same_bed", "==", True)
    for key, fact in (("a_before_b", "ahead"), ("gap_m", "metres"), ("plants", "share")):
        for sign, limit in zip((">=", "<="), only_if.get(key, ()), strict=False):
            if limit is not None:
                yield Limit(fact, sign, limit)
    if "young" in only_if:
        yield Limit("ahead", "<=", only_if["young"] - TOGETHER_DAYS)
    if "out_by" in only_if:
        yield Limit("out", "<=", only_if["out_by"])
    if "ground" in only_if:
        yield Limit("ground", "in", tuple(only_if["ground"]))
    if only_if.get("treated"):
        yield Limit("treated", "==", True)


_GROUNDS = ("ground", "raised", "container", "greenhouse")
_END = date(2027, 9, 30)
_DAYS, _LAGS = (5, 13, 14, 30, 60, 120), (0, 3, 7, 14, 20, 28, 32, 60)
_METRES, _PLANTS = (0.0, 0.0, 0.5, 1.5, 4.0, 12.0, 30.0), (1, 2, 5, 8, 15, 30, 90)
_TRIES = 200


def context_of(knowledge: Knowledge) -> Context:
    """A garden with two beds of each kind of ground, treated and not, in which the questions stand."""
    beds = [
        Bed(f"{kind}-{'treated' if treated else 'left'}-{n}", kind, kind)
        for kind in _GROUNDS
        for treated in (False, True)
        for n in range(2)
    ]
    treatments = tuple(Treatment(bed.id, _END, "soap") for bed in beds if "treated" in bed.id)
    window = Window(date(2027, 1, 1), date(2027, 12, 31))
    plan = Plan(date(2026, 11, 20), window, "2027", Garden(), tuple(beds), (), treatments=treatments)
    return Context(plan, knowledge)


def questions_of(knowledge: Knowledge, count: int, seed: int = 1) -> list[Question]:
    """So many invented questions, a third each: any two crops, the crops of some rule, and such that the rule holds."""
    chance, rows, context = Random(seed), rows_of(knowledge), context_of(knowledge)
    known: dict[str, Crop] = {**knowledge.crops, **knowledge.groups}
    crops = sorted(knowledge.crops)
    questions: list[Question] = []
    while len(questions) < count:
        turn = len(questions) % 3
        row = rows[(len(questions) // 3) % len(rows)]
        a, b = chance.sample(crops, 2) if turn == 0 else (chance.choice(row.a), chance.choice(row.b))
        if a == b:
            b = next(crop for crop in crops if crop != a)  # one crop beside itself is no pair
        pair = (known[a], known[b]) if chance.random() < 0.5 else (known[b], known[a])
        for _ in range(_TRIES if turn == 2 else 1):
            question = _question(pair, chance, context)
            if any(way["a"] == a and _holds(row, way) for way in question.ways):
                break
        questions.append(question)
    return questions


def _question(pair: tuple[Crop, Crop], chance: Random, context: Context) -> Question:
    beds = sorted(context.beds)
    bed = chance.choice(beds)
    days, lag = chance.choice(_DAYS), chance.choice(_LAGS)
    started = _END - timedelta(days - 1)
    ends = [_END, _END + timedelta(chance.choice(_LAGS))]  # one stays on by itself
    chance.shuffle(ends)
    one = Planting("q0", bed, pair[0], started - timedelta(lag), ends[0], plants=chance.choice(_PLANTS))
    where = bed if chance.random() < 0.7 else chance.choice(beds)
    other = Planting("q1", where, pair[1], started, ends[1], plants=chance.choice(_PLANTS))
    near = Neighbour(one, other, chance.choice(_METRES), days, False)
    return Question(near, (_facts(near, context), _facts(_turned(near), context)))


def _holds(row: Row, way: Facts) -> bool:
    return all(_SIGNS[limit.sign](way[limit.fact], limit.value) for limit in row.limits)


def _turned(near: Neighbour) -> Neighbour:
    return near._replace(one=near.other, other=near.one)


def _facts(near: Neighbour, context: Context) -> Facts:
    a, b, metres = near.one, near.other, near.metres
    assert a.plants
    assert b.plants
    assert metres is not None
    return {
        "a": a.crop.id,
        "b": b.crop.id,
        "days": float(near.days),
        "metres": metres,
        "same_bed": a.bed == b.bed,
        "ahead": float((b.start - a.start).days),
        "out": float((a.end - b.start).days),
        "share": a.plants / b.plants,
        "ground": context.beds[b.bed].kind,
        "treated": bool(context.treatments.get(a.bed)),
    }


def said(rows: Iterable[Row], acting: Value) -> Iterator[Answer]:
    """Rows that hold, as answers."""
    return ((row.rule, "" if row.both else str(acting)) for row in rows)


# -- the two that are always there


def ours(knowledge: Knowledge) -> Engine:
    """The table and the conditions as a check of a plan asks them; loading compiles every rule anew."""
    checker, context = Checker(Located("bench", {}, {})), context_of(knowledge)
    pair_rules = knowledge.by_kind.get("pair", ())

    def load() -> Ask:
        compiled = [replace(r, compiled=compile_pair(r.options, knowledge.facts, checker, ())) for r in pair_rules]
        table = PairTable(compiled, knowledge.facts)

        def ask(question: Question) -> frozenset[Answer]:
            near = question.near
            found = []
            for spoken in table.between(near.one.crop, near.other.crop):
                if spoken.sure and beside(spoken.pair.only_if, near):
                    a, b = (near.one, near.other) if near.one.crop is spoken.a else (near.other, near.one)
                    # None: the plan cannot tell, which is asked of no engine.
                    if all(one.holds is not False for one in judged(spoken.pair, a, b, near, context)):
                        found.append((spoken.rule.id, "" if spoken.pair.both else a.crop.id))
            return frozenset(found)

        return ask

    return Engine(OURS, load)


def loop(rows: Sequence[Row]) -> Engine:
    """The rows gone through one by one: what every answer is held against."""

    def load() -> Ask:
        ready = [(row, frozenset(row.a), frozenset(row.b)) for row in rows]

        def ask(question: Question) -> frozenset[Answer]:
            found: list[Answer] = []
            for way in question.ways:
                a, b = way["a"], way["b"]
                near = (row for row, acting, acted_on in ready if a in acting and b in acted_on)
                found += said((row for row in near if _holds(row, way)), a)
            return frozenset(found)

        return ask

    return Engine(LOOP, load)


# -- measuring


def timed(engines: Sequence[Engine], questions: Sequence[Question], rounds: int) -> dict[str, Times]:
    """Medians over rounds in which all take their turn; RuntimeError where answers differ from the first engine's."""
    taken: dict[str, list[tuple[float, float, float]]] = {engine.name: [] for engine in engines}
    right: list[frozenset[Answer]] | None = None
    for count in range(-1, rounds):  # the first round imports the libraries and holds the answers together
        for engine in engines:
            gc.collect()
            times = [perf_counter()]
            ask = engine.load()
            times.append(perf_counter())
            answers = [ask(question) for question in questions]
            times.append(perf_counter())
            again = [ask(question) for question in questions]
            times.append(perf_counter())
            right = answers if right is None else right
            for given in (answers, again):
                _agree(engine.name, questions, given, right)
            if count >= 0:
                taken[engine.name].append((times[1] - times[0], times[2] - times[1], times[3] - times[2]))
    return {name: Times(*map(median, zip(*each, strict=True))) for name, each in taken.items()}


def _agree(
    name: str,
    questions: Sequence[Question],
    answers: Sequence[frozenset[Answer]],
    right: Sequence[frozenset[Answer]],
) -> None:
    for question, got, want in zip(questions, answers, right, strict=True):
        if got != want:
            raise RuntimeError(f"{name} differs by {sorted(got ^ want)} on {dict(question.ways[0])}")


def side_by_side(knowledge: Knowledge, libraries: Sequence[Engine], count: int, rounds: int) -> str:
    """The table of all engines that are installed, what it is about, and which are not installed."""
    rows = rows_of(knowledge)
    if not rows:
        return "No pair rules: nothing to ask.\n"
    questions = questions_of(knowledge, count)
    here = [engine for engine in libraries if engine.package is None or _version(engine.package)]
    engines = [loop(rows), ours(knowledge), *here]
    took = timed(engines, questions, rounds)
    lines = [HEADER, *(_line(engine, took[engine.name], took[OURS], count) for engine in _ordered(engines))]
    ask = loop(rows).load()
    answers = [ask(question) for question in questions]
    spoken = len({rule for answer in answers for rule, _ in answer})
    told = (
        f"{len(rows)} pair rules, {count:,} questions; {sum(map(bool, answers)):,} have an answer, in which {spoken} "
        f"rules speak. All engines gave equal answers.\nMedians of {rounds} rounds in turn; times ours: asked again.\n"
    )
    lacking = [engine.package for engine in libraries if engine not in here and engine.package]
    if lacking:
        told += f"Not installed here, so not measured: {', '.join(lacking)} (`pip install -e '.[bench]'`).\n"
    return f"{markdown(lines)}\n{told}"


def _ordered(engines: Sequence[Engine]) -> list[Engine]:
    return sorted(engines, key=lambda engine: engine.name != OURS)


def _line(engine: Engine, took: Times, mine: Times, questions: int) -> tuple[str, ...]:
    name = f"{engine.name} {_version(engine.package)}" if engine.package else engine.name
    each = f"{took.again / questions * 1e6:.1f} µs"
    return name, shown(took.load), shown(took.first), shown(took.again), each, f"{took.again / mine.again:.1f}"


def _version(package: str) -> str | None:
    try:
        return version(package)
    except PackageNotFoundError:
        return None
