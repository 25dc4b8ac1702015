"""For any legal plan: well formed, equal each time, nothing over another, no label outside its bed."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawn import DAY, KNOWLEDGE, SVG, documents, inside, outline, overlapping, parsed, read, texts
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import rules
from service.pictures import map_svg, timeline_svg
from service.pictures.shapes import Label

some = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


def drawn(document, years=6):
    plan = read(document)
    report = rules.check(plan, KNOWLEDGE)
    return map_svg(plan, report, KNOWLEDGE, day=DAY), timeline_svg(plan, report, KNOWLEDGE, years=years)


@some
@given(documents(), st.integers(1, 20))
def test_pictures_are_well_formed_and_equal_each_time(document, years):
    pictures = drawn(document, years)
    assert pictures == drawn(document, years)
    for svg in pictures:
        root = parsed(svg)
        ids = [element.get("id") for element in root.iter() if element.get("id")]
        assert len(ids) == len(set(ids))
        for element in root.iter():
            for value in element.attrib.values():
                assert "nan" not in value
                assert "inf" not in value
        assert root.get("role") == "img"
        assert set(root.get("aria-labelledby").split()) <= set(ids)
        assert all(root.find(f"{SVG}{part}").text.strip() for part in ("title", "desc"))


@some
@given(documents(), st.integers(1, 20))
def test_no_label_lies_over_another_nor_beside_the_page(document, years):
    for svg in drawn(document, years):
        root = parsed(svg)
        _, _, width, height = map(float, root.get("viewBox").split())
        labels = [label for _, label in texts(root)]
        assert overlapping(labels) == []
        for label in labels:
            assert inside(label.corners, ((0, 0), (width, 0), (width, height), (0, height))), label


@some
@given(documents())
def test_what_is_written_on_a_bed_lies_inside_it(document):
    root = parsed(drawn(document)[0])
    beds = {
        g.get("id").removeprefix("map-bed-"): outline(g) for g in root.iter(f"{SVG}g") if "map-bed" in g.get("id", "")
    }
    for group, label in texts(root):
        if group.startswith("map-words-"):
            assert inside(label.corners, beds[group.removeprefix("map-words-")]), label


@pytest.mark.parametrize("years", [0, 21, -1])
def test_years_out_of_range_are_refused(years):
    plan = read({"beds": [{"id": "a"}], "plantings": [{"bed": "a", "crop": "kale", "season": "2027"}]})
    with pytest.raises(ValueError, match="from 1 to 20"):
        timeline_svg(plan, rules.check(plan, KNOWLEDGE), KNOWLEDGE, years=years)


def test_three_hundred_beds_and_twenty_years():
    beds = [
        {
            "id": f"b{n}",
            "name": f"Plot {n}",
            "length": 600,
            "width": 120,
            "position": {"x": n % 20 * 8, "y": n // 20 * 2},
        }
        for n in range(301)
    ]
    crops = ["cabbage", "tomato", "leeks", "carrots", "peas"]
    rows = [
        {"bed": f"b{n}", "crop": crops[(n + year) % 5], "start": f"{year}-04-10", "end": f"{year}-08-20"}
        for n in range(301)
        for year in range(2009, 2029)
    ]
    plan = read({"judge": {"season": "2027"}, "garden": {"latitude": 46}, "beds": beds, "plantings": rows})
    report = rules.check(plan, KNOWLEDGE)
    for svg in (map_svg(plan, report, KNOWLEDGE, day=DAY), timeline_svg(plan, report, KNOWLEDGE, years=20)):
        root = parsed(svg)
        found = [label.text for _, label in texts(root)]
        assert "Only the first 300 of 301 beds are drawn." in found
        groups = [g.get("id") for g in root.iter(f"{SVG}g") if g.get("id")]
        assert sum("-bed-" in group or "-row-" in group for group in groups) == 300


def test_the_tests_of_overlap_can_fail():
    one, other = Label(10, 20, "Kiln bed", 12), Label(40, 24, "Quay bed", 12)
    assert overlapping([one, other]) == [("Kiln bed", "Quay bed")]
    assert overlapping([one, replace(other, y=60)]) == []
    assert overlapping([replace(one, turn=30), replace(other, turn=30, y=80)]) == []
    square = ((0, 0), (100, 0), (100, 100), (0, 100))
    assert inside(one.corners, square)
    assert not inside(replace(one, x=60).corners, square)
