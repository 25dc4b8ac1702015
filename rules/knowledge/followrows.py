"""Rules of what may follow what: the options of kind ``follow``, ready to be asked.

``before`` is a side (crops, groups, families, traits), ``amendment`` something done to the soil; a
rule names one of them or both.  ``after`` is a side.  The rest narrows when the rule holds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from rules.knowledge.factfiles import Facts
from rules.knowledge.facts import Crop
from rules.knowledge.selectors import SIDE, Path, Selector, select
from rules.knowledge.shapes import Checker, Key, did_you_mean

#: What can be done to a soil before a crop, as it stands in a sentence.
AMENDMENTS = {
    "compost": "compost",
    "lime": "liming",
    "fertiliser": "fertiliser",
    "broke_sod": "the breaking of grass",
    "raw_manure": "raw manure",
}
_DONE = {kind: f"What was done before: {words}." for kind, words in AMENDMENTS.items()}
OPTIONS = {
    "before": replace(SIDE, needed=False, says="What came before: {}."),
    "amendment": Key("text", among=tuple(AMENDMENTS), says=_DONE),
    "after": replace(SIDE, says="The crop that follows: {}."),
    "both": Key("yes/no", says={"true": "The two may change places."}),
    "within_days": Key("whole", says="Between the two lie less than {} days."),
    "method": Key("text", among=("sow",), says={"sow": "It must be sown where it grows."}),
    "stood_days": Key("whole", says="The earlier one stood {} days or more."),
    "alone": Key("yes/no", says={"true": "The earlier one had its ground to itself."}),
    "sighted": Key("words", says="One of these was seen in the ground before: {}."),
    "unless_sighted": Key("words", says="None of these was seen in the ground before: {}."),
    "unless_fed": Key("words", among=tuple(AMENDMENTS), says="None of these was given in between: {}."),
    "credit_g_m2": Key("any", says="Nitrogen left for the later crop, in g a square metre: {}."),
    "quiet": Key("yes/no", says={"true": "It is told once a plan, where no other line about the order is told."}),
}
WORDS = frozenset({"crops", "bed", "last", "ended", "until", "credit", "seen"})


@dataclass(frozen=True, slots=True, eq=False)
class Follow:
    """What a rule asks of a succession.

    ``both``: the sides may change places.  ``within_days`` from the end of the earlier, or the
    amendment, to the start of the later; None for the crop directly before.  ``sown``: only what
    is sown where it grows.  The earlier stood ``stood_days`` or more, and ``alone`` in its ground.
    ``sighted`` and ``spared`` are diseases: one of the first, none of the second was seen in the
    ground.  ``unless_fed`` are amendments that make the rule idle.  ``credit`` is nitrogen left for
    the later crop, least and most, in g/m2.  ``quiet``: told once a plan, where no other rule speaks.
    """

    before: Selector | None
    amendment: str | None
    after: Selector
    both: bool
    within_days: int | None
    sown: bool
    stood_days: int
    alone: bool
    sighted: frozenset[str]
    spared: frozenset[str]
    unless_fed: frozenset[str]
    credit: tuple[float, float] | None
    quiet: bool

    def may_follow(self, crop: Crop) -> bool:
        """Whether a crop can be the later one; a group word counts where all its members do."""
        if self.after.match(crop) == "yes":
            return True
        return self.both and self.before is not None and self.before.match(crop) == "yes"

    def names(self, earlier: Crop, later: Crop) -> int | None:
        """How closely the rule names two crops, 0 the closest; None where it does not mean them."""
        if self.before is None:
            return None
        sides = ((self.before, self.after), (self.after, self.before))
        for before, after in sides if self.both else sides[:1]:
            if before.match(earlier) == "yes" and after.match(later) == "yes":
                return max(before.level(earlier), after.level(later))
        return None


def compile_follow(options: Mapping[str, Any], facts: Facts, checker: Checker, path: Path) -> Follow:
    """The options as look-ups; what could never hold is noted as a fault."""
    before, amendment = options.get("before"), options.get("amendment")
    if before is None and amendment is None:
        checker.fault(path, "name the crops that come before, or an amendment")
    if amendment is not None and options.get("both"):
        checker.fault((*path, "both"), "an amendment cannot come after, so the two cannot change places")
    for key in ("sighted", "unless_sighted"):
        for i, word in enumerate(options.get(key, ())):
            if word not in facts.diseases:
                checker.fault((*path, key, i), f"unknown disease {word!r}{did_you_mean(word, facts.diseases)}")
    return Follow(
        select(before, facts, checker, (*path, "before")) if before is not None else None,
        amendment,
        select(options["after"], facts, checker, (*path, "after")),
        options.get("both", False),
        options.get("within_days"),
        options.get("method") == "sow",
        options.get("stood_days", 0),
        options.get("alone", False),
        frozenset(options.get("sighted", ())),
        frozenset(options.get("unless_sighted", ())),
        frozenset(options.get("unless_fed", ())),
        _span(options, checker, path),
        options.get("quiet", False),
    )


def _span(options: Mapping[str, Any], checker: Checker, path: Path) -> tuple[float, float] | None:
    value = options.get("credit_g_m2")
    if value is None:
        return None
    fit = isinstance(value, list) and len(value) == 2
    if not fit or any(isinstance(n, bool) or not isinstance(n, int | float) for n in value) or value[0] > value[1]:
        checker.fault((*path, "credit_g_m2"), "two numbers are needed, the smaller first")
        return None
    return value[0], value[1]
