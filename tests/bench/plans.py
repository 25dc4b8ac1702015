"""Invented plans of any size for the benchmark: the same size gives the same plan.

Five growing years, plots of twelve beds, three crops a bed and year that stand together, touch
or follow each other, and a rotation in which a family returns after four years.
One bed in twelve breaks it, so that the search for fixes is measured too.  A few beds have
sightings of pests, nets, manure or a treatment.
"""

from __future__ import annotations

import json
from typing import Any, NamedTuple

YEARS = (2023, 2024, 2025, 2026, 2027)
#: A plot has beds of 3.0 by 1.2 m in four columns and three rows with paths of 60 cm; the site has ten plots a row
#: with ways of 3 m between them.  So a bed has as many neighbours on a large site as on a small one.
COLUMNS, ROWS, PLOTS = 4, 3, 10
LENGTH, WIDTH, PATH, WAY = 3.0, 1.2, 0.6, 3.0


class Crop(NamedTuple):
    """One row of a year: what stands where in the bed, from and to which day."""

    name: str
    part: tuple[float, float]
    start: str
    end: str
    method: str
    count: int
    spacing: int


#: What a bed holds in each year of the rotation, the main crop first.
ORDER = (
    (
        Crop("cabbage", (0, 0.6), "04-20", "09-25", "transplant", 8, 45),
        Crop("kale", (0.6, 1), "05-05", "12-20", "transplant", 6, 45),
        Crop("calendula", (0.5, 0.7), "04-15", "10-10", "sow", 12, 25),
    ),
    (
        Crop("onion", (0, 1), "03-20", "08-15", "set", 90, 10),
        Crop("carrot", (0, 1), "04-05", "09-20", "sow", 200, 5),
        Crop("phacelia", (0, 1), "09-25", "11-30", "sow", 300, 5),
    ),
    (
        Crop("potato", (0, 0.7), "04-20", "09-10", "set", 12, 35),
        Crop("borage", (0.7, 1), "05-01", "09-30", "sow", 5, 40),
        Crop("buckwheat", (0, 0.7), "09-12", "11-10", "sow", 200, 5),
    ),
    (
        Crop("sweetcorn", (0, 0.5), "05-15", "09-30", "transplant", 16, 35),
        Crop("runner bean", (0, 0.5), "06-05", "10-05", "sow", 16, 35),
        Crop("courgette", (0.5, 1), "05-20", "10-01", "transplant", 2, 90),
    ),
    (
        Crop("lettuce", (0, 0.5), "04-10", "06-25", "transplant", 15, 25),
        Crop("beetroot", (0.4, 1), "04-20", "09-01", "sow", 60, 10),
        Crop("spinach", (0, 0.5), "08-10", "11-05", "sow", 60, 8),
    ),
)
#: Pests seen in one bed of six, in turn.
SEEN = ("cabbage aphid", "carrot rust fly", "slugs", "Colorado potato beetle")


def plan(plantings: int) -> dict[str, Any]:
    """A plan document of about ``plantings`` rows (a multiple of five)."""
    most = len(YEARS) * len(ORDER[0])
    full, left = divmod(plantings, most)
    held = [len(ORDER[0])] * full + [left // len(YEARS)] * (left >= len(YEARS))
    held = held or [1]
    beds = range(len(held))
    return {
        "format": 1,
        "as_of": "2026-11-20",
        "judge": {"season": "2027"},
        "garden": {"name": "Bench", "latitude": 46.2, "last_spring_frost": "05-04", "first_autumn_frost": "10-02"},
        "beds": [_bed(bed) for bed in beds],
        "plantings": [row for bed in beds for row in _plantings(bed, held[bed])],
        "covers": [_net(bed) for bed in beds if _turn(bed, len(YEARS) - 1) == 0],
        "sightings": [
            {"bed": "bed0", "date": "2024-07-01", "of": "clubroot", "level": "moderate"},
            *(
                {"bed": f"bed{bed}", "date": "2026-07-10", "of": SEEN[turn % len(SEEN)], "level": "low"}
                for turn, bed in enumerate(beds[::6])
            ),
        ],
        "treatments": [
            {"bed": f"bed{bed}", "date": "2027-06-10", "active": "soap", "harvest_interval": 1} for bed in beds[::12]
        ],
        "amendments": [
            {"bed": f"bed{bed}", "date": "2026-11-05", "kind": "compost" if turn % 3 else "raw_manure"}
            for turn, bed in enumerate(beds[::3])
        ],
    }


def _bed(bed: int) -> dict[str, Any]:
    plot, here = divmod(bed, COLUMNS * ROWS)
    column, row = plot % PLOTS * COLUMNS + here % COLUMNS, plot // PLOTS * ROWS + here // COLUMNS
    x = column * (LENGTH + PATH) + column // COLUMNS * (WAY - PATH)
    y = row * (WIDTH + PATH) + row // ROWS * (WAY - PATH)
    return {
        "id": f"bed{bed}",
        "kind": "raised",
        "length": round(LENGTH * 100),
        "width": round(WIDTH * 100),
        "position": {"x": round(x, 2), "y": round(y, 2)},
    }


def _turn(bed: int, turn: int) -> int:
    """Which year of the rotation a bed is in; one in twelve goes back to its first in the last two years."""
    breaks = bed % 12 == 11 and turn >= 3
    return (bed + (0 if breaks else turn)) % len(ORDER)


def _net(bed: int) -> dict[str, Any]:
    """A net over the cabbages of this year, from planting to the end of the main flight."""
    cabbage = ORDER[0][0]
    return {
        "bed": f"bed{bed}",
        "kind": "net",
        "mesh": 0.8,
        "start": f"{YEARS[-1]}-{cabbage.start}",
        "end": f"{YEARS[-1]}-07-15",
        "plantings": [f"p{bed}-{YEARS[-1]}-0"],
        "edges": "shut",
    }


def _plantings(bed: int, held: int) -> list[dict[str, Any]]:
    """Five years of one bed, the first ``held`` crops of each."""
    rows = []
    for turn, year in enumerate(YEARS):
        for n, crop in enumerate(ORDER[_turn(bed, turn)][:held]):
            rows.append(
                {
                    "id": f"p{bed}-{year}-{n}",
                    "bed": f"bed{bed}",
                    "part": list(crop.part),
                    "crop": crop.name,
                    "start": f"{year}-{crop.start}",
                    "end": f"{year}-{crop.end}",
                    "status": "planned" if year == YEARS[-1] else "done",
                    "method": crop.method,
                    "count": crop.count,
                    "spacing": crop.spacing,
                }
            )
    return rows


def body(plantings: int) -> bytes:
    """The same as JSON bytes."""
    return packed(plan(plantings))


def packed(document: dict[str, Any]) -> bytes:
    """A document as a program sends it: without spaces, so that the largest plan keeps the service's limit."""
    return json.dumps(document, separators=(",", ":")).encode()
