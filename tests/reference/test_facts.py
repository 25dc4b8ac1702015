"""Published numbers and relations held against the facts, typed in from the sources named beside each row."""

from __future__ import annotations

from functools import cache

import pytest

from rules import Knowledge, load_knowledge

# Family lists as published by the Rockwall and McLennan County Master Gardeners (tx_rockwall,
# tx_mclennan), with what they leave out from memory. Words as a grower would write them, British or American.
FAMILY_LISTS: dict[str, tuple[tuple[str, ...], str]] = {
    "Brassicaceae": (
        ("tx_rockwall", "sare_brassica", "memory"),
        "cabbage, broccoli, cauliflower, Brussels sprouts, kale, collards, kohlrabi, "
        "Chinese cabbage, turnip, "
        "rutabaga, swede, radish, mustard greens, pak choi, bok choy, mizuna, arugula, "
        "rocket, cress, watercress, "
        "horseradish, daikon, white mustard, oilseed radish, rapeseed",
    ),
    "Solanaceae": (
        ("tx_rockwall", "tx_mclennan", "memory"),
        "tomato, potato, pepper, chilli, eggplant, aubergine, tomatillo, ground cherry",
    ),
    "Cucurbitaceae": (
        ("tx_rockwall", "tx_mclennan"),
        "cucumber, summer squash, zucchini, courgette, winter squash, pumpkin, gourd, "
        "muskmelon, cantaloupe, "
        "watermelon",
    ),
    "Fabaceae": (
        ("tx_rockwall", "memory"),
        "pea, snap bean, French bean, runner bean, lima bean, dry bean, broad bean, cowpea, "
        "soybean, peanut, lentil, "
        "chickpea, fenugreek, clover, hairy vetch, common vetch, winter field bean, field pea, "
        "alfalfa, lucerne, lupin",
    ),
    "Amaryllidaceae": (
        ("tx_rockwall", "memory"),
        "onion, garlic, leek, shallot, chives, garlic chives, scallion, spring onion, elephant garlic",
    ),
    "Apiaceae": (
        ("tx_rockwall", "tx_mclennan", "memory"),
        "carrot, parsnip, celery, celeriac, parsley, root parsley, fennel, dill, cilantro, "
        "coriander, chervil, lovage, "
        "caraway, cumin",
    ),
    "Amaranthaceae": (
        ("tx_rockwall", "tx_mclennan", "memory"),
        "beet, beetroot, Swiss chard, spinach, perpetual spinach, quinoa, orach, amaranth, callaloo",
    ),
    "Asteraceae": (
        ("tx_rockwall", "tx_mclennan", "memory"),
        "lettuce, endive, escarole, chicory, radicchio, salsify, scorzonera, globe artichoke, "
        "cardoon, "
        "Jerusalem artichoke, sunflower, marigold",
    ),
    "Poaceae": (
        ("tx_rockwall", "memory"),
        "sweet corn, popcorn, rye, oats, barley, winter wheat, ryegrass, sorghum-sudangrass",
    ),
    "Convolvulaceae": (("tx_rockwall", "memory"), "sweet potato, water spinach"),
    "Malvaceae": (("tx_rockwall", "memory"), "okra, roselle"),
    "Lamiaceae": (("memory",), "basil, mint, oregano, thyme, sage, rosemary, shiso, lemon balm"),
    "Rosaceae": (("psu_families", "memory"), "strawberry, raspberry, blackberry"),
    "Polygonaceae": (("memory",), "rhubarb, sorrel, buckwheat"),
    "Boraginaceae": (("memory",), "borage, phacelia"),
    "Asparagaceae": (("tx_mclennan", "memory"), "asparagus"),
    "Aizoaceae": (("tx_rockwall", "memory"), "New Zealand spinach"),
    "Basellaceae": (("tx_rockwall", "memory"), "Malabar spinach"),
    "Caprifoliaceae": (("memory",), "corn salad"),
}
FAMILY_ROWS = [
    (word.strip(), family, src) for family, (src, words) in FAMILY_LISTS.items() for word in words.split(",")
]

