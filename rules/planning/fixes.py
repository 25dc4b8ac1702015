"""Fixes that are true: each is tried on the plan and kept only if it helps and harms nothing.

A fix is sought in this order: another bed that is free, a swap with what stands there, the
same bed some years on, leaving the crop out.  A trial judges the beds concerned again; it is
good when its finding is gone and no breach or caution has come.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from math import hypot

from rules.checks.context import Context, Hit, month_year, names_of
from rules.knowledge.ruleset import Rule
from rules.model import WHOLE, Bed, Plan, Planting
from rules.report import Action, Fix
from rules.seasons import FIRST_YEAR, LAST_YEAR, add_years, growing_year

#: How many beds are tried before the search turns to swaps, and swaps before waiting.
MOST_TRIALS = 4
#: How many of the longest-rested beds are looked at for one finding.
MOST_BEDS = 24
MOST_YEARS = 8
#: A bed must offer this share of the ground that a crop had before.
ROOM = 0.8
#: Kinds of ground that a crop is not moved into from another kind: other climate, other size.
_APART = frozenset({"container", "greenhouse"})

Key = tuple[str, str]
Actions = tuple[Action, ...]
#: No record at all, the end of the last host, the order beds are told in.
Rest = tuple[bool, date, int]
_EVER = date(FIRST_YEAR, 1, 1)


def apply(plan: Plan, actions: tuple[Action, ...]) -> Plan:
    """The plan with some actions carried out.

    A moved crop takes the whole width of its new bed's free part as it stood in the old one;
    a shifted one keeps how long it stands.
    """
    plantings = {p.id: p for p in plan.plantings}
    for action in actions:
        p = plantings[action.planting]
        if action.op == "drop":
            del plantings[p.id]
        elif action.op == "move" and action.bed is not None:
            plantings[p.id] = p._replace(bed=action.bed, part=WHOLE)
        elif action.op == "swap" and action.with_planting is not None:
            q = plantings[action.with_planting]
            plantings[p.id], plantings[q.id] = p._replace(bed=q.bed, part=q.part), q._replace(bed=p.bed, part=p.part)
        elif action.op == "shift" and action.start is not None:
            plantings[p.id] = _shifted(p, action.start)
    return replace(
        plan, plantings=tuple(sorted(plantings.values(), key=lambda p: (p.start, p.end, p.crop.id, p.bed, p.id)))
    )


def _shifted(p: Planting, start: date) -> Planting:
    by = start - p.start
    latest = date(LAST_YEAR, 12, 31)
    end = latest if (latest - p.end) < by else p.end + by
    harvest = p.first_harvest + by if p.first_harvest and (latest - p.first_harvest) >= by else None
    return p._replace(start=start, end=end, first_harvest=harvest, season=None)


class Remedies:
    """The search for fixes in one plan; what it learns of a bed it keeps."""

    def __init__(self, context: Context) -> None:
        self.context = context
        self._before: dict[frozenset[str], frozenset[Key]] = {}
        self._rested: dict[str | None, dict[str, Rest]] = {}
        #: For each bed that others replace, those and the last day of its own ground (None = not told).
        self._heirs: dict[str, list[tuple[str, date | None]]] = {}
        for bed in context.plan.beds:
            for replaced in bed.replaces:
                self._heirs.setdefault(replaced.bed, []).append((bed.id, replaced.end or bed.start))

    def fix(self, rule: Rule, hit: Hit, general: str) -> Fix:
        """The first true fix for a hit; the rule's general words where none is found.

        A breach may end in waiting or leaving the crop out; a caution is only worth another bed.
        """
        planned = [p for p in hit.plantings if p.status == "planned" and p.bed == hit.beds[0]]
        if len(planned) < len(hit.plantings) or len(hit.beds) != 1:
            return Fix(general)
        here = self.context.beds[hit.beds[0]]
        them = "it" if len(planned) == 1 and planned[0].crop.plural == planned[0].crop.name else "them"
        for actions, text in self._elsewhere(hit, planned, here, them):
            if self._true(rule, hit, actions):
                return Fix(text + (f" Or wait until {month_year(hit.wait_until)}." if hit.wait_until else ""), actions)
        if rule.severity != "breach":
            return Fix(general)
        for actions, text in self._here(hit, planned, here, them):
            if self._true(rule, hit, actions):
                return Fix(text, actions)
        return Fix(general)

    def _here(self, hit: Hit, planned: list[Planting], here: Bed, them: str) -> Iterator[tuple[Actions, str]]:
        yield from self._later(hit, planned, them)
        yield (
            tuple(Action("drop", p.id) for p in planned),
            f"Leave {names_of(tuple(planned))} out of {self.context.bed_name(here.id)} this time; "
            f"no other bed on record is open to {them}.",
        )

    def _elsewhere(self, hit: Hit, planned: list[Planting], here: Bed, them: str) -> Iterator[tuple[Actions, str]]:
        free, busy = self._offers(planned, here, hit.family)
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

    def _offers(
        self, planned: list[Planting], here: Bed, family: str | None
    ) -> tuple[list[Bed], list[tuple[Bed, Planting]]]:
        """Beds that stand free while the plantings would stand, and beds with one planned crop to swap.

        Only the first of a family's best-rested beds are looked at, so that a large site costs no more.
        """
        free: list[Bed] = []
        busy: list[tuple[Bed, Planting]] = []
        looked_at = 0
        for bed in map(self.context.beds.__getitem__, self._by_rest(family)):
            if looked_at >= MOST_BEDS or (len(free) >= MOST_TRIALS and len(busy) >= MOST_TRIALS):
                break
            looked_at += 1
            if not self._suits(bed, here, planned):
                continue
            standing = self._standing(bed.id, planned)
            if not standing:
                free.append(bed)
            elif len(standing) == 1 and standing[0].status == "planned" and self._suits(here, bed, standing):
                busy.append((bed, standing[0]))
        free.sort(key=lambda bed: self._preference(bed, here, family))
        busy.sort(key=lambda pair: self._preference(pair[0], here, family))
        return free[:MOST_TRIALS], busy[:MOST_TRIALS]

    def _by_rest(self, family: str | None) -> dict[str, Rest]:
        """All beds, longest without the family first, beds without any record last."""
        if family not in self._rested:
            rests = [(self._rest(bed.id, family), bed.id) for bed in self.context.plan.beds]
            self._rested[family] = {bed: rest for rest, bed in sorted(rests)}
        return self._rested[family]

    def _rest(self, bed: str, family: str | None) -> Rest:
        last = self._last_host(bed, family)
        return not self.context.grounds[bed].plantings, last.end if last else _EVER, self.context.rank[bed]

    def _preference(self, bed: Bed, here: Bed, family: str | None) -> tuple[bool, date, float, int]:
        """The longest rested first, then the nearest."""
        unknown, end, rank = self._by_rest(family)[bed.id]
        if bed.position and here.position:
            distance = hypot(bed.position[0] - here.position[0], bed.position[1] - here.position[1])
        else:
            distance = abs(rank - self.context.rank[here.id])
        return unknown, end, round(distance, 3), rank

    def _later(self, hit: Hit, planned: list[Planting], them: str) -> Iterator[tuple[Actions, str]]:
        """The same time of year once the break is over, or later where that cuts a better break short."""
        if hit.wait_until is None:
            return
        here = self.context.beds[planned[0].bed]
        last_days = [day for day in (here.end, *(until for _, until in self._heirs.get(here.id, ()))) if day]
        for years in range(1, MOST_YEARS + 1):
            if planned[0].start.year + years > LAST_YEAR:
                return
            if any(_shifted(p, add_years(p.start, years)).end > day for p in planned for day in last_days):
                return
            start = add_years(planned[0].start, years)
            if start >= hit.wait_until:
                yield (
                    tuple(Action("shift", p.id, start=add_years(p.start, years)) for p in planned),
                    f"No other bed on record is open to {them}: wait until {month_year(start)}.",
                )

    def _suits(self, bed: Bed, here: Bed, planned: list[Planting]) -> bool:
        if bed.id == here.id or (bed.kind != here.kind and (bed.kind in _APART or here.kind in _APART)):
            return False
        if any((bed.start and p.start < bed.start) or (bed.end and p.end > bed.end) for p in planned):
            return False
        if any(until is None or p.end > until for _, until in self._heirs.get(bed.id, ()) for p in planned):
            return False
        if here.length and here.width and bed.length and bed.width:
            needed = here.length * here.width * max(p.part[1] - p.part[0] for p in planned)
            return bed.length * bed.width >= ROOM * needed
        return True

    def _last_host(self, bed: str, family: str | None) -> Planting | None:
        return max(
            (
                p
                for p in self.context.grounds[bed].hosts.get(family or "", ())
                if p.start < self.context.plan.judge.start
            ),
            key=lambda p: p.end,
            default=None,
        )

    def _standing(self, bed: str, planned: list[Planting]) -> list[Planting]:
        return [
            p
            for p in self.context.grounds[bed].plantings
            if p.bed == bed and p.crop.kind != "fallow" and any(p.start <= q.end and p.end >= q.start for q in planned)
        ]

    def _record(self, bed: Bed, family: str | None) -> str:
        """What the record says for a bed, in words that claim no more than is on record."""
        ground = self.context.grounds[bed.id]
        if not ground.plantings:
            return "which has nothing on record"
        last = self._last_host(bed.id, family)
        name = self.context.knowledge.family_name(family) if family else "such"
        if last is not None:
            return f"where the last {name} crop on record ended in {month_year(last.end)}"
        since = growing_year(ground.plantings[0].start, self.context.latitude)
        return f"which has no {name} crop on record since {since}"

    def _true(self, rule: Rule, hit: Hit, actions: tuple[Action, ...]) -> bool:
        """Try actions on the beds concerned: the finding gone, no breach or caution added."""
        beds = frozenset(self._lineage({hit.beds[0], *(a.bed for a in actions if a.bed), *self._partners(actions)}))
        here = self._only(beds)
        before = self._before.get(beds)
        if before is None:
            before = self._before[beds] = self._grave(here)
        after = self._grave(apply(here, actions))
        gone = {(rule.id, p.id) for p in hit.plantings}
        return not (after - before) and not (gone & after)

    def _partners(self, actions: Actions) -> set[str]:
        return {self.context.plantings[a.with_planting].bed for a in actions if a.with_planting is not None}

    def _lineage(self, beds: set[str]) -> set[str]:
        reached, ahead = set[str](), list(beds)
        while ahead:
            bed = ahead.pop()
            if bed not in reached:
                reached.add(bed)
                ahead += [r.bed for r in self.context.beds[bed].replaces]
                ahead += [heir for heir, _ in self._heirs.get(bed, ())]
        return reached

    def _only(self, beds: frozenset[str]) -> Plan:
        """The plan cut down to some beds."""
        plan, order = self.context.plan, sorted(beds, key=self.context.rank.__getitem__)
        return replace(
            plan,
            beds=tuple(self.context.beds[bed] for bed in order),
            plantings=tuple(p for bed in order for p in self.context.own[bed]),
            sightings=tuple(s for s in plan.sightings if s.bed in beds),
            amendments=tuple(a for a in plan.amendments if a.bed in beds),
        )

    def _grave(self, plan: Plan) -> frozenset[Key]:
        from rules.checks.runner import all_hits  # the runner builds Remedies; only trials need it back

        context = Context(plan, self.context.knowledge)
        return frozenset(
            (rule.id, p.id)
            for rule, hit in all_hits(context)
            if rule.severity in ("breach", "caution")
            for p in hit.plantings
        )
