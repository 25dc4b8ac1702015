"""What is asked of a proposal: the plan and its wishes, and what the door asks for beside them."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

from rules.knowledge.facts import FALLOW, Crop
from rules.model import Plan, Planting, Wish, Wishes
from rules.planning.propose.plots import PARTS, sizes
from rules.reading.wishes import YEARS, first_free_year, over
from rules.seasons import growing_year, year_reader
from service.asked import Fault
from service.places import place_of, remembering
from service.reading import Kind, PlanError, PlanRejected, parse, plan_of
from service.schemas.words import clean, did_you_mean
from service.words import as_list

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

#: Years on record that are taken as what is wanted where no wishes are given.
_ON_RECORD = 3
_NO_BEDS = "a proposal needs beds, and this plan has none"
_NO_WISHES = "nothing is wanted: say what under 'wishes', or record what grew in earlier years"
_KEEP = re.compile(r"(?P<bed>[^:]+)(:(?P<year>[0-9]{4}))?", re.ASCII)


class Options(NamedTuple):
    """What may be asked beside the plan; None leaves it to the plan's own wishes.

    ``keep`` holds beds as ``bed`` or ``bed:year``: of what the plan has for the years to come only this stays.
    """

    first: int | None = None
    years: int | None = None
    seconds: float = 10.0
    alternatives: int = 0
    keep: tuple[str, ...] = ()


class NotAsked(ValueError):
    """Options that do not fit the plan: each with its fault."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("; ".join(f"{name}: {said}" for name, said in faults))
        self.faults = tuple(faults)


class Question(NamedTuple):
    """A question in full: ``document`` as it was sent, less the rows that are to be planned anew."""

    document: Mapping[str, Any]
    plan: Plan
    wishes: Wishes
    notes: tuple[str, ...]


def read_question(
    body: bytes, kind: Kind, options: Options, knowledge: Knowledge, today: Callable[[str | None], date]
) -> Question:
    """The question that a document and some options ask.

    Raises
    ------
    service.reading.Unreadable, service.reading.PlanRejected
        for a document that is no plan.
    NotAsked
        for options that do not fit it, with every fault.
    """
    document, where = parse(body, kind)
    plan = plan_of(document, where, today=today, knowledge=knowledge, build_plan=remembering([]))
    wishes, notes = _wishes(plan, options)
    plan, anew, faults = _kept(plan, options.keep, wishes.horizon)
    if wishes.first_year < (now := growing_year(plan.as_of, plan.garden.latitude)):
        faults.append(("from", over(wishes.first_year, now)))
    if faults:
        raise NotAsked(faults)
    if not plan.beds or not wishes.wants:
        raise PlanRejected([PlanError("", _NO_WISHES if plan.beds else _NO_BEDS)], 1)
    rows = [row for place, row in enumerate(document.get("plantings") or ()) if place not in anew]
    return Question({**document, "plantings": rows}, plan, wishes, notes)


def _wishes(plan: Plan, options: Options) -> tuple[Wishes, tuple[str, ...]]:
    """The plan's wishes under these options; without any, what the garden grew last."""
    given = plan.wishes
    first = options.first or (
        given.first_year if given else first_free_year(plan.plantings, plan.as_of, plan.garden.latitude)
    )
    years = options.years or (given.years if given else YEARS)
    wishes = replace(given or Wishes((), first), first_year=first, years=years, alternatives=options.alternatives)
    if wishes.wants:
        return _within(wishes)
    wants, notes = recorded_wants(plan, first)
    return replace(wishes, wants=wants), notes


def _within(wishes: Wishes) -> tuple[Wishes, tuple[str, ...]]:
    """The wishes for the years that are planned; those for other years alone are told and left out."""
    wants, notes = [], []
    for wish in wishes.wants:
        years = tuple(year for year in wish.years if year in wishes.horizon)
        if wish.years and not years:
            notes.append(f"{wish.crop.plural} are wanted in {as_list(map(str, wish.years))} only, and so left out.")
        else:
            wants.append(replace(wish, years=years))
    return replace(wishes, wants=tuple(wants)), tuple(notes)