# Host-free years once a disease was seen: least, longer number of the source (None: no number, or no
# longer one).
DISEASE_YEARS: list[tuple[str, int | None, int | None, tuple[str, ...]]] = [
    ("clubroot", 7, None, ("uconn_rot", "uconn_clubroot")),
    ("black_rot_crucifers", 2, 3, ("ucipm_blackrot", "uconn_rot")),
    ("blackleg_crucifers", 3, 4, ("uconn_rot",)),
    ("fusarium_yellows_cabbage", None, None, ("uconn_rot", "ucipm_yellows")),
    ("allium_white_rot", 20, None, ("ucipm_whiterot", "ucipm_whiterot_g")),
    ("fusarium_basal_rot", 3, 4, ("usu_basal", "ucipm_basal", "pnw_basal")),
    ("onion_pink_root", 3, 6, ("ucipm_pinkroot",)),
    ("onion_downy_mildew", 3, 3, ("wisc_oniondm",)),
    ("purple_blotch", 3, 4, ("wisc_purple",)),
    ("verticillium_wilt", 4, 8, ("uconn_rot", "pnw_strawvert")),
    ("fusarium_wilt_watermelon", 5, None, ("udel_fon",)),
    ("fusarium_wilt_pea", 4, None, ("pnw_peawilt",)),
    ("fusarium_wilt_spinach", 4, 6, ("pnw_spinfus",)),
    ("aphanomyces_root_rot", 3, 8, ("wsu_aphan", "memory")),
    ("bean_fusarium_root_rot", 3, 6, ("pnw_beanfus", "uconn_rot")),
    ("bean_bacterial_blights", 2, 2, ("uconn_rot",)),
    ("bean_anthracnose", 2, 3, ("uconn_rot", "ucipm_beananth")),
    ("white_mold", 2, 5, ("ucipm_whitemold", "uconn_rot")),
    ("lettuce_drop", 3, 3, ("uconn_rot",)),
    ("early_blight", 3, 4, ("iowa_septoria",)),
    ("septoria_leaf_spot_tomato", 3, 4, ("iowa_septoria",)),
    ("southern_bacterial_wilt", 4, None, ("umd_rsol",)),
    ("phytophthora_blight", 3, 5, ("rutgers_phyto",)),
    ("gummy_stem_blight", 2, 3, ("usu_gummy", "uga_cucurbits")),
    ("angular_leaf_spot_cucurbits", 2, 2, ("uga_cucurbits", "uconn_rot")),
    ("scab_cucurbits", 2, 2, ("uconn_rot",)),
    ("eggplant_fruit_rots", 3, 3, ("uconn_rot",)),
    ("potato_cyst_nematode", 5, 10, ("rhs_pcn",)),
    ("beet_cyst_nematode", 3, 4, ("westerdahl2024",)),
    ("cercospora_leaf_spot_beet", 2, 3, ("umass_cercospora", "uconn_rot")),
    ("carrot_cavity_spot", 3, 4, ("ucipm_cavity_2012", "ucipm_cavity")),
    ("carrot_leaf_blights", 2, 3, ("ucipm_carrotalt", "ucipm_carrotcerc", "uconn_rot")),
    ("celery_late_blight", 1, 3, ("ausveg_celery", "uconn_rot")),
    ("asparagus_fusarium", None, None, ("uconn_rot",)),
    ("corn_yellow_leaf_blight", 3, 3, ("uconn_rot",)),
    ("sweetpotato_black_rot", 4, None, ("ncsu_spblackrot",)),
    ("sweetpotato_scurf", 2, 4, ("pacpests_scurf",)),
    ("strawberry_red_stele", None, None, ("pnw_redstele", "uconn_redstele")),
    ("fusarium_wilt_tomato", 5, 7, ("memory",)),
    ("common_scab", 3, 4, ("memory",)),
]

