"""``manure-wait``: raw manure is given to ground whose harvest is eaten before its germs are gone.

``harvest: known`` finds what would be picked too soon; ``harvest: open`` tells the first safe day
where the plan does not say when picking begins.  The days of the wait are the rule's own: longer
where what is eaten touches soil or its splash, and where nothing is known of that.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from rules.checks.amended import amendments
from rules.checks.context import Context, Hit, month_year, names_of
from rules.knowledge.facts import Crop
from rules.knowledge.ruleset import Kind, Rule
from rules.knowledge.shapes import Key
from rules.model import Planting
from rules.reading.plantings import days_to_harvest

HARVEST = {
    "known": "It speaks where the day of the first harvest is written down or follows from the crop.",
    "open": "It speaks where that day is not known.",
}
KIND = Kind(
    looks_at="A crop that is eaten, in ground that was given raw manure before or while it stood.",
    options={
        "harvest": Key("text", needed=True, among=tuple(HARVEST), says=HARVEST),
        "touching_days": Key("whole", needed=True, says="Days to harvest where what is eaten touches soil: {}."),
        "clear_days": Key("whole", needed=True, says="Days to harvest where it hangs clear of soil: {}."),
    },
    words=frozenset({"crops", "bed", "spread", "days", "safe", "picked", "touch"}),
)
RAW_MANURE = "raw_manure"
#: What is grown for no one's plate.
_NOT_EATEN = frozenset({"green_manure", "flower", "fallow"})
_TOUCH = {
    True: "what is eaten touches soil or its splash",
    False: "what is eaten hangs clear of soil and splash",
    None: "it is not known whether what is eaten touches soil, so the longer wait is taken",
}


class _Wait(NamedTuple):
    """A planting that manure was given to or before: when it is picked first (None where open), and when it may be."""

    planting: Planting
    spread: date
    picked: date | None
    days: int
    safe: date


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """Yield one hit for each bed, day of manuring and length of the wait."""
    for bed, changes in context.once(amendments).items():
        spread = [change.date for change in changes if change.kind == RAW_MANURE]
        found: dict[tuple[date, int, bool | None, bool], list[_Wait]] = {}
        for planting in context.grounds[bed].plantings if spread else ():
            if planting.bed == bed and is_eaten(planting.crop):
                wait = _worst(context, rule, planting, spread)
                if wait is not None:
                    touch = planting.crop.traits.soil_contact
                    key = (wait.spread, wait.days, touch, _judged(context, wait))
                    found.setdefault(key, []).append(wait)
        for (_, _, touch, in_window), waits in found.items():
            yield _hit(context, bed, waits, touch, in_window)


def is_eaten(crop: Crop) -> bool:
    """False for green manures and flowers, and where nothing of a crop is eaten."""
    return crop.kind not in _NOT_EATEN and crop.traits.part != "none"


def wait_days(rule: Rule, crop: Crop) -> int:
    """Days from raw manure to harvest that a rule asks of a crop."""
    clear = crop.traits.soil_contact is False
    return int(rule.options["clear_days" if clear else "touching_days"])


def _worst(context: Context, rule: Rule, planting: Planting, spread: list[date]) -> _Wait | None:
    """The manuring that a planting has to wait for longest, of those that it does not."""
    days, known = wait_days(rule, planting.crop), rule.options["harvest"] == "known"
    for day in reversed(spread):
        safe = day + timedelta(days=days)
        if planting.end <= day or planting.start >= safe:
            continue
        picked = _picked(context, planting, day)
        if picked is None:
            if not known:
                return _Wait(planting, day, None, days, safe)
        elif day <= picked < safe:
            return _Wait(planting, day, picked, days, safe) if known else None
    return None


def _picked(context: Context, planting: Planting, spread: date) -> date | None:
    """The first day on or after the manuring on which a crop is picked; None where the plan does not tell."""
    first = planting.first_harvest
    if first is None and planting.exact == "day":
        days = days_to_harvest(planting.crop, planting.start, context.plan.garden)
        first = planting.start + timedelta(days=days.least) if days else None
    if first is None or first >= spread:
        return first
    if planting.crop.perennial:
        return None  # picked every year, and this year's first day is not told
    # Once picking has begun it goes on to the end; where that is only assumed, the crop is taken to be gone.
    return first if planting.assumed_end else spread


def _judged(context: Context, wait: _Wait) -> bool:
    standing = context.plan.judge.touches(wait.spread, wait.safe)
    return standing or context.in_window(wait.planting.start, wait.planting.end)


def _hit(context: Context, bed: str, waits: list[_Wait], touch: bool | None, in_window: bool) -> Hit:
    plantings = tuple(wait.planting for wait in waits)
    first = waits[0]
    picked = [wait.picked for wait in waits if wait.picked is not None]
    words = {
        "crops": names_of(plantings),
        "bed": context.bed_name(bed),
        "spread": _day(first.spread),
        "days": str(first.days),
        "safe": _day(first.safe),
        "picked": _day(min(picked)) if picked else "",
        "touch": _TOUCH[touch],
    }
    return Hit(
        (bed,),
        plantings,
        words,
        {
            "spread": first.spread,
            "wait_days": first.days,
            "first_safe_harvest": first.safe,
            "soil_contact": touch if touch is not None else "not known",
            "first_harvest": min(picked) if picked else None,
        },
        in_window,
        put_off=max((first.safe - day).days for day in picked) if picked else None,
    )


def _day(day: date) -> str:
    return f"{day.day} {month_year(day)}"
