"""Pair rules: what a partner does to a crop beside it, and on what that depends.

A rule of kind ``pair`` is a row of one shape.  Its options name the partner that acts
(``a``), the crop acted on (``b``), what the effect is about and the conditions under which it
was found; its examples and exceptions are made from these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rules.knowledge.factfiles import Facts
from rules.knowledge.selectors import SIDE, Path, Selector, select
from rules.knowledge.shapes import Checker, Key, did_you_mean

#: What an effect may be about, in the words that people read.
ABOUT = {
    "pest_reduction": "fewer pests",
    "disease_reduction": "less disease",
    "yield": "yield",
    "weed_suppression": "fewer weeds",
    "competition": "competition for light, water and food",
    "allelopathy": "substances from root or leaf",
    "pollination": "pollination",
    "shade": "shade",
    "support": "support to climb",
    "nitrogen": "nitrogen",
    "trap_crop": "a trap crop",
    "beneficial_insects": "insects that eat pests",
    "pest_bridge": "pests passed on",
    "none_found": "no effect found",
}
#: Days that two crops stand together before they count as neighbours at all.
TOGETHER_DAYS = 14
_GROUNDS = ("ground", "raised", "container", "greenhouse")
_ONLY_IF = {
    "a_before_b": Key("any"),
    "young": Key("whole"),
    "out_by": Key("whole"),
    "together": Key("whole"),
    "within_m": Key("number"),
    "gap_m": Key("any"),
    "plants": Key("any"),
    "ground": Key("words", among=_GROUNDS),
    "treated": Key("yes/no"),
    "also": Key("text"),
}
_MEASURED = {"of": Key("text", needed=True), "value": Key("any", needed=True), "unit": Key("text", needed=True)}
OPTIONS = {
    "a": SIDE,
    "b": SIDE,
    "acts": Key("text", needed=True, among=("a_on_b", "both")),
    "about": Key("text", needed=True, among=tuple(ABOUT)),
    "pests": Key("words"),
    "diseases": Key("words"),
    "others": Key("words"),
    "only_if": Key("map", shape=_ONLY_IF),
    "told": Key("text", among=("plan", "pairs")),
    "measured": Key("any"),
    "against": Key("text"),
}
WORDS = frozenset({"a", "b", "bed", "crops"})

Span = tuple[float | None, float | None]


@dataclass(frozen=True, slots=True, eq=False)
class OnlyIf:
    """The conditions of a pair; each None or empty where it is not asked for.

    ``a_before_b`` days from the start of a to the start of b; ``young`` days in which a still
    acts; ``out_by`` days after the start of b by which a is cleared; ``together`` days;
    ``within_m`` and ``gap_m`` metres; ``plants`` of a for each of b.
    """

    a_before_b: Span | None = None
    young: int | None = None
    out_by: int | None = None
    together: int = TOGETHER_DAYS
    within_m: float | None = None
    gap_m: Span | None = None
    plants: Span | None = None
    ground: tuple[str, ...] = ()
    treated: bool = False
    also: str | None = None

    @property
    def reach_m(self) -> float:
        """How far apart the two may stand, edge to edge in metres; 0 for parts of a bed that touch."""
        most = self.gap_m[1] if self.gap_m is not None else None
        return self.within_m or most or 0.0


@dataclass(frozen=True, slots=True)
class Measured:
    """A published figure: what was measured, its value as printed, and its unit."""

    of: str
    value: str
    unit: str


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """A pair rule, ready to be asked; ``in_plan`` is False for what is told only about a pair."""

    a: Selector
    b: Selector
    both: bool
    about: str
    pests: tuple[str, ...]
    diseases: tuple[str, ...]
    others: tuple[str, ...]
    only_if: OnlyIf
    in_plan: bool
    measured: tuple[Measured, ...]
    against: str | None


def compile_pair(options: Mapping[str, Any], facts: Facts, checker: Checker, path: Path) -> Pair:
    """A pair from its options; what could never hold is noted as a fault."""
    a, b = (select(options[side], facts, checker, (*path, side)) for side in ("a", "b"))
    both = options["acts"] == "both"
    for key, known, what in (("pests", facts.pests, "pest"), ("diseases", facts.diseases, "disease")):
        for i, word in enumerate(options.get(key, ())):
            where = (*path, key, i)
            if word not in known:
                checker.fault(where, f"unknown {what} {word!r}{did_you_mean(word, known)}")
            elif key == "pests" and not _feeds(facts, word, (a, b) if both else (b,)):
                checker.fault(where, f"{word} feeds on no crop of this side, so the rule could never help against it")
    wishes = options.get("only_if", {})
    only_if = OnlyIf(
        _span(wishes, "a_before_b", checker, path),
        wishes.get("young"),
        wishes.get("out_by"),
        wishes.get("together", TOGETHER_DAYS),
        wishes.get("within_m"),
        _span(wishes, "gap_m", checker, path),
        _span(wishes, "plants", checker, path),
        tuple(wishes.get("ground", ())),
        wishes.get("treated", False),
        wishes.get("also"),
    )
    _possible(only_if, checker, path)
    measured = []
    rows = options.get("measured", [])
    for i, row in enumerate(rows if isinstance(rows, list) else [rows]):
        if checker.mapping(row, _MEASURED, (*path, "measured", i)):
            measured.append(Measured(row["of"], str(row["value"]), row["unit"]))
    return Pair(
        a,
        b,
        both,
        options["about"],
        tuple(options.get("pests", ())),
        tuple(options.get("diseases", ())),
        tuple(options.get("others", ())),
        only_if,
        options.get("told", "plan") == "plan",
        tuple(measured),
        options.get("against"),
    )


def _feeds(facts: Facts, pest: str, sides: tuple[Selector, ...]) -> bool:
    known = facts.pests[pest]
    return known.wide or any(crop in known.hosts for side in sides for crop in side.levels)


def _span(wishes: Mapping[str, Any], key: str, checker: Checker, path: Path) -> Span | None:
    """Two numbers, the smaller first, either of them null for no limit."""
    value = wishes.get(key)
    if value is None:
        return None
    numbers = value if isinstance(value, list) and len(value) == 2 else ()
    fit = all(n is None or (isinstance(n, int | float) and not isinstance(n, bool)) for n in numbers)
    if not numbers or not fit or (None not in numbers and numbers[0] > numbers[1]) or numbers == [None, None]:
        checker.fault((*path, "only_if", key), "two numbers are needed, the smaller first; null leaves one side open")
        return None
    return numbers[0], numbers[1]


def _possible(only_if: OnlyIf, checker: Checker, path: Path) -> None:
    """Note conditions that shut each other out."""
    gap, young, head = only_if.gap_m, only_if.young, only_if.a_before_b
    if gap is not None and gap[1] is None and only_if.within_m is None:
        checker.fault((*path, "only_if", "gap_m"), "say how wide the gap may be, or within how many metres they stand")
    if gap is not None and only_if.within_m is not None and (gap[0] or 0) > only_if.within_m:
        checker.fault((*path, "only_if"), "the least gap is wider than within_m, so the rule could never speak")
    if young is not None and head is not None and (head[0] or 0) > young - TOGETHER_DAYS:
        checker.fault((*path, "only_if"), "b comes when a is no longer young, so the rule could never speak")
    if only_if.out_by is not None and only_if.out_by < only_if.together and (head is None or (head[0] or 0) <= 0):
        checker.fault((*path, "only_if", "out_by"), "a is out before the two have stood together long enough to count")
    if young is not None and young < TOGETHER_DAYS:
        checker.fault((*path, "only_if", "young"), f"at least {TOGETHER_DAYS} days are needed to count as neighbours")
