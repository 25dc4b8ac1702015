"""Fixes that are true: each is tried on the plan and kept only if it helps and harms nothing.

A fix is sought in this order: another bed that is free, a swap with what stands there, the
same bed some years on, leaving the crop out.  A trial judges the beds concerned again; it is
good when its finding is gone and no breach or caution has come.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from typing import Protocol, TypeVar

from rules.checks.context import Context, Hit, month_year, names_of
from rules.checks.hits import Key, all_hits
from rules.checks.hosts_later import sighted_near
from rules.knowledge.ruleset import Rule
from rules.model import WHOLE, Bed, Cover, Plan, Planting
from rules.planning.cutting import Cutting
from rules.planning.offers import APART, Offers
from rules.report import Action, Fix
from rules.seasons import LAST_YEAR, add_years, growing_year

#: How many years on waiting is tried.
MOST_YEARS = 8

#: A start is put off by this many days at most; after that the season for the crop may be over (judgement).
MOST_PUT_OFF = 62

#: What is left to do where the crop is in the ground already.
STANDING = "It stands already, so let it finish. Clear all leavings, and then give this ground the full break."

Actions = tuple[Action, ...]


def apply(plan: Plan, actions: tuple[Action, ...]) -> Plan:
    """The plan with some actions carried out.

    A moved crop takes its new bed whole, a swapped one the other's part, and covers of its own go with either; a
    shifted one keeps how long it stands.
    """
    plantings, covers = {p.id: p for p in plan.plantings}, list(plan.covers)
    for action in actions:
        p = plantings[action.planting]
        if action.op == "drop":
            del plantings[p.id]
        elif action.op == "move" and action.bed is not None:
            plantings[p.id] = p._replace(bed=action.bed, part=WHOLE)
            covers = _carried(covers, {p.id: action.bed})
        elif action.op == "swap" and action.with_planting is not None:
            q = plantings[action.with_planting]
            plantings[p.id], plantings[q.id] = p._replace(bed=q.bed, part=q.part), q._replace(bed=p.bed, part=p.part)
            covers = _carried(covers, {p.id: q.bed, q.id: p.bed})
        elif action.op == "shift" and action.start is not None:
            plantings[p.id] = _shifted(p, action.start)
        elif action.op == "cover":
            covers.append(Cover(p.bed, "net", p.start, p.end, action.mesh, (p.id,), "shut"))
    return replace(
        plan,
        plantings=tuple(sorted(plantings.values(), key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id))),
        covers=tuple(covers),
    )


def _carried(covers: list[Cover], to: dict[str, str]) -> list[Cover]:
    """Covers over one planting alone, in the bed that it goes to."""
    return [c._replace(bed=to[c.plantings[0]]) if len(c.plantings) == 1 and c.plantings[0] in to else c for c in covers]


def _shifted(p: Planting, start: date) -> Planting:
    by = start - p.start
    latest = date(LAST_YEAR, 12, 31)
    end = latest if (latest - p.end) < by else p.end + by
    harvest = p.first_harvest + by if p.first_harvest and (latest - p.first_harvest) >= by else None
    return p._replace(start=start, end=end, first_harvest=harvest, season=None)


def _or_wait(until: date | None) -> str:
    """When this finding's own break is over; nothing where a host stands with no end on record."""
    return f" Or wait until {month_year(until)}." if until and until.year <= LAST_YEAR else ""


class _OfBed(Protocol):
    """Something that is on record for a bed."""

    @property
    def bed(self) -> str: ...


_Row = TypeVar("_Row", bound=_OfBed)


def _by_bed(rows: Iterable[_Row]) -> dict[str, list[_Row]]:
    found: dict[str, list[_Row]] = {}
    for row in rows:
        found.setdefault(row.bed, []).append(row)
    return found


