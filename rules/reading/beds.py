"""The garden, its beds and the grower's own crops."""

from __future__ import annotations

from collections.abc import Mapping

from rules.knowledge.facts import Crop
from rules.knowledge.names import normal
from rules.model import Bed, Garden, Irrigation, Replaced, Soil
from rules.reading.desk import Desk, Row


def read_own_crops(desk: Desk) -> None:
    """The grower's own crops, added to the desk for look-ups."""
    for i, row in desk.rows("crops"):
        word, path = row.get("id", ""), ("crops", i)
        if normal(word) in desk.own:
            desk.fault((*path, "id"), f"the crop {word!r} stands twice")
        elif desk.knowledge.find_crop(word) is not None:
            desk.fault((*path, "id"), f"{word!r} is in the catalogue already; leave it out or choose another id")
        family = desk.knowledge.find_family(row.get("family", ""))
        if family is None:
            desk.fault(
                (*path, "family"),
                f"{row.get('family')!r} is not a plant family"
                f"{desk.hint(row.get('family', ''), desk.knowledge.families)} "
                "A family outside the list is given by its botanical name, ending in -aceae.",
            )
            continue
        name = row.get("name") or word
        desk.own[normal(word)] = Crop(
            word, name, name, family, "own", lifecycle=row.get("lifecycle", "annual"), families=(family,)
        )


def read_beds(desk: Desk) -> tuple[Bed, ...]:
    """The beds as listed; without a list, those that the plantings name."""
    if not desk.data.get("beds"):
        named = {row["bed"] for _, row in desk.rows("plantings") if "bed" in row}
        desk.bed_ids = named
        return tuple(Bed(word, word) for word in sorted(named))
    beds: list[Bed] = []
    places: dict[str, int] = {}
    for i, row in enumerate(desk.data["beds"]):
        if not row or "id" not in row:
            continue
        if row["id"] in places:
            desk.fault(
                ("beds", i, "id"), f"the bed id {row['id']!r} stands twice; the first is bed {places[row['id']] + 1}"
            )
            continue
        places[row["id"]] = i
        desk.order(row, ("beds", i), "from", "until")
        beds.append(_bed(row))
    desk.bed_ids = set(places)
    for bed in beds:
        for j, replaced in enumerate(bed.replaces):
            desk.bed(replaced.bed, ("beds", places[bed.id], "replaces", j))
    _lineage_cycles(desk, beds, places)
    return tuple(beds)


def _lineage_cycles(desk: Desk, beds: list[Bed], places: Mapping[str, int]) -> None:
    older = {bed.id: [r.bed for r in bed.replaces] for bed in beds}
    for bed in beds:
        reached, ahead = set[str](), list(older[bed.id])
        while ahead:
            step = ahead.pop()
            if step not in reached:
                reached.add(step)
                ahead += older.get(step, [])
        if bed.id in reached:
            desk.fault(("beds", places[bed.id], "replaces"), f"bed {bed.id!r} would replace itself")


def _soil(row: Row | None) -> Soil | None:
    return Soil(row.get("ph"), row.get("texture"), row.get("drainage")) if row else None


def read_garden(row: Row) -> Garden:
    """What all beds share, with defaults for what the document leaves out."""
    return Garden(
        row.get("name") or "Garden",
        row.get("site"),
        row.get("latitude"),
        row.get("longitude"),
        row.get("country"),
        row.get("time_zone"),
        row.get("last_spring_frost"),
        row.get("first_autumn_frost"),
        row.get("units", "metric"),
        row.get("rotation", "full"),
        _soil(row.get("soil")),
    )


def _bed(row: Row) -> Bed:
    water = row.get("irrigation")
    return Bed(
        row["id"],
        row.get("name") or row["id"],
        row.get("kind", "ground"),
        row.get("length"),
        row.get("width"),
        row.get("depth"),
        row.get("position"),
        row.get("turn", 0.0),
        Irrigation(water["method"], water.get("emitter_spacing"), water.get("emitter_flow"), water.get("lines"))
        if water and "method" in water
        else None,
        _soil(row.get("soil")),
        tuple(Replaced(r["bed"], r.get("from"), r.get("until")) for r in row.get("replaces") or () if "bed" in r),
        row.get("from"),
        row.get("until"),
    )
