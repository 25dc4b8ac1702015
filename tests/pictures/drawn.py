"""Plans to draw, and what is read back out of a picture."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from datetime import date
from itertools import combinations
from math import hypot

from hypothesis import strategies as st

import rules
from service.pictures.shapes import Label
from service.reading import read_plan
from service.schemas.words import NOT_ON_ONE_LINE

KNOWLEDGE = rules.load_knowledge()
DAY = date(2027, 7, 1)
SVG = "{http://www.w3.org/2000/svg}"
_NUMBER = r"-?[0-9.]+"


def read(document):
    """A plan of a document as it stands in JSON."""
    return read_plan(json.dumps(document).encode(), "json", today=lambda _: DAY, season=None, knowledge=KNOWLEDGE)


def parsed(svg):
    """The picture's root; a fault where it is not well formed."""
    return ElementTree.fromstring(svg)


def texts(root):
    """Every text of a picture as a label, by its parent group's id ("" outside of any)."""
    found = []

    def walk(element, inside):
        for child in element:
            if child.tag == f"{SVG}text":
                found.append((inside, _label(child)))
            else:
                walk(child, child.get("id") or inside)

    walk(root, "")
    return found


def _label(element):
    transform = element.get("transform")
    if transform:
        x, y, turn = map(float, re.findall(_NUMBER, transform))
    else:
        x, y, turn = float(element.get("x")), float(element.get("y")), 0.0
    return Label(
        x, y, element.text or "", float(element.get("font-size")), bold="bc-bold" in element.get("class"), turn=turn
    )


#: What rounding to one decimal may move a point by, both ways.
ROUNDED = 0.3


def overlapping(labels):
    """Every two labels that overlap: no side of either has all of the other beside it."""
    boxes = [(label, label.box) for label in labels]
    near = [(one, other) for (one, a), (other, b) in combinations(boxes, 2) if a.meets(b)]
    return [
        (one.text, other.text)
        for one, other in near
        if not _apart(one.corners, other.corners) and not _apart(other.corners, one.corners)
    ]


def _apart(one, other):
    return any(min(_beyond(side, point) for point in other) > -ROUNDED for side in _sides(one))


def inside(points, corners):
    """True where no point lies outside of a convex outline."""
    return all(_beyond(side, point) < ROUNDED for side in _sides(corners) for point in points)


def _sides(corners):
    return list(zip(corners, (*corners[1:], corners[0]), strict=True))


def _beyond(side, point):
    """How far a point lies outside of a side (corners run clockwise as y grows downwards)."""
    (ax, ay), (bx, by), (x, y) = *side, point
    return ((y - ay) * (bx - ax) - (x - ax) * (by - ay)) / -hypot(bx - ax, by - ay)


def outline(group):
    """The corners of the first area of a group."""
    numbers = list(map(float, re.findall(_NUMBER, next(group.iter(f"{SVG}path")).get("d"))))
    return tuple(zip(numbers[::2], numbers[1::2], strict=True))


names = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=80).filter(
    lambda text: text.strip() == text and text and not NOT_ON_ONE_LINE.search(text)
)
_crops = st.sampled_from(
    ["cabbage", "kale", "tomato", "leeks", "carrots", "onion", "salad", "oca", "fallow", "asparagus", "globe artichoke"]
)
_sizes = st.one_of(st.none(), st.integers(20, 1200))
_parts = st.sampled_from([None, [0, 0.5], [0.5, 1], [0.25, 0.75], [0, 0.1], [0.9, 1]])


@st.composite
def documents(draw):
    """Plans with odd names, sizes, turns, places, parts and gaps in the record."""
    beds = []
    for number in range(draw(st.integers(1, 6))):
        bed = {"id": f"b{number}", "name": draw(names), "length": draw(_sizes), "width": draw(_sizes)}
        if draw(st.booleans()):
            bed["position"] = {"x": draw(st.integers(-30, 30)), "y": draw(st.integers(-30, 30))}
            bed["turn"] = draw(st.sampled_from([0, 0, 90, -90, 180, 30, 45, 200, -15.5]))
        beds.append({key: value for key, value in bed.items() if value is not None})
    plantings = []
    for _ in range(draw(st.integers(0, 8))):
        row = {"bed": f"b{draw(st.integers(0, len(beds) - 1))}", "crop": draw(_crops)}
        part, year = draw(_parts), draw(st.integers(2022, 2027))
        if part:
            row["part"] = part
        if draw(st.booleans()):
            row["season"] = str(year)
        else:
            row["start"] = f"{year}-0{draw(st.integers(2, 9))}-10"
            row["status"] = draw(st.sampled_from(["planned", "done", "growing"]))
        plantings.append(row)
    latitude = draw(st.sampled_from([46.2, -37.8, 5, None]))
    garden = {"name": draw(names), "units": draw(st.sampled_from(["metric", "imperial"]))}
    if latitude is not None:
        garden["latitude"] = latitude
    return {
        "as_of": "2027-03-01",
        "judge": {"season": "2027"},
        "garden": garden,
        "crops": [{"id": "oca", "family": "Oxalidaceae"}],
        "beds": beds,
        "plantings": plantings,
        "covers": [{"bed": "b0", "kind": "net", "mesh": 0.8, "start": "2027-02-01"}],
        "sightings": [{"bed": "b0", "date": "2025-07-01", "of": "clubroot", "level": "severe"}],
    }
