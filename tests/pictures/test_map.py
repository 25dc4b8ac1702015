"""The map: what is drawn of a bed, where, and what is said about it."""

from __future__ import annotations

import re
from datetime import date

import pytest
from drawn import DAY, KNOWLEDGE, SVG, outline, parsed, read, texts

import rules
from service.pictures import map_svg
from service.pictures.asked import map_day
from service.pictures.bedpicture import lanes
from service.pictures.ground import lay_out
from service.planfile import open_plan


@pytest.fixture(scope="module")
def demo():
    plan, knowledge = open_plan("demo")
    return plan, rules.check(plan, knowledge), knowledge


def picture(document, day=DAY):
    plan = read(document)
    return parsed(map_svg(plan, rules.check(plan, KNOWLEDGE), KNOWLEDGE, day=day))


def words(root):
    return [label.text for _, label in texts(root)]


def desc(root):
    return root.find(f"{SVG}desc").text


def bed(root, name):
    return outline(next(g for g in root.iter(f"{SVG}g") if g.get("id") == f"map-bed-{name}"))


def sides(corners):
    (ax, ay), (bx, by), (cx, cy), _ = corners
    return ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5, ((cx - bx) ** 2 + (cy - by) ** 2) ** 0.5


PLAIN = {
    "judge": {"season": "2027"},
    "plantings": [{"bed": "a", "crop": "kale", "start": "2027-05-01", "end": "2027-12-01"}],
}


def test_beds_are_to_scale_and_north_is_up(demo):
    root = parsed(map_svg(*demo, day=DAY))
    lime, kiln, vat = (bed(root, name) for name in ("lime", "kiln", "vat"))
    scale = sides(lime)[0] / 8
    assert sides(lime)[1] / 4 == pytest.approx(scale, rel=0.01)
    assert sides(vat) == pytest.approx((4 * scale, 1.8 * scale), abs=0.3)
    # Position and size as in the plan: Lime ground begins 7 m north of Kiln bed, Vat house 4 m east of both.
    low = max(y for _, y in kiln)
    assert low - max(y for _, y in lime) == pytest.approx(7 * scale, abs=0.3)
    assert min(x for x, _ in vat) - min(x for x, _ in lime) == pytest.approx(4 * scale, abs=0.3)
    assert "N" in words(root)


def test_the_scale_bar_is_as_long_as_it_says(demo):
    root = parsed(map_svg(*demo, day=DAY))
    number = next(int(text.split()[0]) for text in words(root) if re.fullmatch("[0-9]+ m", text))
    bar = next(p.get("d") for p in root.iter(f"{SVG}path") if p.get("class") == "bc-thin")
    xs = [float(x) for x in re.findall(r"-?[0-9.]+", bar)[::2]]
    assert (max(xs) - min(xs)) / number == pytest.approx(sides(bed(root, "lime"))[0] / 8, abs=0.2)


def test_imperial_gardens_are_told_in_feet():
    root = picture(
        {**PLAIN, "garden": {"units": "imperial"}, "beds": [{"id": "a", "length": "10 ft", "width": "4 ft"}]}
    )
    assert any(re.fullmatch("[0-9]+ ft", text) for text in words(root))
    assert "10 ft by 4 ft" in desc(root)


def test_a_turned_bed_is_turned_the_way_the_plan_says():
    beds = [{"id": "a", "length": 300, "width": 100, "position": {"x": 0, "y": 0}, "turn": 30}]
    corners = bed(picture({**PLAIN, "beds": beds}), "a")
    lowest = max(corners, key=lambda point: point[1])
    highest = min(corners, key=lambda point: point[1])
    # Counter-clockwise about its south-west corner: that corner is the lowest, the far north-east one the highest.
    assert highest[0] > lowest[0]
    assert sides(corners)[0] / sides(corners)[1] == pytest.approx(3, rel=0.01)


@pytest.mark.parametrize(("turn", "end"), [(0, "right"), (90, "top"), (180, "left"), (270, "bottom"), (-90, "bottom")])
def test_a_part_lies_at_its_end_of_the_bed(turn, end):
    plan = read(
        {**PLAIN, "beds": [{"id": "a", "length": 400, "width": 200, "position": {"x": 0, "y": 0}, "turn": turn}]}
    )
    spot = lay_out(plan.beds, 600, 20).spots["a"]
    last, whole = spot.part(0.75, 1.0), spot.whole
    assert getattr(last, end) == pytest.approx(getattr(whole, end))
    assert (last.right - last.left) * (last.bottom - last.top) == pytest.approx(spot.width * spot.height / 4)


