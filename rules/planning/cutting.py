"""How to cut a pest's route: for each planting of the smallest set the cheapest change that helps.

Cheapest first: a cover, a later start, another bed, leaving it out.  Each is tried on the beds
that hold hosts of the pest, and kept if no route of it is left and no breach or caution comes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date, timedelta

from rules.checks.context import Context, Hit
from rules.checks.coverage import FINEST_MM, SAFE_MM
from rules.checks.green_bridge import is_open
from rules.checks.hits import Key, spoils
from rules.checks.travels import comes_up, hosts_of
from rules.knowledge.facts import Pest
from rules.knowledge.ruleset import Rule
from rules.model import Planting
from rules.planning.offers import Offers
from rules.report import Action, Fix

#: Beds and changes in, the plan cut down to these beds with the changes made out.
Trial = Callable[[set[str], tuple[Action, ...]], Context]
#: Later starts that are tried, in days: more would be another season (judgement).
_LATER_DAYS = (14, 28, 42, 62)
#: Plantings to change for one finding that are worked out; a longer list is told in general words.
_MOST = 6


class Cutting:
    """The search for the changes that cut a route."""

    def __init__(self, context: Context, offers: Offers, before: frozenset[Key], trial: Trial) -> None:
        self.context, self._offers, self._before, self._trial = context, offers, before, trial

    def fix(self, rule: Rule, hit: Hit, general: str) -> Fix:
        """The changes that leave no route; the rule's own words where none is found or none is sought."""
        if rule.severity not in ("breach", "caution") or len(hit.plantings) > _MOST:
            return Fix(general)
        known, also = self.context.knowledge.pests, hit.because.get("also", ())
        pests = [known[name] for name in hit.route]
        more = [known[name] for name in also] if isinstance(also, tuple) else []
        # The finding says whose way the change cuts as well, so one that does is sought first.
        found = self._cut(hit, [*pests, *more]) or (self._cut(hit, pests) if more else None)
        return found or Fix(general)

    def _cut(self, hit: Hit, pests: list[Pest]) -> Fix | None:
        """A change of each planting of a hit that together leave no route of some pests."""
        beds = {p.bed for pest in pests for p in hosts_of(self.context, pest)}
        drops: dict[str, Action] = {p.id: Action("drop", p.id) for p in hit.plantings}
        chosen: dict[str, tuple[Action, str]] = {}
        for planting in hit.plantings:
            others = [chosen[p.id][0] if p.id in chosen else drops[p.id] for p in hit.plantings if p.id != planting.id]
            found = next(
                (
                    (action, text)
                    for action, text in self._changes(planting, pests)
                    if self._true(pests, beds, (*others, action))
                ),
                None,
            )
            if found is None:
                return None
            chosen[planting.id] = found
        actions = tuple(action for action, _ in chosen.values())
        if not self._true(pests, beds, actions):
            return None
        said = "; ".join(text for _, text in chosen.values())
        return Fix(f"{said[:1].upper()}{said[1:]}. Then no route of it is left in this plan.", actions)

    def _changes(self, planting: Planting, pests: list[Pest]) -> Iterator[tuple[Action, str]]:
        """Changes to one planting, cheapest first, each with its words."""
        where = f"the {planting.crop.plural} in {self.context.bed_name(planting.bed)}"
        meshes = [pest.max_mesh_mm for pest in pests]
        if all(mesh is not None and mesh >= FINEST_MM for mesh in meshes) and not any(
            comes_up(self.context, planting, pest) for pest in pests
        ):
            mesh = min(SAFE_MM, *(mesh for mesh in meshes if mesh is not None))
            yield (
                Action("cover", planting.id, mesh=mesh),
                f"cover {where} with net of {mesh:g} mm or less from the day they go in, edges shut",
            )
        for days in _LATER_DAYS:
            start = planting.start + timedelta(days=days)
            if not _time_enough(planting, start):
                break
            yield Action("shift", planting.id, start=start), f"start {where} on {start.day} {start:%B}"
        free, _ = self._offers.find([planting], self.context.beds[planting.bed], planting.crop.family or None)
        for bed in free:
            yield Action("move", planting.id, bed=bed.id), f"move {where} to {self.context.bed_name(bed.id)}"
        yield Action("drop", planting.id), f"leave {where} out this time"

    def _true(self, pests: list[Pest], beds: set[str], actions: tuple[Action, ...]) -> bool:
        """Try changes on the beds concerned: no route of these pests, and no breach or caution that was not there."""
        trial = self._trial({*beds, *(a.bed for a in actions if a.bed)}, actions)
        if any(is_open(trial, pest, seen=True) for pest in pests):
            return False
        return not spoils(trial, self._before)


def _time_enough(planting: Planting, start: date) -> bool:
    """Whether a crop that starts so late is still ready before it was to be cleared."""
    maturity = planting.crop.maturity
    return maturity is not None and (planting.end - start).days >= maturity.least
