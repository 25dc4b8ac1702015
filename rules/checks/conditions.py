"""Whether the conditions of a pair rule hold for two plantings, and the conditions in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from rules.checks.context import Context
from rules.checks.neighbours import Neighbour
from rules.knowledge.facts import Crop
from rules.knowledge.pairrows import TOGETHER_DAYS, OnlyIf, Pair, Span
from rules.model import Planting

#: What each kind of ground is called in a sentence.
_PLACES = {
    "ground": "in open ground",
    "raised": "in a raised bed",
    "container": "in a container",
    "greenhouse": "under glass",
}


class Condition(NamedTuple):
    """One condition in words that complete "only if ..."; ``holds`` is None where the plan cannot tell."""

    holds: bool | None
    words: str


def beside(only_if: OnlyIf, near: Neighbour) -> bool:
    """True where two plantings stand near enough, and long enough together, to be spoken of at all."""
    if near.days < only_if.together:
        return False
    if only_if.reach_m:
        # Beds without positions may be near; whether they are is then a condition that is not known.
        return near.metres is None or near.metres <= only_if.reach_m
    return near.metres == 0 and near.one.bed == near.other.bed


def judged(pair: Pair, a: Planting, b: Planting, near: Neighbour, context: Context) -> Iterator[Condition]:
    """Each condition of a pair beyond standing together, judged for two plantings."""
    for name, words in _asked(pair.only_if, a.crop, b.crop):
        judge = _JUDGES.get(name)
        # What stands near enough to be spoken of is near enough, unless the distance is not known.
        if judge is not None and (name != "within_m" or near.metres is None):
            yield Condition(judge(pair.only_if, a, b, near, context), words)


def conditions_in_words(pair: Pair, a: Crop, b: Crop) -> tuple[str, ...]:
    """Every condition of a pair, each completing "only if ..."."""
    return tuple(words for _, words in _asked(pair.only_if, a, b))


def _asked(only_if: OnlyIf, a: Crop, b: Crop) -> Iterator[tuple[str, str]]:
    """The conditions that a pair asks for, each by its name in the rule and in words."""
    if only_if.together > TOGETHER_DAYS:
        yield "together", f"they stand together for {only_if.together} days or more"
    if only_if.a_before_b is not None:
        yield "a_before_b", _before(only_if.a_before_b, a, b)
    if only_if.young is not None:
        yield "young", _young(only_if.young, a)
    if only_if.out_by is not None:
        yield "out_by", _out(only_if.out_by, a, b)
    if only_if.within_m is not None:
        yield "within_m", _near(only_if.within_m)
    if only_if.gap_m is not None:
        yield "gap_m", _gap(only_if.gap_m)
    if only_if.plants is not None:
        yield "plants", _plants(only_if.plants, a, b)
    if only_if.ground:
        yield "ground", _ground(only_if.ground)
    if only_if.treated:
        yield "treated", _acted_on(a)
    if only_if.also:
        yield "also", only_if.also


def _head_start(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    return _within((b.start - a.start).days, only_if.a_before_b) if _dated(a, b) else None


def _while_young(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    late = max(0, (b.start - a.start).days)
    return min(near.days, (only_if.young or 0) - late) >= TOGETHER_DAYS if _dated(a, b) else None


def _cleared(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    known = _dated(a, b) and not a.assumed_end
    return (a.end - b.start).days <= (only_if.out_by or 0) if known else None


def _open_ground(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    return None if near.metres is None else _within(near.metres, only_if.gap_m)


def _share_of(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    return _within(a.plants / b.plants, only_if.plants) if a.plants and b.plants else None


def _right_ground(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    return context.beds[b.bed].kind in only_if.ground


def _treated(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    return any(
        done.planting in (None, a.id) and a.start <= done.date <= a.end for done in context.treatments.get(a.bed, ())
    )


def _unseen(only_if: OnlyIf, a: Planting, b: Planting, near: Neighbour, context: Context) -> bool | None:
    """What a plan cannot show."""
    return None


#: How each condition is judged; standing together long enough is asked of all neighbours beforehand.
_JUDGES: dict[str, Callable[[OnlyIf, Planting, Planting, Neighbour, Context], bool | None]] = {
    "a_before_b": _head_start,
    "young": _while_young,
    "out_by": _cleared,
    "within_m": _unseen,
    "gap_m": _open_ground,
    "plants": _share_of,
    "ground": _right_ground,
    "treated": _treated,
    "also": _unseen,
}


def _dated(a: Planting, b: Planting) -> bool:
    return a.exact == b.exact == "day"


def _within(value: float, span: Span | None) -> bool:
    least, most = span or (None, None)
    return (least is None or value >= least) and (most is None or value <= most)


def _before(span: Span, a: Crop, b: Crop) -> str:
    least, most = span
    if least is not None and most is not None:
        if least < 0 < most and -least != most:
            return f"the {a.plural} {_go(a)} in at most {_days(most)} before and {_days(-least)} after the {b.plural}"
        if least < 0 < most or least == most == 0:
            wide = max(-least, most)
            return (
                f"the {a.plural} {_go(a)} in within {_days(wide)} of the {b.plural}"
                if wide
                else (f"the {a.plural} {_go(a)} in on the same day as the {b.plural}")
            )
        if most <= 0:
            return f"the {a.plural} {_go(a)} in {_count(-most)} to {_days(-least)} after the {b.plural}"
        return f"the {a.plural} {_go(a)} in {_count(least)} to {_days(most)} before the {b.plural}"
    if least is not None:
        if least > 0:
            return f"the {a.plural} {_go(a)} in {_days(least)} or more before the {b.plural}"
        if least == 0:
            return f"the {a.plural} {_go(a)} in with the {b.plural} or before them"
        return f"the {a.plural} {_go(a)} in at most {_days(-least)} after the {b.plural}"
    most = most or 0
    if most < 0:
        return f"the {a.plural} {_go(a)} in {_days(-most)} or more after the {b.plural}"
    if most == 0:
        return f"the {a.plural} {_go(a)} in with the {b.plural} or after them"
    return f"the {a.plural} {_go(a)} in at most {_days(most)} before the {b.plural}"


def _young(days: int, a: Crop) -> str:
    return f"they stand together while the {a.plural} {_are(a)} young, up to about {days} days"


def _out(days: int, a: Crop, b: Crop) -> str:
    return f"the {a.plural} {_are(a)} out {_days(days)} after the {b.plural} {_go(b)} in"


def _near(metres: float) -> str:
    return f"they stand within {_number(metres)} m of each other"


def _gap(span: Span) -> str:
    least, most = span
    if least is None:
        return f"at most {_number(most or 0)} m of bare ground lie between them"
    if most is None:
        return f"{_number(least)} m or more of bare ground lie between them"
    return f"{_number(least)} to {_number(most)} m of bare ground lie between them"


def _plants(span: Span, a: Crop, b: Crop) -> str:
    least, most = span
    if least is None:
        return f"there are at most {_share(most or 0)} {_plant(a)} for every 100 {_plant(b)}"
    if most is None and least == 1:
        return f"there are at least as many {a.plural} as {b.plural}"
    if most is None:
        return f"there are at least {_share(least)} {_plant(a)} for every 100 {_plant(b)}"
    return f"there are {_share(least)} to {_share(most)} {_plant(a)} for every 100 {_plant(b)}"


def _plant(crop: Crop) -> str:
    """Many plants of a crop: "leek plants", but "onions from sets"."""
    return crop.plural if " from " in crop.name else f"{crop.name} plants"


def _ground(kinds: tuple[str, ...]) -> str:
    return "they grow " + " or ".join(_PLACES[kind] for kind in kinds)


def _acted_on(a: Crop) -> str:
    return f"pests on the {a.plural} are treated or taken off in time"


def _go(crop: Crop) -> str:
    return "goes" if crop.uncounted else "go"


def _are(crop: Crop) -> str:
    return "is" if crop.uncounted else "are"


def _days(n: float) -> str:
    return f"{_count(n)} day" if n == 1 else f"{_count(n)} days"


def _count(n: float) -> str:
    return str(round(n))


def _share(n: float) -> str:
    return str(round(n * 100))


def _number(n: float) -> str:
    return f"{n:g}"
