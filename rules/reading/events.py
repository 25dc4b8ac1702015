"""The short lists of a document: covers, sightings, treatments, amendments."""

from __future__ import annotations

from rules.model import Amendment, Cover, Sighting, Treatment
from rules.reading.desk import Desk, Path, Row

#: Words such as "aphids" or "rust" that name no species of the lists: recorded, and no more.
UNLISTED = ("other_disease", "other_pest")


def read_covers(desk: Desk, ids: set[str]) -> tuple[Cover, ...]:
    """Covers, sorted by content."""
    found = []
    for i, row in desk.rows("covers"):
        path: Path = ("covers", i)
        desk.order(row, path, "start", "end")
        desk.order(row, path, "start", "open_by_day_from")
        desk.plantings_known(row.get("plantings") or (), ids, (*path, "plantings"))
        if "bed" in row and desk.bed(row["bed"], (*path, "bed")) and "start" in row and "kind" in row:
            found.append(
                Cover(
                    row["bed"],
                    row["kind"],
                    row["start"],
                    row.get("end"),
                    row.get("mesh"),
                    tuple(row.get("plantings") or ()),
                    row.get("edges"),
                    row.get("open_by_day_from"),
                )
            )
    return tuple(sorted(found, key=repr))


def read_sightings(desk: Desk, ids: set[str]) -> tuple[Sighting, ...]:
    """Sightings with the pest or disease resolved to its id, sorted by content."""
    found = []
    for i, row in desk.rows("sightings"):
        path: Path = ("sightings", i)
        seen = _seen(desk, row, path)
        if row.get("planting") is not None:
            desk.plantings_known([row["planting"]], ids, (*path, "planting"))
        if "bed" in row and desk.bed(row["bed"], (*path, "bed")) and seen is not None and "date" in row:
            found.append(Sighting(row["bed"], row["date"], seen, row.get("level"), row.get("planting")))
    return tuple(sorted(found, key=repr))


def read_treatments(desk: Desk, ids: set[str]) -> tuple[Treatment, ...]:
    """Treatments, sorted by content."""
    found = []
    for i, row in desk.rows("treatments"):
        path: Path = ("treatments", i)
        if row.get("planting") is not None:
            desk.plantings_known([row["planting"]], ids, (*path, "planting"))
        if "bed" in row and desk.bed(row["bed"], (*path, "bed")) and "date" in row and "active" in row:
            found.append(
                Treatment(row["bed"], row["date"], row["active"], row.get("planting"), row.get("harvest_interval"))
            )
    return tuple(sorted(found, key=repr))


def read_amendments(desk: Desk) -> tuple[Amendment, ...]:
    """What was done to the soil, sorted by content."""
    found = []
    for i, row in desk.rows("amendments"):
        if "bed" in row and desk.bed(row["bed"], ("amendments", i, "bed")) and "date" in row and "kind" in row:
            found.append(Amendment(row["bed"], row["date"], row["kind"]))
    return tuple(sorted(found, key=repr))


def look_up_spoiled(desk: Desk) -> None:
    """The names of rows that the schema refused: a bed, and what was seen."""
    for key in ("covers", "sightings", "treatments", "amendments"):
        for i, row in desk.spoiled(key):
            if "bed" in row:
                desk.bed(row["bed"], (key, i, "bed"))
            if key == "sightings":
                _seen(desk, row, (key, i))


def _seen(desk: Desk, row: Row, path: Path) -> str | None:
    """The id of what a sighting names, or of the word for a trouble outside the lists."""
    if "of" not in row:
        return None
    thing = desk.knowledge.find_trouble(row["of"])
    seen = thing.id if thing else desk.knowledge.find_loss(row["of"])
    if thing is None and seen not in UNLISTED:
        desk.fault((*path, "of"), desk.unknown_trouble(row["of"]))
    return seen