# Hosts that a source names, and crops that it says are none.
HOSTS: list[tuple[str, str, str, tuple[str, ...]]] = [
    (
        "clubroot",
        "cabbage, broccoli, cauliflower, Brussels sprouts, kale, kohlrabi, turnip, swede, radish, Chinese cabbage",
        "leek, oats, lettuce",
        ("umass_clubroot", "pnw_clubroot", "uconn_clubroot"),
    ),
    (
        "blackleg_crucifers",
        "mizuna, mustard greens, white mustard, rapeseed, collards, radish",
        "beet",
        ("pnw_blackleg",),
    ),
    ("allium_white_rot", "onion, garlic, leek, shallot", "lettuce, carrot, cabbage", ("ucipm_whiterot",)),
    ("fusarium_wilt_tomato", "tomato", "potato, sweet pepper, aubergine", ("ucipm_tomfus", "pnw_tomfus")),
    ("fusarium_wilt_watermelon", "watermelon", "cucumber, pumpkin, cantaloupe", ("edis_fon",)),
    (
        "phytophthora_blight",
        "cucumber, pumpkin, watermelon, sweet pepper, aubergine, tomato, lima bean, snap bean",
        "cabbage, carrot, onion, lettuce",
        ("ncsu_phyto", "cornell_phyto", "rutgers_phyto"),
    ),
    (
        "beet_cyst_nematode",
        "beet, chard, spinach, cabbage, broccoli, kale, turnip, swede, rhubarb",
        "lettuce, tomato, winter squash, bush bean",
        ("cornell_sbcn", "ucd_sbcn"),
    ),
    ("potato_cyst_nematode", "potato, tomato, aubergine", "bush bean, cabbage, onion", ("rhs_pcn",)),
    ("carrot_cavity_spot", "carrot, parsnip, alfalfa", "tomato, sweetcorn, potato, watermelon", ("ucipm_cavity_2012",)),
    (
        "stem_and_bulb_nematode",
        "garlic, onion, leek, chives, celery, parsley, salsify, alfalfa",
        "tomato",
        ("umaine_bloat",),
    ),
    (
        "root_knot_nematode",
        "tomato, sweet pepper, aubergine, potato, cucumber, okra, carrot, beet, lettuce, pea, bush bean, radish",
        "onion, garlic",
        ("ncsu_rkn", "ncsu_rkn_tomato"),
    ),
    ("cercospora_leaf_spot_beet", "beet, chard, spinach", "carrot", ("umass_cercospora",)),
    (
        "bean_bacterial_blights",
        "snap bean, lima bean, runner bean, soybean, mung bean, tepary bean, fenugreek",
        "sweetcorn",
        ("uconn_beanbact",),
    ),
    (
        "verticillium_wilt",
        "tomato, potato, aubergine, sweet pepper, strawberry, raspberry, blackberry, okra, cauliflower, mint",
        "broccoli, sweetcorn, oats",
        ("uconn_rot", "pnw_okravert", "subbarao2007", "pnw_strawvert"),
    ),
    ("strawberry_red_stele", "strawberry", "tomato, potato, sweet pepper", ("umass_redstele",)),
]

# Days to maturity: crop, least, most, counted from, source.
MATURITY: list[tuple[str, int, int, str, str]] = [
    ("tomato", 70, 90, "transplanting", "mu_g6201"),
    ("sweet_pepper", 70, 80, "transplanting", "mu_g6201"),
    ("eggplant", 56, 80, "transplanting", "il_vegguide"),
    ("potato", 90, 120, "planting", "britannica"),
    ("cucumber", 50, 65, "sowing", "il_vegguide"),
    ("zucchini", 45, 55, "sowing", "il_vegguide"),
    ("winter_squash", 80, 100, "sowing", "il_vegguide"),
    ("pumpkin", 100, 120, "sowing", "britannica"),
    ("muskmelon", 80, 90, "planting", "mu_g6201"),
    ("watermelon", 85, 100, "sowing", "britannica"),
    ("bush_bean", 51, 58, "sowing", "il_vegguide"),
    ("lima_bean", 70, 80, "sowing", "il_vegguide"),
    ("pea", 54, 80, "sowing", "il_vegguide"),
    ("sweet_corn", 67, 86, "sowing", "il_vegguide"),
    ("okra", 60, 60, "sowing", "britannica"),
    ("beet", 55, 65, "sowing", "mu_g6201"),
    ("swiss_chard", 50, 60, "sowing", "il_vegguide"),
    ("spinach", 40, 50, "sowing", "mu_g6201"),
    ("head_lettuce", 55, 80, "planting", "mu_g6201"),
    ("cabbage", 70, 80, "transplanting", "mu_g6201"),
    ("broccoli", 70, 80, "transplanting", "mu_g6201"),
    ("cauliflower", 65, 75, "transplanting", "mu_g6201"),
    ("kale", 50, 65, "sowing", "mu_g6201"),
    ("kohlrabi", 55, 65, "sowing", "mu_g6201"),
    ("radish", 22, 28, "sowing", "il_vegguide"),
    ("turnip", 35, 60, "sowing", "il_vegguide"),
    ("carrot", 70, 85, "sowing", "mu_g6201"),
    ("celery", 90, 120, "transplanting", "britannica"),
    ("onion_bulb", 100, 120, "planting", "mu_g6201"),
    ("asparagus", 1095, 1095, "planting", "mu_g6201"),
    ("sweet_potato", 150, 150, "planting", "mu_g6201"),
]