def recorded_wants(plan: Plan, first: int) -> tuple[tuple[Wish, ...], tuple[str, ...]]:
    """What the garden grew in its last recorded years as what is wanted, and notes that say so.

    Each crop by its share of the beds, the years' mean to a quarter of a bed.  Perennials stand anyway;
    what was lost or came by itself was not grown; a word for crops of several families names none of them.
    """
    year_of = year_reader(plan.garden.latitude)
    grown = [(year_of(p.start), p) for p in plan.plantings if year_of(p.start) < first and _counts(p)]
    years = sorted({year for year, _ in grown})[-_ON_RECORD:]
    beds: defaultdict[Crop, float] = defaultdict(float)
    size = sizes(plan.beds)
    for year, planting in grown:
        if year in years:
            beds[planting.crop] += (planting.part[1] - planting.part[0]) * size[planting.bed]
    quarters = {crop: round(amount * PARTS / len(years)) for crop, amount in beds.items()}
    by_id = sorted(quarters.items(), key=lambda item: item[0].id)
    wants = tuple(Wish(crop, amount=number / PARTS) for crop, number in by_id if number)
    if not wants:
        return (), ()
    span = f"in {years[0]}" if len(years) == 1 else f"from {years[0]} to {years[-1]}"
    notes = [f"The plan has no wishes, so what was grown {span} is taken as what is wanted."]
    few = [crop.plural for crop, number in by_id if not number]
    if few:
        notes.append(f"Too little to plan for: {as_list(few)}. Wish for them by name to have them.")
    return wants, tuple(notes)


def _counts(planting: Planting) -> bool:
    crop = planting.crop
    grown = planting.status != "lost" and planting.method != "volunteer" and planting.cause is None
    return grown and bool(crop.family) and not crop.perennial and crop.id != FALLOW


def _kept(plan: Plan, keep: Sequence[str], horizon: range) -> tuple[Plan, set[int], list[Fault]]:
    """The plan without what is to be planned anew, the rows of that, and the faults of ``keep``."""
    faults: list[Fault] = []
    held: set[tuple[str, int]] = set()
    beds = [bed.id for bed in plan.beds]
    for word in keep:
        found = _KEEP.fullmatch(word.strip())
        bed, year = (found["bed"].strip(), found["year"]) if found else (word, None)
        if found is None:
            faults.append(("keep", f"write a bed, or a bed and a year as bed:2028, not '{clean(word)}'"))
        elif bed not in beds:
            faults.append(("keep", f"no bed has the id '{clean(bed)}'{did_you_mean(bed, beds)}"))
        elif year and int(year) not in horizon:
            faults.append(("keep", f"{year} is none of the years that are planned, {horizon[0]} to {horizon[-1]}"))
        else:
            held |= {(bed, each) for each in ([int(year)] if year else horizon)}
    latitude = plan.garden.latitude
    anew = {
        p.id
        for p in plan.plantings
        if keep and p.start > plan.as_of and (year := growing_year(p.start, latitude)) in horizon
        if (p.bed, year) not in held
    }
    places = {place_of(p) for p in plan.plantings if p.id in anew}
    left = tuple(p._replace(bed=str(p.bed)) for p in plan.plantings if p.id not in anew)
    return replace(plan, plantings=left), places, faults


def owned_crops(plan: Plan, knowledge: Knowledge) -> Iterable[Crop]:
    """Every crop that a proposal for the plan may name: those of the catalogue, its groups, and the grower's own."""
    return {id(crop): crop for crop in (*knowledge.crops.values(), *knowledge.groups.values(), *_crops(plan))}.values()


def _crops(plan: Plan) -> Iterable[Crop]:
    yield from (planting.crop for planting in plan.plantings)
    if plan.wishes is not None:
        yield from (wish.crop for wish in plan.wishes.wants)
        yield from (dislike.crop for dislike in plan.wishes.dislikes)
