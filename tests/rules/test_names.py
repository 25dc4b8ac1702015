"""From the words growers write to one known thing."""

import pytest

from rules import load_knowledge
from rules.knowledge.names import Names, normal, singulars

KNOWLEDGE = load_knowledge()


@pytest.mark.parametrize(
    ("word", "plain"),
    [
        ("Brussels-Sprouts", "brussels sprouts"),
        ("  spring \t onion ", "spring onion"),
        ("onion_sets", "onion sets"),
        ("lamb's lettuce", "lambs lettuce"),
        ("lamb’s lettuce", "lambs lettuce"),
        ("STRASSE", "strasse"),
        ("Straße", "strasse"),
        ("", ""),
    ],
)
def test_words_are_looked_up_in_plain_form(word, plain):
    assert normal(word) == plain


@pytest.mark.parametrize(
    ("word", "single"),
    [
        ("carrots", "carrot"),
        ("tomatoes", "tomato"),
        ("berries", "berry"),
        ("radishes", "radish"),
        ("peaches", "peach"),
    ],
)
def test_regular_plurals_lead_back(word, single):
    assert single in set(singulars(word))


@pytest.mark.parametrize("word", ["as", "pes", "s", "ies", ""])
def test_short_words_are_not_cut(word):
    assert list(singulars(word)) == []


@pytest.mark.parametrize(
    ("word", "crop"),
    [
        ("cabbage", "cabbage"),
        ("Cabbages", "cabbage"),
        ("CABBAGE", "cabbage"),
        ("white cabbage", "cabbage"),
        ("tomatoes", "tomato"),
        ("aubergine", "eggplant"),
        ("egg plants", "eggplant"),
        ("onion_sets", "onion_sets"),
        ("onion set", "onion_sets"),
        ("onion", "onion"),
        ("Onions", "onion"),
        ("peppers", "pepper"),
        ("empty", "fallow"),
        ("bare-soil", "fallow"),
        ("leaves", None),
        ("cab", None),
        ("", None),
    ],
)
def test_crops_are_found_in_any_case_and_number(word, crop):
    found = KNOWLEDGE.find_crop(word)
    assert (found and found.id) == crop


def test_every_crop_and_group_is_found_by_each_of_its_names():
    for thing in [*KNOWLEDGE.crops.values(), *KNOWLEDGE.groups.values()]:
        for word in (thing.id, thing.name, thing.plural, *thing.aliases):
            for written in (word, word.upper(), word.replace(" ", "-"), f" {word} "):
                assert KNOWLEDGE.find_crop(written) is thing, written


def test_every_disease_is_found_by_each_of_its_names():
    for disease in KNOWLEDGE.diseases.values():
        for word in (disease.id, disease.name, *disease.aliases):
            assert KNOWLEDGE.find_trouble(word) is disease, word


def test_every_pest_is_found_by_each_of_its_names_or_as_the_disease_it_is_too():
    for pest in KNOWLEDGE.pests.values():
        for word in (pest.id, pest.name, *pest.aliases):
            found = KNOWLEDGE.find_trouble(word)
            assert found is pest or (found.id in KNOWLEDGE.diseases and pest.group == "nematode"), word


def test_a_name_belongs_to_one_thing_only():
    names = Names()
    leek, garlic = object(), object()
    assert names.add(leek, ["leek", "Leeks"]) == []
    assert names.add(garlic, ["garlic", "LEEK"]) == [("LEEK", leek)]
    assert names.find("leek") is leek
    assert names.add(leek, ["leek"]) == []


def test_an_exact_name_wins_over_a_plural():
    names = Names()
    names.add("one", ["chive"])
    names.add("many", ["chives"])
    assert names.find("chives") == "many"
    assert names.find("chive") == "one"


@pytest.mark.parametrize(
    ("word", "near"), [("cabage", "cabbage"), ("tomatto", "tomato"), ("brocoli", "broccoli"), ("parsnep", "parsnip")]
)
def test_the_nearest_names_come_first(word, near):
    close = KNOWLEDGE.nearest(word)
    assert close[0] == near
    assert len(close) <= 3


def test_suggestions_name_each_thing_once():
    names = Names()
    names.add("one", ["runner bean", "runner beans", "runner-bean"])
    names.add("two", ["runner beet"])
    assert names.nearest("runer bean", 3) == ["runner bean", "runner beet"]


def test_nothing_near_gives_no_suggestion():
    assert KNOWLEDGE.nearest("zzzzqqqq") == []


def test_names_that_contain_a_word_come_in_order_and_once():
    names = Names()
    names.add("one", ["bush bean", "dwarf bean"])
    names.add("two", ["pea"])
    names.add("three", ["runner bean"])
    assert names.matching("Bean") == ["one", "three"]
    assert names.matching("maize") == []


@pytest.mark.parametrize(
    ("word", "family"),
    [
        ("Brassicaceae", "Brassicaceae"),
        ("cabbage family", "Brassicaceae"),
        ("Cruciferae", "Brassicaceae"),
        ("Alliaceae", "Amaryllidaceae"),
        ("oxalidaceae", "Oxalidaceae"),
        ("OXALIDACEAE", "Oxalidaceae"),
        ("cabbage", None),
        ("", None),
        ("x-aceae", None),
    ],
)
def test_families_by_any_name(word, family):
    assert KNOWLEDGE.find_family(word) == family
