"""When crops usually go in: a table for one garden, its twin in the south, glass, gardens without frost, and figures
that were published."""

from datetime import date, timedelta
from itertools import pairwise

import pytest

from rules import load_knowledge
from rules.model import FrostDate, Garden
from rules.planning.timing import Season, in_time, usual_times
from tests.rules.test_timing import NORTH, SOUTH

KNOWLEDGE = load_knowledge()


def times(crop, garden=NORTH, day=date(2027, 5, 20), glass=False):
    """First and last days as (month, day), each span once."""
    spans = usual_times(KNOWLEDGE.find_crop(crop), day, garden, KNOWLEDGE, glass=glass)
    if spans is None:
        return None
    return list(dict.fromkeys(((s.first.month, s.first.day), (s.last.month, s.last.day)) for s in spans))


@pytest.mark.parametrize(
    ("crop", "spans"),
    [
        ("garlic", [((9, 11), (11, 30))]),
        ("broad bean", [((10, 1), (11, 20)), ((4, 1), (6, 10))]),
        ("tomato", [((5, 11), (6, 30))]),
        ("leek", [((5, 11), (7, 20))]),
        ("kale", [((5, 1), (8, 20))]),
        ("corn salad", [((7, 21), (9, 20))]),
        ("potato", [((4, 11), (6, 10))]),
        ("purple sprouting broccoli", [((6, 1), (8, 10))]),
        ("cereal rye", [((8, 11), (10, 31))]),
        ("buckwheat", [((5, 1), (7, 31))]),
        ("sweet potato", []),  # 150 days do not go into this season
        ("rhubarb", None),
        ("caraway", None),
    ],
)
def test_a_crop_has_its_usual_times(crop, spans):
    assert times(crop) == spans


@pytest.mark.parametrize("crop", ["garlic", "tomato", "leek", "pea", "corn salad"])
def test_the_south_has_them_half_a_year_on(crop):
    north, south = times(crop), times(crop, SOUTH, date(2027, 11, 20))
    turned = [tuple(((month + 5) % 12 + 1, day) for month, day in span) for span in north]
    assert [[month for month, _ in span] for span in south] == [[month for month, _ in span] for span in turned]


def test_glass_gives_four_weeks_at_either_end():
    outside = usual_times(KNOWLEDGE.crops["tomato"], date(2027, 5, 20), NORTH, KNOWLEDGE)
    inside = usual_times(KNOWLEDGE.crops["tomato"], date(2027, 5, 20), NORTH, KNOWLEDGE, glass=True)
    assert 18 <= (outside[0].first - inside[0].first).days <= 38
    assert 18 <= (inside[0].last - outside[0].last).days <= 38


@pytest.mark.parametrize("garden", [Garden(), Garden(latitude=46.2), Garden(latitude=5.0), Garden(latitude=-10.0)])
def test_without_frost_dates_nothing_is_known(garden):
    for crop in KNOWLEDGE.crops.values():
        assert usual_times(crop, date(2027, 7, 1), garden, KNOWLEDGE) is None


def test_a_highland_in_the_tropics_with_frost_has_times():
    garden = Garden(latitude=5.0, last_spring_frost=FrostDate((3, 1)), first_autumn_frost=FrostDate((11, 20)))
    assert times("tomato", garden) == [((3, 11), (8, 20))]


def test_a_word_for_several_crops_has_the_times_of_all():
    assert times("lettuce") == [(min(times(one)[0][0] for one in ("leaf lettuce", "head lettuce")), (8, 20))]
    assert times("leaf lettuce")[0][1] == (8, 20) != times("head lettuce")[0][1]
    assert times("herbs") is None  # some are perennials


@pytest.mark.parametrize("glass", [False, True])
@pytest.mark.parametrize("garden", [NORTH, SOUTH], ids=["north", "south"])
def test_what_is_offered_for_a_day_is_within_its_usual_times(garden, glass):
    offered = 0
    for n in range(0, 365, 3):
        day = date(2027, 1, 1) + timedelta(days=n)
        for crop in in_time(Season(day, garden), KNOWLEDGE, glass=glass):
            assert any(s.first <= day <= s.last for s in usual_times(crop, day, garden, KNOWLEDGE, glass=glass))
            offered += 1
    assert offered > 300


def test_only_what_does_well_there_is_offered_under_glass():
    offered = {crop.id for crop in in_time(Season(date(2027, 5, 20), NORTH), KNOWLEDGE, glass=True)}
    assert {"tomato", "cucumber"} <= offered
    assert "potato" not in offered


def test_every_day_of_every_crop_has_an_answer_to_the_ends_of_time():
    for day in (date(1900, 1, 1), date(2199, 12, 31), date(2028, 2, 29)):
        for garden in (NORTH, SOUTH):
            for crop in KNOWLEDGE.crops.values():
                spans = usual_times(crop, day, garden, KNOWLEDGE) or ()
                assert all(span.first <= span.last for span in spans)
                assert all(one.last < other.first for one, other in pairwise(spans))


# -- published


#: Last sowings in northern Virginia, first frost 20 to 30 October (Master Gardeners of Prince William, "Fall
#: gardening"; key MGPW of the project's reference on calculations), and how many days ours may lie off: ours end on
#: thirds of months.
LAST_SOWINGS = [
    ("winter squash", date(2027, 7, 10), 0),
    ("dwarf French bean", date(2027, 7, 31), 10),
    ("sweetcorn", date(2027, 7, 31), 0),
    ("courgette", date(2027, 8, 18), 2),
    ("cucumber", date(2027, 8, 28), 18),
]


@pytest.mark.parametrize(("crop", "published", "off"), LAST_SOWINGS)
def test_published_last_sowings_are_usual(crop, published, off):
    virginia = Garden(latitude=38.7, last_spring_frost=FrostDate((4, 20)), first_autumn_frost=FrostDate((10, 25)))
    spans = usual_times(KNOWLEDGE.find_crop(crop), published, virginia, KNOWLEDGE)
    assert abs((published - spans[-1].last).days) <= off


@pytest.mark.parametrize(
    ("crop", "weeks"),
    [
        ("lettuce", (-4, -2)),  # csu_720: hardy crops two to four weeks before the last spring frost
        ("onion sets", (-4, -2)),
        ("pea", (-4, -2)),
        ("potato", (-2, 0)),  # half-hardy ones up to two weeks before it
        ("beetroot", (-2, 0)),
        ("French bean", (0, 1)),  # tender ones about that day
        ("sweetcorn", (0, 1)),
    ],
)
def test_published_first_days_are_usual(crop, weeks):
    frost = date(2027, 5, 4)
    spans = usual_times(KNOWLEDGE.find_crop(crop), frost, NORTH, KNOWLEDGE)
    for week in range(weeks[0], weeks[1] + 1):
        assert any(s.first <= frost + timedelta(weeks=week) <= s.last for s in spans)
    early = frost + timedelta(weeks=weeks[0] - 2)
    assert not any(s.first <= early <= s.last for s in spans)


def test_chinese_cabbage_is_sown_in_early_august_in_illinois():
    # il_vegguide: 1 to 15 August in central Illinois, early sowings bolt; ILL_FROST: first frost 7 October.
    illinois = Garden(latitude=40.0, last_spring_frost=FrostDate((4, 25)), first_autumn_frost=FrostDate((10, 7)))
    spans = usual_times(KNOWLEDGE.crops["chinese_cabbage"], date(2027, 8, 1), illinois, KNOWLEDGE)
    assert spans[0].first <= date(2027, 8, 1) <= date(2027, 8, 15) <= spans[0].last
    assert spans[0].first > date(2027, 6, 10)
