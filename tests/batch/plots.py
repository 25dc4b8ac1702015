"""Invented plots of one site as a coordinator keeps them: a sheet, a second one of sightings, and mistakes.

The same seed gives the same sheets.  Half the plots keep a rotation of four beds, the others grow what
they like; a plot in nine has no records and one in thirty has not planned yet.  Every mistake is one that
people make in a spreadsheet, and is noted with the plot that it spoils.
"""

from __future__ import annotations

import csv
import io
import random
from typing import NamedTuple

YEARS = (2023, 2024, 2025, 2026, 2027)
ROTATION = (
    ("potatoes", "potatoes", "tomatoes"),
    ("cabbage", "kale", "broccoli"),
    ("broad beans", "runner beans", "peas"),
    ("onions", "leeks", "carrots"),
)
LIKED = (*(crop for crops in ROTATION for crop in crops), "courgettes", "beetroot", "lettuce", "spinach")
SEEN = ("clubroot", "white rot", "potato blight", "cabbage aphid")
HEADER = ["Garden", "Bed", "Season", "Start", "End", "Crop", "Variety", "Count", "Part", "x-member"]


class Sheets(NamedTuple):
    """The two sheets as text, and the mistakes: garden to a piece of what must be said."""

    plots: str
    sightings: str
    mistakes: dict[str, str]


def sheets(gardens: int, seed: int = 1, delimiter: str = ",") -> Sheets:
    """Sheets of so many plots; about one plot in twenty has a mistake."""
    chance = random.Random(seed)
    mistakes: dict[str, str] = {}
    out, seen = io.StringIO(), io.StringIO()
    writer, sightings = (csv.writer(file, delimiter=delimiter) for file in (out, seen))
    writer.writerow(HEADER)
    sightings.writerow(["garden", "bed", "date", "of", "level"])
    for number in range(1, gardens + 1):
        name = f"Plot {number}"
        rows = _plot(name, chance)
        if number % 20 == 7:
            mistakes[name] = _spoil(rows, number, chance)
        writer.writerows(rows)
        if chance.random() < 0.04 and name not in mistakes:
            of = chance.choice(SEEN)
            sightings.writerow(
                [name, "North bed", f"{chance.choice(YEARS[:-1])}-07-{chance.randint(1, 28):02}", of, "low"]
            )
    return Sheets(out.getvalue(), seen.getvalue(), mistakes)


def _plot(name: str, chance: random.Random) -> list[list[str]]:
    orderly, new, late = chance.random() < 0.5, chance.random() < 1 / 9, chance.random() < 1 / 30
    late = late and not new  # a plot with neither records nor a plan has no row, and is in no sheet
    beds = ["North bed", "South bed", "bed-3", "Frame"][: chance.randint(3, 4)]
    member = f"member {chance.randint(100, 999)}, row {chance.randint(1, 9)}"
    rows = []
    for turn, year in enumerate(YEARS):
        planned = year == YEARS[-1]
        if (new and not planned) or (late and planned):
            continue
        for place, bed in enumerate(beds):
            crop = chance.choice(ROTATION[(turn + place) % 4]) if orderly else chance.choice(LIKED)
            season, start = (str(year), "") if chance.random() < 0.7 else ("", f"{year}-05-{chance.randint(1, 28):02}")
            rows.append([name, bed, season, start, "", crop, "", str(chance.randint(4, 40)), "", member])
    return rows


def _spoil(rows: list[list[str]], number: int, chance: random.Random) -> str:
    """Make one of ten mistakes in a plot's rows; what the answer must say of it."""
    row = chance.choice(rows)
    kind = number // 20 % 10
    if kind == 0:
        row[5] = "cabage"
        return "did you mean cabbage"
    if kind == 1:
        row[7] = "a dozen"
        return "count must be a whole number"
    if kind == 2:
        row[2], row[3] = "", "14/05/2027"
        return "YYYY-MM-DD"
    if kind == 3:
        row[2], row[3], row[4] = "", "2027-05-01", "2026-05-01"
        return "lies before the start"
    if kind == 4:
        row[2], row[3] = "", ""
        return "season or a start"
    if kind == 5:
        row[1] = ""
        return "bed is missing"
    if kind == 6:
        row[8] = "half"
        return "two numbers from 0 to 1"
    if kind == 7:
        row.append("a note")
        return "more cells than headings"
    if kind == 8:
        row[2] = "spring 2027"
        return "a year and a quarter"
    row[5] = "swiss chrad"
    return "no crop is known"
