"""Traits of crops: what the loader refuses, what a group word shares, and how they are told."""

from functools import cache
from importlib.resources import files as package_files

import pytest

from rules import load_knowledge
from rules.knowledge.compiled import texts_below
from rules.knowledge.factfiles import Facts, read_facts
from rules.knowledge.facts import Crop, Traits
from rules.knowledge.shapes import KnowledgeError
from rules.knowledge.traits import FEEDERS, FIELDS, FIGURES, HEIGHTS, PARTS, POLLINATION, RANGES, ROOTS, shared
from rules.knowledge.yamlfile import load
from service.traittext import span, trait_lines

FILE = "crops/boraginaceae.yaml"
OURS = """\
family: Boraginaceae
crops:
  borage:
    name: borage
    plural: borage
    kind: herb
    lifecycle: annual
    maturity: {days: [50, 60], from: sowing}
    stands_days: first_frost
    traits: {
      height: medium, habit: upright, roots: deep, root_cm: [30, 90.5], feeder: light,
      fixes_nitrogen: false, pollination: insect, in_row_cm: [30, 45], each_way_cm: [30, 30],
      depletion: 0.5, kc_mid: 1.05, part: flower, soil_contact: false, small_seed: true,
      src: {
        height: [memory], habit: [memory], roots: [uc_roots], root_cm: [uc_roots], feeder: [memory],
        fixes_nitrogen: [memory], pollination: [memory], in_row_cm: [memory], each_way_cm: [memory],
        depletion: [fao56], kc_mid: [fao56], part: [memory], soil_contact: [judgement],
        small_seed: [judgement]}}
    src: {name: [memory]}
  phacelia:
    name: phacelia
    plural: phacelia
    kind: flower
    lifecycle: annual
    maturity: {days: [50, 60], from: sowing}
    stands_days: first_frost
    src: {name: [memory]}
"""


@cache
def own_files():
    texts = texts_below(package_files("rules") / "facts", ".yaml")
    return {name: load(text, name, trusted=True) for name, text in texts.items()}


def read(text: str) -> Facts:
    return read_facts({**own_files(), FILE: load(text, FILE)})


def test_traits_are_read_with_their_sources() -> None:
    facts = read(OURS)
    borage = facts.crops["borage"]
    assert borage.traits == Traits(
        "medium", "upright", "deep", (30, 90.5), "light", False, "insect", (30, 45), None, (30, 30), 0.5, 1.05,
        "flower", False, True,
    )  # fmt: skip
    assert borage.sources["root_cm"] == ("uc_roots",)
    assert borage.sources["name"] == ("memory",)
    assert facts.crops["phacelia"].traits == Traits()