class Remedies:
    """The search for fixes in one plan; what it learns of a bed it keeps."""

    def __init__(self, context: Context, before: frozenset[Key]) -> None:
        self.context, self.before = context, before
        plan = context.plan
        self._seen, self._treated = _by_bed(plan.sightings), _by_bed(plan.treatments)
        self._amended, self._covered = _by_bed(plan.amendments), _by_bed(plan.covers)
        self.offers = Offers(context)

    def fix(self, rule: Rule, hit: Hit, general: str) -> Fix:
        """The first true fix for a hit; the rule's general words where none is found.

        A breach may end in waiting or leaving the crop out; a caution is only worth another bed.
        """
        if not hit.moving_helps:
            return Fix(general)
        if hit.route:
            return Cutting(self.context, self.offers, self.before, self.trial).fix(rule, hit, general)
        planned = [p for p in hit.plantings if p.status == "planned" and p.bed == hit.beds[0]]
        breaks = hit.disease is None and hit.wait_until is not None
        if breaks and all(p.status == "growing" for p in hit.plantings):
            return Fix(STANDING)
        if len(planned) < len(hit.plantings) or len(hit.beds) != 1:
            return Fix(general)
        if hit.put_off is not None:
            return Fix(general, self._put_off(rule, hit, planned, hit.put_off))
        here = self.context.beds[hit.beds[0]]
        them = "it" if len(planned) == 1 and planned[0].crop.plural == planned[0].crop.name else "them"
        for actions, text in self._elsewhere(hit, planned, here, them):
            if self._true(rule, hit, actions):
                return Fix(text + _or_wait(hit.wait_until), actions)
        if rule.severity != "breach":
            return Fix(general)
        sooner = ""
        for actions, text in self._here(hit, planned, here):
            trial = self._tried(hit, actions)
            if not self._spoiled(rule, hit, trial):
                return Fix(text + sooner + self._or_new_soil(here) if actions[0].op == "shift" else text, actions)
            if not sooner and actions[0].start is not None and not self._breaks(rule, hit, trial):
                sooner = f" From {month_year(actions[0].start)} only the least break is kept."
        return Fix(general)

    def _put_off(self, rule: Rule, hit: Hit, planned: list[Planting], days: int) -> Actions:
        """A start some days later, where that helps and is no longer than a season allows."""
        if days > MOST_PUT_OFF or any(p.start.year >= LAST_YEAR for p in planned):
            return ()
        actions = tuple(Action("shift", p.id, start=p.start + timedelta(days=days)) for p in planned)
        return actions if self._true(rule, hit, actions) else ()

    def _here(self, hit: Hit, planned: list[Planting], here: Bed) -> Iterator[tuple[Actions, str]]:
        yield from self._later(hit, planned)
        yield (
            tuple(Action("drop", p.id) for p in planned),
            f"Leave {names_of(tuple(planned))} out of {self.context.bed_name(here.id)} this time; "
            "no free bed and no fair swap was found.",
        )

    def _elsewhere(self, hit: Hit, planned: list[Planting], here: Bed, them: str) -> Iterator[tuple[Actions, str]]:
        free, busy = self.offers.find(planned, here, hit.family)
        for bed in free:
            yield (
                tuple(Action("move", p.id, bed=bed.id) for p in planned),
                f"Put {them} in {self.context.bed_name(bed.id)}, {self._record(bed, hit.family)}.",
            )
        for bed, other in busy if len(planned) == 1 else ():
            yield (
                (Action("swap", planned[0].id, with_planting=other.id),),
                f"Swap {them} with the {other.crop.plural} in {self.context.bed_name(bed.id)}, "
                f"{self._record(bed, hit.family)}.",
            )

    def _later(self, hit: Hit, planned: list[Planting]) -> Iterator[tuple[Actions, str]]:
        """The same time of year once the break is over, or later where that cuts a better break short."""
        if hit.wait_until is None:
            return
        last_days = self.offers.last_days(planned[0].bed)
        for years in range(1, MOST_YEARS + 1):
            if planned[0].start.year + years > LAST_YEAR:
                return
            if any(_shifted(p, add_years(p.start, years)).end > day for p in planned for day in last_days):
                return
            start = add_years(planned[0].start, years)
            if start >= hit.wait_until:
                yield (
                    tuple(Action("shift", p.id, start=add_years(p.start, years)) for p in planned),
                    f"No free bed and no fair swap was found: wait until {month_year(start)}.",
                )

    def _or_new_soil(self, here: Bed) -> str:
        return " Or put in new soil, which starts a new record." if here.kind in APART else ""

    def _record(self, bed: Bed, family: str | None) -> str:
        """What the record says for a bed, in words that claim no more than is on record."""
        ground = self.context.grounds[bed.id]
        earlier = [p for p in ground.plantings if p.start < self.context.plan.judge.start]
        if not earlier:
            return "which has nothing on record" + (" before this season" if ground.plantings else "")
        last = self.offers.last_host(bed.id, family)
        name = self.context.knowledge.family_name(family) if family else "such"
        if last is not None:
            return f"where the last {name} crop on record ended in {month_year(last.end)}"
        since = growing_year(earlier[0].start, self.context.latitude)
        return f"which has no {name} crop on record since {since}"

    def _true(self, rule: Rule, hit: Hit, actions: Actions) -> bool:
        """Try actions on the beds concerned: the finding gone, no breach or caution added."""
        return not self._spoiled(rule, hit, self._tried(hit, actions))

    def _tried(self, hit: Hit, actions: Actions) -> Context:
        return self.trial({hit.beds[0], *(a.bed for a in actions if a.bed), *self._partners(actions)}, actions)

    def _spoiled(self, rule: Rule, hit: Hit, trial: Context) -> bool:
        """Whether a trial leaves the finding or adds a breach or caution; looks no farther than the first."""
        keys = self.before.difference((rule.id, p.id) for p in hit.plantings)
        return any(key not in keys for _, key in self._against(rule, trial))

    def _breaks(self, rule: Rule, hit: Hit, trial: Context) -> bool:
        """Whether the plantings of a hit still break a rule, or something else now does."""
        own = {p.id for p in hit.plantings}
        return any(
            found.severity == "breach" and (key[1] in own or key not in self.before)
            for found, key in self._against(rule, trial)
        )

    def _against(self, rule: Rule, trial: Context) -> Iterator[tuple[Rule, Key]]:
        """What counts against a trial, by planting, the rule's own kind as early as may be."""
        for found, hit in all_hits(trial, only_grave=True, first=rule.kind):
            for p in hit.plantings:
                yield found, (found.id, p.id)

    def trial(self, beds: set[str], actions: Actions) -> Context:
        """The plan cut down to some beds and the ground they took over, with some actions carried out.

        Beds close by from which a pest that was seen may walk over are looked at as well.
        """
        beds = self._lineage(beds | sighted_near(self.context, beds))
        return Context(apply(self._only(beds), actions), self.context.knowledge, told="none")

    def _partners(self, actions: Actions) -> set[str]:
        return {self.context.plantings[a.with_planting].bed for a in actions if a.with_planting is not None}

    def _lineage(self, beds: set[str]) -> set[str]:
        reached, ahead = set[str](), list(beds)
        while ahead:
            bed = ahead.pop()
            if bed not in reached:
                reached.add(bed)
                ahead += [r.bed for r in self.context.beds[bed].replaces]
                ahead += [heir for heir, _ in self.offers.heirs.get(bed, ())]
        return reached

    def _only(self, beds: set[str]) -> Plan:
        """The plan cut down to some beds."""
        plan, order = self.context.plan, sorted(beds, key=self.context.rank.__getitem__)
        return replace(
            plan,
            beds=tuple(self.context.beds[bed] for bed in order),
            plantings=tuple(p for bed in order for p in self.context.own[bed]),
            sightings=tuple(s for bed in order for s in self._seen.get(bed, ())),
            amendments=tuple(a for bed in order for a in self._amended.get(bed, ())),
            covers=tuple(c for bed in order for c in self._covered.get(bed, ())),
            treatments=tuple(t for bed in order for t in self._treated.get(bed, ())),
        )