# Feeder classes by crop of the vegetable family table (umd_traunfeld).
FEEDERS: dict[str, str] = {
    "heavy": "tomato, sweet pepper, aubergine, potato, sweetcorn, okra, beetroot, chard, spinach, broccoli, "
    "cauliflower, Brussels sprouts, onion, garlic",
    "medium_heavy": "leaf lettuce, head lettuce, asparagus, rhubarb, horseradish",
    "medium": "cucumber, courgette, winter squash, pumpkin, muskmelon, watermelon, cabbage, kale, collards, turnip, "
    "sweet potato",
    "light_medium": "bush bean, pole bean, lima bean, pea, carrot, leek",
    "light": "radish, mooli",
}
FEEDER_ROWS = [(word.strip(), feeder) for feeder, words in FEEDERS.items() for word in words.split(",")]

# FAO-56 (fao56, Tables 12 and 22): depletion fraction p and crop coefficient at mid-season.
WATER: list[tuple[str, float, float]] = [
    ("tomato", 0.4, 1.15),
    ("potato", 0.35, 1.15),
    ("spinach", 0.2, 1.0),
    ("head_lettuce", 0.3, 1.0),
    ("cabbage", 0.45, 1.05),
    ("carrot", 0.35, 1.05),
    ("onion_bulb", 0.3, 1.05),
    ("sweet_corn", 0.5, 1.15),
    ("celery", 0.2, 1.05),
    ("strawberry", 0.2, 0.85),
    ("sweet_potato", 0.65, 1.15),
    ("asparagus", 0.45, 0.95),
]

# Rooting depth in inches as listed, and the class of its middle: to 18 shallow, to 36 medium, more deep (uc_roots).
ROOT_DEPTHS: list[tuple[str, float, float, str]] = [
    ("tomato", 18, 48, "medium"),
    ("sweet_pepper", 36, 48, "deep"),
    ("onion_bulb", 8, 12, "shallow"),
    ("cabbage", 12, 12, "shallow"),
    ("carrot", 18, 24, "medium"),
    ("parsnip", 48, 48, "deep"),
    ("spinach", 12, 18, "shallow"),
    ("strawberry", 12, 18, "shallow"),
    ("broad_bean", 36, 48, "deep"),
    ("radish", 5, 8, "shallow"),
    ("rhubarb", 36, 48, "deep"),
]

# Between plants of a row and between rows, in inches as printed.
SPACINGS: list[tuple[str, tuple[float, float], tuple[float, float], str]] = [
    ("tomato", (18, 36), (42, 48), "mu_g6201"),
    ("broccoli", (24, 24), (30, 30), "mu_g6201"),
    ("carrot", (3, 3), (18, 18), "mu_g6201"),
    ("swiss_chard", (4, 8), (18, 24), "il_vegguide"),
    ("radish", (1, 1), (12, 18), "il_vegguide"),
    ("winter_squash", (24, 36), (84, 120), "il_vegguide"),
    ("bush_bean", (2, 4), (18, 24), "il_wygg"),
    ("brussels_sprouts", (24, 24), (30, 30), "rhs"),
    ("okra", (12, 15), (24, 36), "chart_uncredited"),
]

# What the crop that is harvested needs, as the pollination circular has it (uga_c934).
POLLINATION: dict[str, str] = {
    "self": "tomato, bush bean, pole bean, lima bean, cowpea, pea",
    "insect": "cucumber, courgette, winter squash, pumpkin, muskmelon, watermelon",
    "wind": "sweetcorn",
}
POLLINATION_ROWS = [(word.strip(), need) for need, words in POLLINATION.items() for word in words.split(",")]


@cache
def knowledge() -> Knowledge:
    return load_knowledge()


def crop_id(word: str) -> str:
    crop = knowledge().find_crop(word.strip())
    assert crop is not None, word
    return crop.id


@pytest.mark.parametrize(("word", "family", "src"), FAMILY_ROWS, ids=[row[0] for row in FAMILY_ROWS])
def test_family_as_published(word: str, family: str, src: tuple[str, ...]) -> None:
    crop = knowledge().find_crop(word)
    assert crop is not None
    assert crop.families == (family,), src


def test_at_least_sixty_families_are_held() -> None:
    assert len({crop_id(word) for word, _, _ in FAMILY_ROWS}) >= 60
    assert len(MATURITY) >= 20


@pytest.mark.parametrize(("disease", "least", "longer", "src"), DISEASE_YEARS, ids=[row[0] for row in DISEASE_YEARS])
def test_disease_years_as_published(disease: str, least: int | None, longer: int | None, src: tuple[str, ...]) -> None:
    fact = knowledge().diseases[disease]
    assert fact.least == least
    # A source without a longer number leaves it at the least.
    assert fact.better == (longer if longer is not None else least)
    assert fact.never == (least is None)
    if src != ("memory",):
        assert set(src) & set(fact.sources["years"])


