"""The invented plan in many variants, so that nothing gains by having seen the same text before.

The row reader remembers the texts that it has read; a service that meets a new garden with each
request does not profit from that, and a benchmark that repeats one plan would.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from plans import packed, plan

#: With 180 plantings each: twice the ids that one key of a schema remembers.
VARIANTS = 24


def variant(plantings: int, turn: int) -> dict[str, Any]:
    """A plan of that size with ids of its own and all its plantings ``turn % 28`` days later."""
    document = plan(plantings)
    later = timedelta(days=turn % 28)
    for bed in document["beds"]:
        bed["id"] = f"v{turn}-{bed['id']}"
    for row in document["plantings"]:
        row["id"] = f"v{turn}-{row['id']}"
    for row in (*document["plantings"], *document["covers"]):
        for key in ("start", "end"):
            row[key] = (date.fromisoformat(row[key]) + later).isoformat()
    for rows in ("plantings", "covers", "sightings", "treatments", "amendments"):
        for row in document[rows]:
            row["bed"] = f"v{turn}-{row['bed']}"
    for cover in document["covers"]:
        cover["plantings"] = [f"v{turn}-{planting}" for planting in cover["plantings"]]
    return document


def bodies(plantings: int, count: int = VARIANTS) -> list[bytes]:
    """So many variants as JSON bytes."""
    return [packed(variant(plantings, turn)) for turn in range(count)]