FAULTS = {
    "height": ("height: medium", "height: mediun", "did you mean 'medium'?"),
    "roots": ("roots: deep,", "roots: deeep,", "did you mean 'deep'?"),
    "feeder": ("feeder: light,", "feeder: light-medium,", "did you mean 'light_medium'?"),
    "pollination": ("pollination: insect", "pollination: insects", "did you mean 'insect'?"),
    "part": ("part: flower", "part: flowers", "did you mean 'flower'?"),
    "unknown trait": ("feeder: light,", "feder: light,", "unknown key 'feder'; did you mean 'feeder'?"),
    "a word for yes": ("soil_contact: false", "soil_contact: no", "yes/no is needed, not 'no'"),
    "range turned round": ("in_row_cm: [30, 45]", "in_row_cm: [45, 30]", "the smaller first"),
    "range of one": ("in_row_cm: [30, 45]", "in_row_cm: [30]", "two numbers of cm"),
    "range of words": ("in_row_cm: [30, 45]", "in_row_cm: [30, wide]", "two numbers of cm"),
    "range in mm": ("root_cm: [30, 90.5]", "root_cm: [300, 905]", "up to 500"),
    "no range": ("in_row_cm: [30, 45]", "in_row_cm: 30", "two numbers of cm"),
    "share in percent": ("depletion: 0.5", "depletion: 50", "a figure from 0.05 to 0.95"),
    "crop coefficient": ("kc_mid: 1.05", "kc_mid: 105", "a figure from 0.1 to 1.6"),
    "fixer that fixes none": ("feeder: light,", "feeder: fixer,", "set fixes_nitrogen: true"),
    "no source": (" height: [memory],", "", "src does not name the source of height"),
    "source of nothing": ("      depletion: 0.5, kc", "      kc", "which is not given here"),
    "unknown source": ("roots: [uc_roots]", "roots: [uc_rots]", "did you mean 'uc_roots'?"),
    "empty sources": ("roots: [uc_roots]", "roots: []", "a list of source keys is needed"),
    "no src": ("src: {\n        height", "sources: {\n        height", "the key 'src' is missing"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_wrong_trait_is_refused_with_its_place(fault: str) -> None:
    old, new, words = FAULTS[fault]
    assert OURS.count(old) == 1
    text = OURS.replace(old, new)
    with pytest.raises(KnowledgeError) as caught:
        read(text)
    told = [one for one in caught.value.problems if words in one.message]
    assert told, [str(one) for one in caught.value.problems]
    line = int(told[0].where.split(":")[1])
    assert told[0].where.startswith(FILE)
    assert text.count("\n", 0, text.index("traits:")) < line <= text.count("\n", 0, text.index("  phacelia:"))


def crop(**traits) -> Crop:
    return Crop("x", "x", "x", "", "vegetable", traits=Traits(**traits))


def test_a_group_shares_equal_words_and_the_envelope_of_ranges() -> None:
    low = crop(height="low", feeder="light", in_row_cm=(10, 20), depletion=0.3, fixes_nitrogen=False)
    tall = crop(height="tall", feeder="light", in_row_cm=(15, 45), depletion=0.3, fixes_nitrogen=False)
    assert shared([low, tall]) == Traits(feeder="light", in_row_cm=(10, 45), depletion=0.3, fixes_nitrogen=False)
    assert shared([low, crop(feeder="light")]) == Traits(feeder="light")
    assert shared([]) == Traits()


def test_group_words_of_the_catalogue() -> None:
    knowledge = load_knowledge()
    onions = knowledge.groups["onion"].traits
    assert (onions.feeder, onions.part, onions.small_seed) == ("heavy", "bulb", None)
    assert knowledge.groups["onion"].sources["traits"] == ("derived",)
    assert knowledge.groups["squash"].traits.in_row_cm == (45.5, 91.5)
    assert knowledge.groups["clover"].traits.fixes_nitrogen is True


def test_every_crop_of_the_catalogue_is_known_well_enough() -> None:
    knowledge = load_knowledge()
    words = {"height": HEIGHTS, "roots": ROOTS, "feeder": FEEDERS, "pollination": POLLINATION, "part": PARTS}
    for one in knowledge.crops.values():
        if one.id == "fallow":
            continue
        for name in ("height", "habit", "fixes_nitrogen", "pollination", "part"):
            assert getattr(one.traits, name) is not None, (one.id, name)
        for name, known in words.items():
            assert getattr(one.traits, name) in (*known, None), (one.id, name)
        if one.traits.part != "none":
            assert one.traits.soil_contact is not None, one.id
            assert one.traits.small_seed is not None, one.id
        assert {name for name in FIELDS if getattr(one.traits, name) is not None} <= set(one.sources), one.id
        if one.traits.fixes_nitrogen:
            assert one.family == "Fabaceae", one.id
    assert sum(one.traits.in_row_cm is not None for one in knowledge.crops.values()) >= 100
    assert set(RANGES) | set(FIGURES) <= set(FIELDS)


def test_only_legumes_fix_nitrogen_and_all_of_ours_do() -> None:
    crops = load_knowledge().crops.values()
    assert {one.id for one in crops if one.family == "Fabaceae"} == {
        one.id for one in crops if one.traits.fixes_nitrogen
    }


def test_traits_are_told_in_words() -> None:
    told = dict(trait_lines(load_knowledge().crops["broad_bean"].traits))
    assert told["roots"] == "deep, 90 to 120 cm"
    assert told["feeding"] == "light to medium; fixes nitrogen"
    assert told["spacing"] == "10 to 20 cm in the row, 45 to 75 cm between rows"
    assert told["pollination"] == "by insects"
    assert told["harvest"] == "seed, clear of the soil"
    clover = dict(trait_lines(load_knowledge().crops["white_clover"].traits))
    assert clover["feeding"] == "grown for the nitrogen that it fixes"
    assert not {"pollination", "harvest"} & set(clover)
    assert list(trait_lines(Traits())) == []
    assert dict(trait_lines(Traits(depletion=0.35)))["water"].startswith("water again before 35%")


@pytest.mark.parametrize(
    ("cm", "said"),
    [
        ((45.5, 61), "45 to 60 cm"),
        ((2.5, 2.5), "2.5 cm"),
        ((18, 23), "18 to 25 cm"),
        ((20, 20.5), "20 cm"),
        ((1, 122), "1 to 120 cm"),
    ],
)
def test_distances_are_rounded_as_people_say_them(cm: tuple[float, float], said: str) -> None:
    assert span(cm) == said