@pytest.mark.parametrize(("disease", "hosts", "others", "src"), HOSTS, ids=[row[0] for row in HOSTS])
def test_hosts_as_published(disease: str, hosts: str, others: str, src: tuple[str, ...]) -> None:
    known = knowledge().diseases[disease].hosts
    assert [word for word in hosts.split(",") if crop_id(word) not in known] == [], src
    assert [word for word in others.split(",") if crop_id(word) in known] == [], src


@pytest.mark.parametrize(("crop", "least", "most", "counted_from", "src"), MATURITY, ids=[row[0] for row in MATURITY])
def test_days_to_maturity_as_published(crop: str, least: int, most: int, counted_from: str, src: str) -> None:
    fact = knowledge().crops[crop]
    assert fact.maturity is not None
    assert (fact.maturity.least, fact.maturity.most) == (least, most)
    assert fact.maturity.counted_from == counted_from
    assert src in fact.sources["maturity"]


@pytest.mark.parametrize(("word", "feeder"), FEEDER_ROWS, ids=[row[0] for row in FEEDER_ROWS])
def test_feeder_class_as_published(word: str, feeder: str) -> None:
    crop = knowledge().find_crop(word)
    assert crop is not None
    members = [knowledge().crops[key] for key in crop.members] or [crop]
    assert [one.traits.feeder for one in members] == [feeder] * len(members)
    assert {one.sources["feeder"] for one in members} == {("umd_traunfeld",)}


@pytest.mark.parametrize(("crop", "depletion", "kc_mid"), WATER, ids=[row[0] for row in WATER])
def test_water_figures_as_published(crop: str, depletion: float, kc_mid: float) -> None:
    fact = knowledge().crops[crop]
    assert (fact.traits.depletion, fact.traits.kc_mid) == (depletion, kc_mid)
    assert fact.sources["depletion"] == fact.sources["kc_mid"] == ("fao56",)


@pytest.mark.parametrize(("crop", "least", "most", "depth"), ROOT_DEPTHS, ids=[row[0] for row in ROOT_DEPTHS])
def test_root_depth_as_published(crop: str, least: float, most: float, depth: str) -> None:
    fact = knowledge().crops[crop]
    assert fact.traits.root_cm is not None
    assert fact.traits.root_cm == pytest.approx((least * 2.54, most * 2.54), abs=0.26)  # kept to half a centimetre
    assert fact.traits.roots == depth
    assert "uc_roots" in fact.sources["root_cm"]


@pytest.mark.parametrize(("crop", "row", "rows", "src"), SPACINGS, ids=[row[0] for row in SPACINGS])
def test_spacing_as_published(crop: str, row: tuple[float, float], rows: tuple[float, float], src: str) -> None:
    fact = knowledge().crops[crop]
    for name, inches in (("in_row_cm", row), ("between_rows_cm", rows)):
        assert getattr(fact.traits, name) == pytest.approx([inch * 2.54 for inch in inches], abs=0.26)
        assert fact.sources[name] == (src,)


@pytest.mark.parametrize(("word", "need"), POLLINATION_ROWS, ids=[row[0] for row in POLLINATION_ROWS])
def test_pollination_as_published(word: str, need: str) -> None:
    crop = knowledge().crops[crop_id(word)]
    assert crop.traits.pollination == need
    assert crop.sources["pollination"] == ("uga_c934",)


def test_large_headed_cabbages_stand_18_to_20_inches_apart() -> None:
    """Common practice: 18 to 20 in (46 to 51 cm)."""
    spacing = knowledge().crops["large_cabbage"].traits.in_row_cm
    assert spacing is not None
    assert spacing[0] <= 46
    assert spacing[1] >= 51


def test_what_is_grown_for_leaf_or_head_needs_no_pollinator() -> None:
    """Common practice: leafy greens, and brassicas grown for leaf or head."""
    greens = {*knowledge().groups["leafy_green"].members, *knowledge().groups["salad"].members}
    leafy = [
        crop
        for crop in knowledge().crops.values()
        if crop.id in greens or (crop.family == "Brassicaceae" and crop.traits.part in ("leaf", "head"))
    ]
    assert {"kale", "cabbage", "broccoli", "cauliflower", "head_lettuce", "spinach"} <= {crop.id for crop in leafy}
    assert {crop.traits.pollination for crop in leafy} == {"none"}


def test_cited_keys_are_known() -> None:
    cited = {key for *_, src in [*FAMILY_ROWS, *DISEASE_YEARS, *HOSTS] for key in src}
    cited |= {row[-1] for row in MATURITY}
    assert cited - set(knowledge().sources) == set()