def test_beds_without_position_or_size_are_drawn_and_said_so():
    root = picture(
        {**PLAIN, "beds": [{"id": "a"}, {"id": "b", "position": {"x": 0, "y": 0}, "length": 200, "width": 100}]}
    )
    assert "Beds without a position on record, in rows and not where they lie:" in words(root)
    assert "Dashed outline: length or width is not on record, drawn as in a bed of 2.00 m by 100 cm." in words(root)
    assert min(y for _, y in bed(root, "a")) > max(y for _, y in bed(root, "b"))
    dashed = next(g for g in root.iter(f"{SVG}g") if g.get("id") == "map-bed-a")
    assert any("bc-dashed" in (path.get("class") or "") for path in dashed.iter(f"{SVG}path"))
    assert "size not on record" in desc(root)


def test_only_what_stands_on_the_day_is_drawn(demo):
    spring, summer = (parsed(map_svg(*demo, day=day)) for day in (date(2027, 3, 1), DAY))
    assert "Vat house (4.00 m by 180 cm): radishes." in desc(spring)
    assert "Kiln bed (3.00 m by 120 cm): empty, next: cabbages, 20 April 2027." in desc(spring)
    assert "Kiln bed (3.00 m by 120 cm): cabbages under a net." in desc(summer)
    assert "Old kiln bed is not there on 1 July 2027." in words(summer)
    assert "Old kiln bed" in desc(parsed(map_svg(*demo, day=date(2025, 6, 1))))


def test_crops_that_share_ground_lie_side_by_side(demo):
    plan = demo[0]
    vat = sorted(
        (p for p in plan.plantings if p.bed == "vat" and p.start <= DAY <= p.end), key=lambda p: (p.part, p.start, p.id)
    )
    across = {p.crop.id: share for p, share in lanes(vat)}
    assert across["cucumber"] == (0.0, 1.0)
    assert {across["french_marigold"], across["tomato"]} == {(0.0, 0.5), (0.5, 1.0)}


def test_a_row_known_by_its_year_says_so():
    root = picture({**PLAIN, "beds": [{"id": "a"}], "plantings": [{"bed": "a", "crop": "kale", "season": "2027"}]})
    assert "kale (some time in season 2027)" in desc(root)
    assert "some time in the season" in words(root)


def test_findings_are_marked_and_told(demo):
    root = parsed(map_svg(*demo, day=DAY))
    told = desc(root)
    assert "Findings for season 2027: 6 break a rule and 7 work against you." in told
    for finding in demo[1].findings:
        assert (f"{finding.title}." in told) == (finding.severity in ("breach", "caution"))
    assert "breaks a rule" in words(root)
    assert "and 5 more in the report" in words(root)


def test_what_has_no_room_is_told_below(demo):
    root = parsed(map_svg(*demo, day=DAY))
    assert "1 Bark tub: tomatoes" in words(root)
    assert ("map-words-bark", "1") in [(group, label.text) for group, label in texts(root)]


def test_names_are_text_and_nothing_else():
    root = picture({**PLAIN, "garden": {"name": "<b>&amp;"}, "beds": [{"id": "a", "name": '"><script>x</script>'}]})
    assert not list(root.iter(f"{SVG}script"))
    assert "<script>x</script>" in desc(root)
    assert "<b>&amp;" in words(root)


def test_the_picture_needs_nothing_from_elsewhere(demo):
    svg = map_svg(*demo, day=DAY)
    assert not re.search(r"href|src=|@import|<script|<image|<foreignObject", svg)
    assert re.findall(r"https?://[^\"' ]+", svg) == ["http://www.w3.org/2000/svg"]
    assert set(re.findall(r"url\(([^)]*)\)", svg)) <= {f"#{m}" for m in re.findall(r'id="([^"]+)"', svg)}


def test_without_a_bed_on_the_day_there_is_still_a_picture(demo):
    root = parsed(map_svg(*demo, day=date(1950, 1, 1)))
    assert desc(root).startswith("6 beds")
    plan = read({**PLAIN, "beds": [{"id": "a", "from": "2027-04-01"}]})
    root = parsed(map_svg(plan, rules.check(plan, KNOWLEDGE), KNOWLEDGE, day=date(2026, 1, 1)))
    assert desc(root).startswith("0 beds")
    assert "A is not there on 1 January 2026." in words(root)


@pytest.mark.parametrize(("word", "season", "day"), [
    (None, None, date(2026, 11, 20)), ("2027-04-01", None, date(2027, 4, 1)), (None, "2027", date(2027, 7, 2)),
])  # fmt: skip
def test_the_day_of_a_map(demo, word, season, day):
    assert map_day(demo[0], word, season) == (day, [])


def test_a_day_that_is_none_is_told(demo):
    _, faults = map_day(demo[0], "2027-02-30", None)
    assert [name for name, _ in faults] == ["day"]
    assert "2027-02-30" in faults[0][1]
