"""How many of a crop is said as gardeners count it: as it goes in, as it stands, as it is picked."""

from __future__ import annotations

import re

import pytest

import rules
from service import counted
from service.counted import plants

KNOWLEDGE = rules.load_knowledge()


@pytest.mark.parametrize(
    ("crop", "told"),
    [
        ("garlic", ("40 garlic cloves", "40 garlic cloves", "40 garlic plants", "40 garlic bulbs")),
        ("kale", ("40 kale seeds", "40 kale plants", "40 kale plants", "40 kale plants")),
        ("cabbage", ("40 cabbages", "40 cabbages", "40 cabbages", "40 cabbages")),
        ("tomato", ("40 tomatoes", "40 tomatoes", "40 tomato plants", "40 tomatoes")),
        ("potato", ("40 potatoes", "40 potatoes", "40 potato plants", "40 potatoes")),
        ("beetroot", ("40 beetroot seeds", "40 beetroot plants", "40 beetroot plants", "40 beetroot")),
        ("sweetcorn", ("40 sweetcorn seeds", "40 sweetcorn plants", "40 sweetcorn plants", "40 sweetcorn cobs")),
        ("asparagus", ("40 asparagus crowns", "40 asparagus crowns", "40 asparagus plants", "40 asparagus spears")),
        ("Brussels sprouts", (*["40 Brussels sprouts"] * 2, "40 Brussels sprout plants", "40 Brussels sprouts")),
    ],
)  # fmt: skip
def test_a_number_of_a_crop_is_told_by_what_is_counted(crop, told):
    found = KNOWLEDGE.find_crop(crop)
    assert tuple(plants(found, 40, stage) for stage in ("sown", "planted", "stands", "picked")) == told


def test_every_word_list_names_crops_of_the_catalogue():
    for crop in (*counted._SET, *counted._PICKED, *counted._ALIKE):
        assert KNOWLEDGE.crops[crop].uncounted, crop


def test_one_is_told_in_the_singular_and_no_crop_is_planted_twice_in_a_breath():
    for crop in KNOWLEDGE.crops.values():
        for stage in ("sown", "planted", "stands", "picked"):
            one, many = plants(crop, 1, stage), plants(crop, 12, stage)
            assert re.fullmatch(r"1 \S.*", one)
            assert many.startswith("12 ")
            assert plants(crop, None, stage) == counted.short(crop.plural)
            if crop.uncounted and crop.id not in counted._ALIKE:
                assert many == f"12 {one[2:]}s"
