"""The timeline: bars, years without a record, breaks and days, in both hemispheres."""

from __future__ import annotations

from datetime import date

import pytest
from drawn import KNOWLEDGE, SVG, parsed, read, texts

import rules
from rules.checks.context import Context
from service.pictures import timeline_svg
from service.pictures.axis import Axis
from service.pictures.bars import bars, breaks, moments
from service.planfile import open_plan


@pytest.fixture(scope="module")
def demo():
    plan, knowledge = open_plan("demo")
    return plan, rules.check(plan, knowledge), knowledge


def drawn(document, years=6):
    plan = read(document)
    return parsed(timeline_svg(plan, rules.check(plan, KNOWLEDGE), KNOWLEDGE, years=years))


def words(root):
    return [label.text for _, label in texts(root)]


def desc(root):
    return root.find(f"{SVG}desc").text


def rows(*plantings, **more):
    return {"as_of": "2027-03-01", "judge": {"season": "2027"}, "beds": [{"id": "a", "name": "Kiln bed"}],
            "plantings": list(plantings), **more}  # fmt: skip


def test_a_stay_is_one_bar_and_planned_ones_stand_apart(demo):
    plan, _, knowledge = demo
    ground = Context(plan, knowledge).grounds["vat"]
    found = {bar.name: bar for bar in bars(ground.plantings, knowledge)}
    assert (found["radishes and rocket"].start, found["radishes and rocket"].end) == (
        date(2027, 2, 20),
        date(2027, 5, 10),
    )
    assert found["radishes and rocket"].planned
    assert not found["spinach"].planned
    assert sum(len(bar.plantings) for bar in bars(ground.plantings, knowledge)) == len(ground.plantings)


def test_history_follows_the_ground(demo):
    root = parsed(timeline_svg(*demo))
    assert "kale, cabbage family, 10 May 2025 to 31 October 2025, in Old kiln bed" in desc(root)
    groups = [g.get("id") for g in root.iter(f"{SVG}g") if g.get("id")]
    assert "timeline-row-kiln" in groups
    assert "timeline-row-old-kiln" not in groups


def test_years_without_a_record_are_hatched_and_told(demo):
    root = parsed(timeline_svg(*demo))
    assert "Not on record: 2024." in desc(root)
    hatched = [path for path in root.iter(f"{SVG}path") if path.get("fill") == "url(#timeline-silent)"]
    assert len(hatched) == 3  # Vat house 2024, Bark tub 2023, and the key
    assert words(root).count("not on record") == 3
    empty = drawn(rows())
    assert "Kiln bed: nothing on record in these years. Not on record: 2023 to 2026." in desc(empty)


def test_new_soil_hides_no_older_bar(demo):
    assert "tomatoes, potato family, 25 May 2024 to 1 October 2024" in desc(parsed(timeline_svg(*demo)))


def test_breaks_are_those_of_the_report(demo):
    plan, report, knowledge = demo
    context = Context(plan, knowledge)
    outlooks = {outlook.bed: outlook for outlook in report.beds}
    found = {
        (bed, one.family): one
        for bed in ("kiln", "quay", "vat", "lime")
        for one in breaks(context.grounds[bed], outlooks[bed], report.judged, knowledge)
    }
    kale = found["kiln", "Brassicaceae"]
    free = outlooks["kiln"].free_from["Brassicaceae"]
    assert (kale.since, kale.least, kale.better) == (date(2025, 10, 31), free.least, free.better)
    assert kale.text == "free Nov 2027, better Nov 2028"
    assert found["quay", "Amaryllidaceae"].text == "never again here (allium white rot)"
    assert found["vat", "Solanaceae"].text == "not known, years are missing"
    assert found["lime", "Asteraceae"].endless
    assert "2199" not in desc(parsed(timeline_svg(*demo)))


def test_sightings_and_new_soil_are_marked(demo):
    plan, _, knowledge = demo
    grounds = Context(plan, knowledge).grounds
    assert (date(2024, 6, 20), "sighting", "allium white rot, severe") in moments(plan, grounds["quay"], knowledge)
    assert [m.mark for m in moments(plan, grounds["bark"], knowledge)].count("soil") == 3
    assert "Seen: clubroot, moderate, 2 September 2023." in desc(parsed(timeline_svg(*demo)))


def test_the_day_from_which_all_is_seen_has_its_line(demo):
    assert "seen from 20 November 2026" in words(parsed(timeline_svg(*demo)))
    assert "seen from 20 November 2026" not in words(parsed(timeline_svg(*demo, years=1)))


def test_lost_fallow_group_words_and_years_are_told():
    root = drawn(rows(
        {"bed": "a", "crop": "kale", "start": "2024-05-01", "end": "2024-05-20", "status": "lost", "cause": "slugs"},
        {"bed": "a", "crop": "fallow", "season": "2025"},
        {"bed": "a", "crop": "salad", "season": "2026"},
    ))  # fmt: skip
    told = desc(root)
    assert "kale, lost, cabbage family, 1 May 2024 to 20 May 2024" in told
    assert "fallow" in told.casefold()
    assert "some time in season 2026" in told
    assert "Mx" in words(root)
    assert "known by its year alone" in words(root)


@pytest.mark.parametrize(("latitude", "first", "names"), [
    (46.2, date(2023, 1, 1), ["2023", "2028"]), (-37.8, date(2023, 7, 1), ["2023/24", "2028/29"]),
    (5.0, date(2023, 1, 1), ["2023", "2028"]),
])  # fmt: skip
def test_the_axis_is_of_growing_years(latitude, first, names):
    root = drawn(rows({"bed": "a", "crop": "kale", "season": "2027"}, garden={"latitude": latitude}))
    assert set(names) <= set(words(root))
    axis = Axis(2023, 2028, 100.0, 100.0, latitude)
    assert axis.window.start == first
    assert axis.x(first) == 100.0
    assert axis.after(axis.window.end) == axis.right == 700.0
    assert ("Sp" in words(root)) == (latitude != 5.0)
    assert [season.word for season in axis.seasons()][:2] == {
        46.2: ["winter", "spring"],
        -37.8: ["winter", "spring"],
    }.get(latitude, [])


def test_spring_is_in_september_in_the_south():
    axis = Axis(2027, 2027, 0.0, 120.0, -37.8)
    spring = next(season for season in axis.seasons() if season.word == "spring")
    assert (spring.left, spring.right) == (axis.x(date(2027, 9, 1)), axis.x(date(2027, 12, 1)))


def test_what_came_before_the_axis_is_left_out(demo):
    told = desc(parsed(timeline_svg(*demo, years=2)))
    assert "2023 to" not in told.replace("20 October 2023", "")
    assert "cabbages, cabbage family, 20 April 2027 to 30 September 2027, planned" in told
