"""``follow``: what a crop finds in the ground after another one, or after something was done to the soil.

Without ``within_days`` the crop directly before is meant: in each part of the ground the last that
was cleared before the later one started, at most ``MOST_DAYS`` ago.  With it, whatever was cleared
or done so many days before or less; a wait shorter than a year then passes over what is not
known to the day.

A succession is told once.  A rule that counts against it silences benefits and advice about the
same two crops; of several benefits of one planting the strongest is told (points, evidence, then
the rule that names its crops most closely); advice gives way to a benefit that names its crops more
closely, and a bed hears at most two lines of it.  ``quiet`` rules speak once a plan, of plantings that
no other of these rules speaks of, and add no advice to a bed that has some.  A relative directly
before is left to the rotation.  Of the years before the judged window only what counted against
them is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import NamedTuple

from rules.checks.amended import amendments
from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.successions import MOST_DAYS, Succession, successions
from rules.knowledge.followrows import AMENDMENTS, OPTIONS, WORDS, Follow, compile_follow
from rules.knowledge.followtable import Named
from rules.knowledge.ruleset import GRAVE, Kind, Rule
from rules.model import Planting
from rules.report import Evidence

#: Lines of advice about what follows what that one bed hears.
MOST_ADVICE = 2
#: Waits of a year or more may be counted from rows that are known by their season only.
_YEAR_DAYS = 365
#: Crops that share ground for longer than this did not stand alone; what is given so near to a change
#: feeds the later crop (both judgement).
_SHARED, _ABOUT = timedelta(days=14), timedelta(days=30)
_MOST_NAMES = 3

KIND = Kind(
    looks_at="A crop and what came directly before it in the same ground, or so many days before where days are named.",
    options=OPTIONS,
    words=WORDS,
    compile=compile_follow,
)


class _Heard(NamedTuple):
    """A rule that holds for a succession."""

    rule: Rule
    succession: Succession
    named: Named

    @property
    def pair(self) -> tuple[str, str]:
        """The later planting, and the earlier one or the amendment."""
        earlier, change = self.succession.earlier, self.succession.amendment
        return self.succession.later.id, earlier.id if earlier else f"{change.kind} {change.date}" if change else ""


def check(context: Context, rule: Rule) -> Iterator[Hit]:
    """One hit for each bed, or one for the whole plan where the rule is ``quiet``."""
    by_place: dict[tuple[str, bool], list[Succession]] = {}
    for heard in context.once(_grave if rule.severity in GRAVE else _mild).get(rule.id, ()):
        later = heard.succession.later
        place = "" if rule.compiled.quiet else later.bed
        by_place.setdefault((place, context.in_window(later.start, later.end)), []).append(heard.succession)
    for (_, in_window), here in by_place.items():
        yield _hit(context, rule, here, in_window)


def speaking(context: Context, only_grave: bool) -> set[str]:
    """The ids of the rules that have anything to say."""
    return {*context.once(_grave), *(() if only_grave else context.once(_mild))}


# -- what holds, and what of it is told


class _Asked:
    """Some rules of kind ``follow``, and which of them each later crop is asked for."""

    def __init__(self, context: Context, *, grave: bool) -> None:
        table = context.knowledge.follows
        self.context, self.rules = context, table.grave if grave else table.mild
        self.reach = max(MOST_DAYS, self.rules.reach)

    def may_hold(self, bed: str) -> bool:
        """Whether anything on record for a bed is what one of the rules asks to have been before."""
        kinds, may_lead = self.rules.amendments, self.rules.may_lead
        if any(change.kind in kinds for change in self.context.once(amendments).get(bed, ())):
            return True
        return any(may_lead(p.crop) for p in self.context.grounds[bed].plantings)

    def heard(self, bed: str, laters: Iterable[Planting]) -> list[_Heard]:
        """Each rule that holds for what came before some of a bed's plantings."""
        found, table = [], self.rules
        laters = [p for p in laters if table.may_follow(p.crop)]
        for s in successions(self.context, bed, laters, self.reach, table.after):
            before = s.earlier.crop if s.earlier is not None else s.amendment.kind if s.amendment is not None else ""
            for named in table.after(before, s.later.crop):
                if _in_time(named.follow, s) and _holds(self.context, named.follow, s):
                    found.append(_Heard(named.rule, s, named))
        return found


