"""The wishes of a document: which crops, how much of them, where and in which of the years to come."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from statistics import median

from rules.knowledge.facts import FALLOW, Crop
from rules.model import Bed, Dislike, Planting, Wish, Wishes
from rules.reading.desk import Desk, Path, Row
from rules.seasons import growing_year

#: Years that are planned where nobody says how many.
YEARS = 4
#: Past the middle of a growing year the next one is planned.
_HALF_A_YEAR = timedelta(days=183)
#: Members of a group word that a fault names.
_TOLD = 8


def read_wishes(desk: Desk, beds: Sequence[Bed], plantings: Iterable[Planting]) -> Wishes | None:
    """What the document wishes for; None where it has no wishes, or where they are at fault."""
    row = desk.data.get("wishes")
    if not row:
        return None
    first = row.get("from") or first_free_year(plantings, desk.as_of, desk.latitude)
    years = row.get("years", YEARS)
    if first < (now := growing_year(desk.as_of, desk.latitude)):
        desk.fault(("wishes", "from"), over(first, now))
    horizon = range(first, first + years)
    wants = [wish for i, entry in _entries(desk, row, "crops") if (wish := _wish(desk, entry, i, beds, horizon))]
    dislikes = [one for i, entry in _entries(desk, row, "dislikes") for one in _dislikes(desk, entry, i)]
    return Wishes(
        wants=tuple(wants),
        first_year=first,
        years=years,
        dislikes=tuple(dislikes),
        winter_beds=row.get("winter_beds"),
        catch_crops=row.get("catch_crops", False),
    )


def first_free_year(plantings: Iterable[Planting], as_of: date, latitude: float | None) -> int:
    """The first growing year to plan: after all those that something is planned for, and none that is half over."""
    coming = growing_year(as_of + _HALF_A_YEAR, latitude)
    return max([coming, *(growing_year(p.start, latitude) + 1 for p in plantings if p.start > as_of)])


def over(first: int, now: int) -> str:
    """Words for a first year that lies in the past."""
    return f"{first} is over; plan from {now} on"


def _entries(desk: Desk, wishes: Row, key: str) -> Iterable[tuple[int, Row]]:
    return ((i, entry) for i, entry in enumerate(wishes.get(key) or ()) if isinstance(entry, Mapping))


def _wish(desk: Desk, row: Row, i: int, beds: Sequence[Bed], horizon: range) -> Wish | None:
    path: Path = ("wishes", "crops", i)
    crop = _crop(desk, row, path)
    only = [bed for j, bed in enumerate(row.get("in") or ()) if desk.bed(bed, (*path, "in", j))]
    barred = {bed for j, bed in enumerate(row.get("not_in") or ()) if desk.bed(bed, (*path, "not_in", j))}
    allowed = tuple(bed for bed in only or [bed.id for bed in beds] if bed not in barred) if only or barred else ()
    if (only or barred) and not allowed:
        desk.fault((*path, "not_in"), "this leaves no bed for it")
    for j, year in enumerate(row.get("years") or ()):
        if year not in horizon:
            said = f"{year} is none of the years that are planned, {horizon[0]} to {horizon[-1]}"
            desk.fault((*path, "years", j), said)
    if crop is None:
        return None
    amount = row.get("beds")
    if "plants" in row:
        members = [desk.knowledge.crops[name] for name in crop.members] or [crop]
        filled = (beds_of_plants(one, row["plants"], beds) for one in members)
        amount = next((many for many in filled if many is not None), None)
        if amount is None:
            said = f"how much room {crop.plural} take is not known, or no bed has both its sizes; give beds instead"
            desk.fault((*path, "plants"), said)
    return Wish(
        crop=crop,
        amount=amount,
        share=row.get("share"),
        must=row.get("must", False),
        years=tuple(sorted(set(row.get("years") or ()))),
        beds=allowed,
        slot=row.get("slot", "any"),
    )


def _dislikes(desk: Desk, row: Row, i: int) -> Iterable[Dislike]:
    path: Path = ("wishes", "dislikes", i)
    crop = desk.crop(row["crop"], (*path, "crop")) if "crop" in row else None
    beds = [bed for j, bed in enumerate(row.get("beds") or ()) if desk.bed(bed, (*path, "beds", j))]
    if crop is None:
        return []
    members = [desk.knowledge.crops[member] for member in crop.members] or [crop]
    return [Dislike(one, bed) for one in members for bed in beds or (None,)]


def _crop(desk: Desk, row: Row, path: Path) -> Crop | None:
    """The crop that a wish names, or a word for several of one family; a fault for a word that leaves it too open."""
    crop = desk.crop(row["crop"], (*path, "crop")) if "crop" in row else None
    if crop is None:
        return None
    if crop.id == FALLOW:
        desk.fault((*path, "crop"), "to leave a bed empty, wish for less; fallow is no crop to place")
        return None
    if crop.members and not crop.family:
        names = [desk.knowledge.crops[member].plural for member in crop.members]
        more = f" and {len(names) - _TOLD} more" if len(names) > _TOLD else ""
        said = f"{row['crop']!r} stands for crops of several families; name the one to grow"
        desk.fault((*path, "crop"), f"{said}: {', '.join(names[:_TOLD])}{more}")
        return None
    return crop


def beds_of_plants(crop: Crop, plants: int, beds: Iterable[Bed]) -> float | None:
    """How many beds of middling size some plants fill; None where their spacing or the beds' sizes are not known."""
    areas = [bed.length * bed.width for bed in beds if bed.length and bed.width and bed.end is None]
    room = _room(crop)
    return plants * room / median(areas) if areas and room else None


def _room(crop: Crop) -> float | None:
    """Square centimetres that a plant takes, by the middle of what is advised."""
    traits = crop.traits
    if traits.each_way_cm is not None:
        return _middle(traits.each_way_cm) ** 2
    if traits.in_row_cm is not None and traits.between_rows_cm is not None:
        return _middle(traits.in_row_cm) * _middle(traits.between_rows_cm)
    return None


def _middle(span: tuple[float, float]) -> float:
    return (span[0] + span[1]) / 2
