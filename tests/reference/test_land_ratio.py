"""Published land equivalent ratios, typed in from the sources named beside each row, and what must hold of any.

The formula is that of Mead and Willey (mead1980).
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import rules
from rules import LandRatio, land_equivalent_ratio

# Sorghum and cowpea in rows of five, kg per ha, means of four blocks (petersen1994, cited only: the
# data are open). The source gives no ratios: they were worked out from its yields by the compiler.
SOLE_SORGHUM, SOLE_COWPEA = 3585, 1740
SORGHUM_COWPEA = [
    # rows of each, yields in the mixture, partial ratios, total
    ("1:4", 1287.25, 1400.5, 0.3591, 0.8049, 1.164),
    ("2:3", 2310.25, 1422.75, 0.6444, 0.8177, 1.4621),
    ("3:2", 2967.0, 887.5, 0.8276, 0.5101, 1.3377),
    ("4:1", 3384.75, 356.75, 0.9441, 0.205, 1.1492),
]


@pytest.mark.parametrize(("rows", "sorghum", "cowpea", "part_sorghum", "part_cowpea", "total"), SORGHUM_COWPEA)
def test_sorghum_and_cowpea(rows, sorghum, cowpea, part_sorghum, part_cowpea, total):  # LER1: petersen1994
    ratio = land_equivalent_ratio({"sorghum": (sorghum, SOLE_SORGHUM), "cowpea": (cowpea, SOLE_COWPEA)})
    assert ratio.partial == pytest.approx({"sorghum": part_sorghum, "cowpea": part_cowpea}, abs=0.0001)
    assert ratio.total == pytest.approx(total, abs=0.001)
    assert not ratio.doubtful


def test_yields_per_row_need_the_share_of_ground():  # LER2: shanmugam2021, published 1.06; halves are inferred
    per_row = {"cabbage": (1.28, 1), "broad bean": (0.85, 1)}
    ratio = land_equivalent_ratio(per_row, share={"cabbage": 0.5, "broad bean": 0.5})
    assert ratio.partial == pytest.approx({"cabbage": 0.64, "broad bean": 0.425})
    assert ratio.total == pytest.approx(1.06, abs=0.01)
    assert land_equivalent_ratio(per_row).total == pytest.approx(2.13)


def test_an_incredible_total_is_flagged():  # LER3: sharaiha2008; per own area and halves are inferred
    relative = {"potato": (1.639, 1), "bean": (1.709, 1)}
    assert land_equivalent_ratio(relative, share=dict.fromkeys(relative, 0.5)).total == pytest.approx(1.674)
    assert not land_equivalent_ratio(relative, share=dict.fromkeys(relative, 0.5)).doubtful
    per_plot = land_equivalent_ratio(relative)
    assert per_plot.total == pytest.approx(3.35, abs=0.005)
    assert per_plot.doubtful
    assert "3.35 is above 2" in per_plot.reason


def test_one_crop_gives_its_partial_ratio():  # LER4: university_tabriz, broad beans beside pot marigold, g per m2
    assert land_equivalent_ratio({"broad bean": (234.2, 250.2)}).total == pytest.approx(0.9361, abs=0.0001)
    assert "same area" in land_equivalent_ratio({"broad bean": (260, 250.2)}).reason


# LER5 (intercropping_leeks) gives a total of 1.1 for leeks and celery without any yield: nothing to work out.


@pytest.mark.parametrize(("total", "lettuce", "doubtful"), [(1.63, 0.63, False), (2.22, 1.22, True)])
def test_tomato_and_lettuce(total, lettuce, doubtful):  # LER6: anais_da2011; tomato not lowered, so its partial is 1
    ratio = land_equivalent_ratio({"tomato": (1, 1), "lettuce": (lettuce, 1)})
    assert ratio.total == pytest.approx(total)
    assert ratio.total - ratio.partial["tomato"] == pytest.approx(lettuce)
    assert ratio.doubtful is doubtful  # published all the same: a flag, no refusal


def test_garlic_and_strawberry():  # YL08: hata2019, published totals of 1.34 to 2.55 with neither yield lowered
    flags = [land_equivalent_ratio({"strawberry": (1, 1), "garlic": (total - 1, 1)}).doubtful for total in (1.34, 2.55)]
    assert flags == [False, True]


def test_grain_and_fruit_trees():  # LER7: wikipedia_quoting, an illustration
    ratio = land_equivalent_ratio({"grain": (4000, 5000), "fruit": (9000, 15000)})
    assert ratio == LandRatio(pytest.approx(1.4), {"grain": 0.8, "fruit": 0.6})


def test_a_total_of_just_the_number_of_crops_is_not_doubtful():
    assert not land_equivalent_ratio({"a": (0.7, 1), "b": (1.2, 1), "c": (1.1, 1)}).doubtful
    assert land_equivalent_ratio({"a": (0.7, 1), "b": (1.2, 1), "c": (1.1001, 1)}).doubtful


def test_without_a_sole_yield_there_is_no_ratio():  # mead1990: cowpea and maize, 72 mixed plots, none alone
    with pytest.raises(ValueError, match="cowpea: the yield alone must be a number above 0"):
        land_equivalent_ratio({"cowpea": (539.4, 0), "maize": (3141.3, 0)})


@pytest.mark.parametrize(
    ("yields", "share", "message"),
    [
        ({}, None, "no yields"),
        ({"leek": (1, -2)}, None, "leek: the yield alone"),
        ({"leek": (1, math.nan)}, None, "leek: the yield alone"),
        ({"leek": (1, math.inf)}, None, "leek: the yield alone"),
        ({"leek": (-1, 2)}, None, "leek: the yield in the mixture"),
        ({"leek": (math.nan, 2)}, None, "leek: the yield in the mixture"),
        ({"leek": (math.inf, 2)}, None, "leek: the yield in the mixture"),
        ({"leek": (1e300, 1e-300)}, None, "too far apart"),
        ({"leek": (1, 2)}, {"lekk": 0.5}, "only in one of them: leek, lekk"),
        ({"leek": (1, 2)}, {"leek": 0}, "leek: the share of ground"),
        ({"leek": (1, 2)}, {"leek": math.nan}, "leek: the share of ground"),
        ({"leek": (1, 2)}, {"leek": 1.1}, "leek: the share of ground"),
        ({"leek": (1, 2), "kale": (1, 2)}, {"leek": 0.5, "kale": 0.6}, "add up to 1.1"),
    ],
)
def test_what_makes_no_sense_is_refused(yields, share, message):
    with pytest.raises(ValueError, match=message):
        land_equivalent_ratio(yields, share)


def test_a_crop_that_failed_counts_as_nothing():
    assert land_equivalent_ratio({"leek": (0, 2), "kale": (3, 2)}).partial == {"leek": 0, "kale": 1.5}


amounts = st.floats(min_value=0.01, max_value=1000)
mixtures = st.dictionaries(st.text(min_size=1), st.tuples(amounts, amounts), min_size=1, max_size=6)


@given(mixtures, st.floats(min_value=0.001, max_value=1000))
def test_the_unit_of_yield_does_not_matter(yields, factor):
    scaled = {crop: (mixed * factor, alone * factor) for crop, (mixed, alone) in yields.items()}
    assert land_equivalent_ratio(scaled).total == pytest.approx(land_equivalent_ratio(yields).total)


@given(mixtures, st.randoms())
def test_the_order_of_crops_does_not_matter(yields, chance):
    turned = list(yields.items())
    chance.shuffle(turned)
    assert land_equivalent_ratio(dict(turned)) == land_equivalent_ratio(yields)


@given(mixtures, st.data())
def test_more_in_the_mixture_is_better_and_more_alone_is_worse(yields, data):
    crop = data.draw(st.sampled_from(sorted(yields)))
    mixed, alone = yields[crop]
    total = land_equivalent_ratio(yields).total
    assert land_equivalent_ratio({**yields, crop: (mixed * 2, alone)}).total > total
    assert land_equivalent_ratio({**yields, crop: (mixed, alone * 2)}).total < total


@given(mixtures)
def test_partial_ratios_add_up_to_the_total(yields):
    ratio = land_equivalent_ratio(yields)
    assert ratio.partial.keys() == yields.keys()
    assert math.fsum(ratio.partial.values()) == ratio.total


@given(mixtures)
def test_whole_shares_of_equal_crops_give_the_mean(yields):
    equal = dict.fromkeys(yields, 1 / len(yields))
    ratio = land_equivalent_ratio(yields, equal)
    assert ratio.total == pytest.approx(land_equivalent_ratio(yields).total / len(yields))


def test_it_is_a_public_name():
    assert {"LandRatio", "land_equivalent_ratio"} <= set(rules.__all__)