def _grave(context: Context) -> dict[str, list[_Heard]]:
    """What counts against the plan, over all years on record, by rule."""
    asked = _Asked(context, grave=True)
    beds = [bed for bed in context.grounds if asked.may_hold(bed)]
    return _by_rule(heard for bed in beds for heard in asked.heard(bed, context.own[bed]))


def _mild(context: Context) -> dict[str, list[_Heard]]:
    """The benefits and the advice that are told of the judged window, by rule."""
    asked = _Asked(context, grave=False)
    against = {heard.pair for several in context.once(_grave).values() for heard in several}
    judged: dict[str, list[Planting]] = {}
    for planting in context.judged:
        judged.setdefault(planting.bed, []).append(planting)
    told: list[_Heard] = []
    for bed, laters in judged.items():
        heard = asked.heard(bed, laters)
        mild = sorted((h for h in heard if not against or h.pair not in against), key=_strength)
        heard = _loud([h for h in mild if not h.rule.compiled.quiet])
        spoken = {h.succession.later.id for h in heard}
        quiet = _first_rule(h for h in mild if h.rule.compiled.quiet and h.succession.later.id not in spoken)
        if any(h.rule.severity == "advice" for h in heard):
            quiet = [h for h in quiet if h.rule.severity != "advice"]
        told += heard + quiet
    return _by_rule(told)


def _loud(mild: list[_Heard]) -> list[_Heard]:
    """Of one bed's benefits and advice, the strongest first, those that are told."""
    benefits = [h for h in mild if h.rule.severity == "benefit"]
    closest: dict[str, int] = {}
    for h in benefits:
        later = h.succession.later.id
        closest[later] = min(h.named.level, closest.get(later, h.named.level))
    advice = [h for h in mild if h.rule.severity == "advice"]
    advice = [h for h in advice if closest.get(h.succession.later.id, h.named.level) >= h.named.level]
    lines = list(dict.fromkeys(h.rule.id for h in advice))[:MOST_ADVICE]
    return _first_rule(benefits) + [h for h in advice if h.rule.id in lines]


def _first_rule(heard: Iterable[_Heard]) -> list[_Heard]:
    """Of each planting's rules only the first, with all the crops before that it holds for."""
    first: dict[str, str] = {}
    return [h for h in heard if first.setdefault(h.succession.later.id, h.rule.id) == h.rule.id]


def _strength(heard: _Heard) -> tuple[int, int, int, str]:
    return heard.named.strength


def _by_rule(told: Iterable[_Heard]) -> dict[str, list[_Heard]]:
    found: dict[str, list[_Heard]] = {}
    for heard in told:
        found.setdefault(heard.rule.id, []).append(heard)
    return found


# -- whether a rule holds


def _in_time(follow: Follow, s: Succession) -> bool:
    if follow.within_days is None:
        return s.direct or (s.earlier is None and s.days <= MOST_DAYS)
    return s.days < follow.within_days and (s.dated or follow.within_days >= _YEAR_DAYS)


def _holds(context: Context, follow: Follow, s: Succession) -> bool:
    if s.earlier is not None:
        if follow.within_days is None and _relatives(context, s.earlier, s.later):
            return False
        if _stood(s.earlier) < follow.stood_days:
            return False
        if follow.alone and not _alone(context, s.later.bed, s.earlier):
            return False
    if follow.sighted or follow.spared:
        seen = context.grounds[s.later.bed].sightings
        before = {disease for disease, days in seen.items() if days[0] < s.later.start}
        if (follow.sighted and not follow.sighted & before) or follow.spared & before:
            return False
    if follow.sown and not _sown(s.later):
        return False
    return not (follow.unless_fed and _fed(context, follow.unless_fed, s))


