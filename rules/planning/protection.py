"""The protection plan: which pests to expect on what stands here, and what to do, least harm first.

For each crop the pests of this country that feed on it are ranked by risk: seen here, coming out
of this ground, going for this crop first, or at home in any soil while the plants are young.  Then
comes the ladder: watch, prevent, keep off, trap, let enemies work, and a spray last.  A measure that
serves several pests is told once, and for one pest one way of each kind is enough.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta
from functools import cached_property

from rules.checks.context import Context, month_year
from rules.checks.cover_faults import first_flower
from rules.checks.coverage import FINEST_MM, SAFE_MM, covers_of, feeders, keeps_out, lives_below
from rules.checks.travels import hosted_before
from rules.knowledge.facts import Pest
from rules.knowledge.known import Knowledge
from rules.model import Plan, Planting, Sighting, Window
from rules.planning.care import MIDDLING, CropCare, Expected, Guard, Protection, Wait
from rules.planning.ladder import ladder
from rules.seasons import growing_year

#: What each reason adds to a pest's risk (judgement).
SEEN, FROM_HERE, FIRST_CHOICE, ANY_SOIL = 3, 2, 2, 1
#: A sighting counts for two years.
_SEEN_DAYS = 731
#: The pests told for one crop, by risk.
MOST_PESTS = 6
#: Days from first flower to first harvest where a crop's first flower is not on record (judgement).
FLOWER_DAYS = 30
#: A crop set so many days before the window or later is young in it (judgement).
_YOUNG_DAYS = 42
_ANIMALS = "vertebrate"
#: Where a pest winters of which the bed that carried its host says little.
_AWAY = ("elsewhere", "elsewhere_migrant")


def protect(plan: Plan, window: Window, knowledge: Knowledge) -> Protection:
    """What to expect and what to do in a window of days."""
    return _Planner(plan, window, knowledge).plan()


class _Planner:
    """Works out one protection plan."""

    def __init__(self, plan: Plan, window: Window, knowledge: Knowledge) -> None:
        self.context, self.window, self.knowledge = Context(plan, knowledge), window, knowledge

    def plan(self) -> Protection:
        by_crop: dict[str, list[Planting]] = {}
        for p in self.context.plan.plantings:
            live = p.status in ("planned", "growing") and p.crop.kind not in ("fallow", "green_manure")
            if live and self.window.touches(p.start, p.end):
                by_crop.setdefault(p.crop.id, []).append(p)
        cares = tuple(self._care(tuple(plantings)) for plantings in by_crop.values())
        measures = tuple(ladder(cares, self.knowledge))
        cautions = [key for measure in measures for key in measure.control.cautions]
        worst = [one for care in cares for one in care.expected if one.risk >= MIDDLING]
        cautions += [key for one in worst for key in one.pest.cautions]
        if any(care.guard is not None for care in cares):
            cautions.insert(0, "netting_and_wildlife")
        return Protection(self.window, cares, measures, tuple(self._waits()), tuple(dict.fromkeys(cautions)))

    def _care(self, plantings: tuple[Planting, ...]) -> CropCare:
        crop = plantings[0].crop
        found = [self._expected(pest, plantings) for pest in feeders(self.context, plantings[0])]
        found.sort(key=lambda one: (-one.risk, one.pest.id))
        kept = [one for one in found if one.risk >= MIDDLING or one.pest.group != _ANIMALS][:MOST_PESTS]
        indoors = all(self.context.beds[p.bed].kind == "greenhouse" for p in plantings)
        animals = [one.pest for one in found if one.pest.group == _ANIMALS and not indoors]
        names = {one.pest.id for one in kept if one.risk >= MIDDLING}
        thresholds = tuple(
            t
            for t in self.knowledge.facts.thresholds.values()
            if not names.isdisjoint(t.pests) and t.on.match(crop) == "yes"
        )
        return CropCare(crop, plantings, tuple(kept), tuple(animals), self._guard(plantings, kept), thresholds)

    # -- risk

    @cached_property
    def _seen(self) -> dict[str, list[Sighting]]:
        since = self.window.start - timedelta(days=_SEEN_DAYS)
        seen: dict[str, list[Sighting]] = {}
        for sighting in self.context.plan.sightings:
            if since <= sighting.date <= self.window.end:
                seen.setdefault(sighting.of, []).append(sighting)
        return seen

    def _expected(self, pest: Pest, plantings: Sequence[Planting]) -> Expected:
        risk, reasons = 1, []
        sightings = self._seen.get(pest.id)
        if sightings:
            last = max(sightings, key=lambda s: (s.date, s.bed))
            risk += SEEN
            reasons.append(f"seen in {self.context.bed_name(last.bed)} in {month_year(last.date)}")
        beds = self._comes_out_of(pest, plantings)
        if beds:
            risk += FROM_HERE
            names = " and ".join(self.context.bed_name(bed) for bed in beds)
            reasons.append(f"may come out of {names} after the last host there")
        if plantings[0].crop.id in pest.preferred:
            risk += FIRST_CHOICE
            reasons.append("goes for it first")
        for_cause, any_soil = bool(reasons), lives_below(pest)
        if any_soil and self._young(plantings):
            risk += ANY_SOIL
            reasons.append("lives in any soil, and young plants stand here")
        return Expected(pest, risk, tuple(reasons), any_soil, for_cause)

    def _young(self, plantings: Sequence[Planting]) -> bool:
        return any(p.start >= self.window.start - timedelta(days=_YOUNG_DAYS) for p in plantings)

    def _comes_out_of(self, pest: Pest, plantings: Iterable[Planting]) -> tuple[str, ...]:
        """The beds in whose ground a pest may wait for these plantings, because a host stood there.

        None for what lives in any soil, or winters away and feeds on nearly all: it is there
        whatever grew.  A crop that stood long before the window has met what was in its ground.
        """
        anywhere = lives_below(pest) or (pest.emerges_from_bed == "partly" and (pest.wide or pest.overwinters in _AWAY))
        if pest.emerges_from_bed not in ("yes", "partly") or anywhere:
            return ()
        latitude = self.context.latitude
        since = growing_year(self.window.start, latitude) - 1
        return tuple(
            dict.fromkeys(
                p.bed
                for p in plantings
                if growing_year(p.start, latitude) >= since and hosted_before(self.context, p, pest)
            )
        )

    # -- covers

    def _guard(self, plantings: Sequence[Planting], expected: Sequence[Expected]) -> Guard | None:
        """What the planned covers keep out, and the coarsest net that keeps out all else that one can well stop."""
        covers = self.context.once(covers_of)
        planned = tuple(dict.fromkeys(c for p in plantings for c in covers.get(p.id, ())))
        likely = {one.pest.id for one in expected}
        kept = tuple(
            pest
            for pest in feeders(self.context, plantings[0])
            if (not pest.wide or pest.id in likely)
            and all(any(keeps_out(c, p, pest) for c in covers.get(p.id, ())) for p in plantings)
        )
        stopped = tuple(one.pest for one in expected if self._worth_a_net(one, plantings) and one.pest not in kept)
        if not stopped and not planned:
            return None
        first = plantings[0]
        needs_insects = first.crop.traits.pollination == "insect" and not (
            first.variety is not None and first.variety.parthenocarpic
        )
        opened = next((c.open_by_day_from for c in planned if c.open_by_day_from), None)
        below = {pest.id: self._comes_out_of(pest, plantings) for pest in kept}
        trap = [pest for pest in kept if below[pest.id] and pest.id in likely]
        for pest in stopped:
            if pest.emerges_from_bed == "yes":
                below[pest.id] = self._comes_out_of(pest, plantings)
                trap += [pest] if below[pest.id] else []
        return Guard(
            planned,
            tuple(pest for pest in kept if not below[pest.id]),
            min((min(pest.max_mesh_mm or FINEST_MM, SAFE_MM) for pest in stopped), default=None),
            stopped,
            first.start if len({p.start for p in plantings}) == 1 else None,
            (opened or first_flower(first, FLOWER_DAYS)) if needs_insects else None,
            opened is not None,
            tuple(trap),
            tuple(dict.fromkeys(bed for pest in trap for bed in below[pest.id])),
        )

    def _worth_a_net(self, one: Expected, plantings: Sequence[Planting]) -> bool:
        """Whether a net that goes on with a crop of the window would keep out a likely pest."""
        most = one.pest.max_mesh_mm
        likely = one.risk >= MIDDLING and not one.any_soil and most is not None and most >= FINEST_MM
        caged = one.pest.group == "vertebrate" and most is not None and most > SAFE_MM  # a fence or cage is for these
        return likely and not caged and any(p.start >= self.window.start for p in plantings)

    # -- what was sprayed

    def _waits(self) -> Iterable[Wait]:
        """Each treatment with the plantings it touched that are picked in the window or after it."""
        for treatment in sorted(self.context.plan.treatments, key=lambda t: (t.date, t.bed, t.active)):
            touched = tuple(
                p
                for p in self.context.own.get(treatment.bed, ())
                if treatment.planting in (None, p.id) and p.start <= treatment.date <= p.end
            )
            if touched and treatment.date <= self.window.end and max(p.end for p in touched) >= self.window.start:
                days = treatment.harvest_interval
                yield Wait(treatment, touched, None if days is None else treatment.date + timedelta(days=days))
