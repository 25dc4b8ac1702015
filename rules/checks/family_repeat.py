"""Repeats inside one season, beside a standing relative, and in another part of the same bed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from rules.checks.context import Context, Hit, names_of
from rules.graphs.stays import Stay, has_break
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key

_WORDS = frozenset({"crops", "bed", "last", "family"})
_FROM = Key("whole", needed=True, says="It speaks of families whose least break is {} years or more.")
REPEAT = Kind(
    looks_at="Two crops of one family, one straight after the other in the same ground and season.",
    options={"from_least": _FROM},
    words=_WORDS,
)
BESIDE = Kind(looks_at="A crop that is set where a perennial of its family still stands.", options={}, words=_WORDS)
PARTS = Kind(
    looks_at="A crop whose family stood in another part of the same bed before its least break was over.",
    options={},
    words=_WORDS,
)


def _words(context: Context, later: Stay, last: str) -> dict[str, str]:
    return {
        "crops": names_of(later.plantings),
        "bed": context.bed_name(later.bed),
        "last": last,
        "family": context.knowledge.family_name(later.key),
    }


def check_repeat(context: Context, rule: Rule) -> Iterator[Hit]:
    """``family-repeat``: a crop follows a relative within one season (one stay).

    Only for families whose least break is ``from_least`` years or more: quick successions of
    salads and beans are ordinary practice.
    """
    told: set[tuple[str, str]] = set()
    for stay in (stay for run in context.stays for stay in run if len(stay.plantings) > 1):
        least, _ = context.interval(stay.key) or (0, 0)
        if least < rule.options["from_least"] or (stay.bed, stay.key) in told:
            continue
        for first, second in pairwise(stay.plantings):
            if second.start > first.end and context.in_window(second.start, second.end):
                told.add((stay.bed, stay.key))
                words = _words(context, stay, first.crop.plural) | {"crops": second.crop.plural}
                yield Hit((stay.bed,), (second,), words, {"after": first.id, "family": stay.key}, family=stay.key)
                break


def check_beside(context: Context, rule: Rule) -> Iterator[Hit]:
    """``family-beside``: a crop is set where a perennial of its family still stands."""
    for earlier, later in context.besides:
        if not later.perennial:
            yield Hit(
                (later.bed,),
                later.plantings,
                _words(context, later, earlier.last.crop.plural),
                {"standing": earlier.last.id, "family": later.key},
                context.in_window(later.start, later.end),
                family=later.key,
            )


def check_parts(context: Context, rule: Rule) -> Iterator[Hit]:
    """``family-parts``: a family moved only to another part of the same bed (once a bed)."""
    beds: dict[str, dict[str, list[list[Stay]]]] = {}
    for run in context.stays:
        beds.setdefault(run[0].bed, {}).setdefault(run[0].key, []).append(run)
    for families in beds.values():
        # Only a family in several stretches of a ground can have moved from one part to another.
        parted = [[stay for run in runs for stay in run] for runs in families.values() if len(runs) > 1]
        judged = ((later, here) for here in parted for later in here if context.in_window(later.start, later.end))
        hit = next((h for later, here in judged for h in _moved(context, later, here)), None)
        if hit is not None:
            yield hit


def _moved(context: Context, later: Stay, here: list[Stay]) -> Iterator[Hit]:
    """What a stay moved away from, of those of its family in the same bed."""
    new = later.plantings[0]
    least, _ = context.interval(later.key) or (0, 0)
    for earlier in here:
        old = earlier.last
        if (
            (old.part[1] <= new.part[0] or old.part[0] >= new.part[1])
            and not earlier.perennial
            and earlier.end < later.start
            and not has_break(earlier, later, least, context.latitude)
        ):
            yield Hit(
                (later.bed,),
                later.plantings,
                _words(context, later, old.crop.plural),
                {"last_host": old.id, "family": later.key},
                family=later.key,
            )