def _relatives(context: Context, earlier: Planting, later: Planting) -> bool:
    """True for two of one family that needs a break."""
    family = later.crop.family
    interval = context.interval(family) if family and family == earlier.crop.family else None
    return interval is not None and interval[1] > 0


def _stood(earlier: Planting) -> int:
    """Days that a planting stood; for a row known by its year alone, those that its crop needs."""
    days = (earlier.end - earlier.start).days
    maturity = earlier.crop.maturity if earlier.exact == "year" else None
    return days if maturity is None else min(days, maturity.most)


def _sown(later: Planting) -> bool:
    """True for what is sown where it grows: as the row says, else as the crop's days to harvest are counted."""
    if later.method is not None:
        return later.method == "sow"
    maturity = later.crop.maturity
    return maturity is not None and maturity.counted_from == "sowing"


def _alone(context: Context, bed: str, earlier: Planting) -> bool:
    """True for a stand that no other crop shared its ground with for long."""
    return not any(
        p.id != earlier.id
        and p.part[0] < earlier.part[1]
        and p.part[1] > earlier.part[0]
        and min(p.end, earlier.end) - max(p.start, earlier.start) > _SHARED
        for p in context.grounds[bed].plantings
    )


def _fed(context: Context, kinds: frozenset[str], s: Succession) -> bool:
    return any(
        change.kind in kinds and s.done - _ABOUT <= change.date <= s.later.start + _ABOUT
        for change in context.once(amendments).get(s.later.bed, ())
    )


# -- words


def _hit(context: Context, rule: Rule, here: list[Succession], in_window: bool) -> Hit:
    follow: Follow = rule.compiled
    here = sorted(here, key=lambda s: (context.rank[s.later.bed], s.later.start, s.later.crop.id, s.later.id))
    plantings = tuple({s.later.id: s.later for s in here}.values())
    earlier = tuple({s.earlier.id: s.earlier for s in here if s.earlier is not None}.values())
    beds = tuple(dict.fromkeys(p.bed for p in plantings))
    done = max(s.done for s in here)
    over = done + timedelta(days=follow.within_days or 0)
    seen = [disease for disease in sorted(follow.sighted) if disease in context.grounds[beds[0]].sightings]
    words = {
        "crops": names_of(plantings),
        "bed": _listed([context.bed_name(bed) for bed in beds]),
        "last": names_of(earlier) if earlier else AMENDMENTS[follow.amendment or ""],
        "ended": month_year(done),
        "until": f"{over.day} {month_year(over)}",
        "seen": " and ".join(context.knowledge.diseases[disease].name for disease in seen),
    }
    because: dict[str, Evidence] = {
        "before": tuple(p.id for p in earlier) or (follow.amendment or ""),
        "ended": done,
        "days": min(s.days for s in here),
    }
    if any(p.assumed_end for p in earlier):
        because["ended_assumed"] = True
    if follow.credit is not None:
        because["nitrogen_g_m2_least"], because["nitrogen_g_m2_most"] = follow.credit
        words["credit"] = " to ".join(f"{abs(g):g}" for g in sorted(follow.credit, key=abs)) + " g"
    waits = follow.within_days is not None and follow.within_days < _YEAR_DAYS and rule.severity in GRAVE
    return Hit(
        beds,
        plantings,
        words,
        because,
        in_window,
        family=plantings[0].crop.family or None,
        put_off=max((over - s.later.start).days for s in here) if waits else None,
    )


def _listed(names: list[str]) -> str:
    """Names in a row; of many the first ones and how many more."""
    if len(names) > _MOST_NAMES + 1:
        return f"{', '.join(names[:_MOST_NAMES])} and {len(names) - _MOST_NAMES} more beds"
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]
