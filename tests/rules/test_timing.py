"""Whose time it is: frost, hardiness and days to harvest, in either hemisphere; and the facts behind it."""

from datetime import date

import pytest
from factfile import located

from rules import load_knowledge
from rules.knowledge.factfiles import read_facts
from rules.knowledge.shapes import KnowledgeError
from rules.model import FrostDate, Garden
from rules.planning.timing import Season, in_time

KNOWLEDGE = load_knowledge()
NORTH = Garden(latitude=46.2, last_spring_frost=FrostDate((5, 4)), first_autumn_frost=FrostDate((10, 2)))
SOUTH = Garden(latitude=-37.8, last_spring_frost=FrostDate((11, 4)), first_autumn_frost=FrostDate((4, 2)))


def ripe(day, garden=NORTH):
    return {crop.id for crop in in_time(Season(day, garden), KNOWLEDGE)}


@pytest.mark.parametrize(
    ("crop", "first", "last"),
    [
        ("pea", date(2027, 4, 6), date(2027, 6, 30)),  # 4 weeks before the last frost; 80 and 14 days before the first
        ("potato", date(2027, 4, 20), date(2027, 5, 21)),
        ("bush_bean", date(2027, 5, 4), date(2027, 7, 8)),  # tender: a month before frost, not a fortnight
        ("zucchini", date(2027, 5, 18), date(2027, 7, 11)),
        ("garlic", date(2027, 9, 18), date(2027, 11, 27)),
    ],
)
def test_a_crop_has_its_days(crop, first, last):
    found = [day for n in range(365) if crop in ripe(day := date.fromordinal(date(2027, 1, 1).toordinal() + n))]
    assert (found[0], found[-1]) == (first, last)
    assert len(found) == (last - first).days + 1


def test_the_south_has_the_same_season_half_a_year_on():
    assert ripe(date(2027, 11, 15), SOUTH) == ripe(date(2027, 5, 15))
    assert "garlic" in ripe(date(2027, 4, 20), SOUTH)
    assert not ripe(date(2027, 7, 15), SOUTH)


def test_without_frost_dates_the_main_season_stands_in():
    plain = Season(date(2027, 5, 1), Garden(latitude=46.2))
    assert (plain.spring, plain.autumn, plain.frost_known) == (date(2027, 4, 1), date(2027, 10, 31), False)
    assert Season(date(2027, 5, 1), NORTH).frost_known
    assert "tomato" in ripe(date(2027, 1, 15), Garden(latitude=5.0))


def test_every_common_crop_is_right_and_has_sources():
    common = KNOWLEDGE.facts.common
    assert len(common) >= 25
    for one in common.values():
        assert one.crop.maturity is not None
        assert one.sources["hardiness"]
        assert (one.autumn is None) is ("autumn" not in one.sources)
    for hardiness in KNOWLEDGE.facts.hardiness.values():
        assert set(hardiness.sources) == {"from_last_frost", "before_first_frost"}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("common:\n  kail: {hardiness: hardy, src: {hardiness: [memory]}}\n", "'kail'; did you mean 'kale'?"),
        ("common:\n  kale: {hardiness: hrdy, src: {hardiness: [memory]}}\n", "unknown hardiness 'hrdy'"),
        ("common:\n  kale: {hardiness: hardy, autumn: [9, 1], src: {hardiness: [memory]}}\n", "two numbers of days"),
        ("common:\n  kale: {hardiness: hardy, autumn: 9, src: {hardiness: [memory]}}\n", "two numbers of days"),
        ("common:\n  kale: {hardiness: hardy, src: {hardiness: [nobody]}}\n", "unknown source 'nobody'"),
    ],
)  # fmt: skip
def test_a_fault_in_the_common_crops_is_told(text, told):
    with pytest.raises(KnowledgeError, match=r"common\.yaml:2") as caught:
        read_facts(located(**{"common.yaml": text}))
    assert told in str(caught.value)


def test_every_setting_has_sources_and_a_span_of_days():
    setting = KNOWLEDGE.facts.setting
    assert len(setting) >= 20
    for one in setting.values():
        for key in ("hardiness", "spring", "autumn"):
            assert (getattr(one, key) is None) is (key not in one.sources)
        for span in (one.spring, one.autumn):
            assert span is None or span[0] < span[1]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("setting:\n  kail: {spring: [0, 9], src: {spring: [memory]}}\n", "'kail'; did you mean 'kale'?"),
        ("setting:\n  kale: {hardiness: hrdy, src: {hardiness: [memory]}}\n", "unknown hardiness 'hrdy'"),
        ("setting:\n  kale: {spring: [9, 1], src: {spring: [memory]}}\n", "two numbers of days"),
        ("setting:\n  kale: {autumn: 9, src: {autumn: [memory]}}\n", "two numbers of days"),
        ("setting:\n  kale: {glass: some, src: {glass: [memory]}}\n", "write best or fine"),
        ("setting:\n  kale: {spring: [0, 9], src: {spring: [nobody]}}\n", "unknown source 'nobody'"),
    ],
)  # fmt: skip
def test_a_fault_in_the_settings_is_told(text, told):
    with pytest.raises(KnowledgeError, match=r"setting\.yaml:2") as caught:
        read_facts(located(**{"setting.yaml": text}))
    assert told in str(caught.value)
