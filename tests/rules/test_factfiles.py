"""Every kind of fault in a fact file is told with its place and the nearest known word."""

from dataclasses import replace

import pytest
from factfile import BRASSICAS, FILES, MINTS, located, place, problems
from factfile_faults import FAULTS

from rules.knowledge.factfiles import read_facts
from rules.knowledge.orphans import orphans
from rules.knowledge.shapes import KnowledgeError
from rules.knowledge.yamlfile import load


def test_the_small_set_of_files_is_right():
    facts = read_facts(located())
    assert set(facts.crops) == {"kale", "radish", "mint", "fallow"}
    assert facts.crops["kale"].stands == "winter_end"
    assert facts.crops["kale"].maturity.most == 65
    assert facts.groups["brassica"].family == "Brassicaceae"
    assert facts.groups["brassica"].stands == "winter_end"
    assert facts.groups["brassica"].lifecycle == "annual"
    assert facts.diseases["clubroot"].hosts == {"kale"}
    assert facts.diseases["clubroot"].possible == {"brassica"}
    assert facts.diseases["clubroot"].carriers == {"mint"}
    assert facts.families["Lamiaceae"].least is None
    assert facts.losses == {"frost": "frost"}
    assert facts.sources["iowa_rotation"].year == "2019"
    assert facts.crops["kale"].sources == {"name": ("memory",)}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_has_its_place_and_the_nearest_word(fault):
    file, old, new, mark, words = FAULTS[fault]
    found, text = problems(file, old, new)
    told = [p for p in found if words in p.message]
    assert told, [str(p) for p in found]
    assert place(file, text, mark) in [p.where for p in told]


def test_one_fault_gives_one_problem():
    for fault in (
        "unknown source of a crop",
        "perennial with stands_days",
        "maturity turned round",
        "unknown member",
        "years both ways",
    ):
        file, old, new, *_ = FAULTS[fault]
        found, _ = problems(file, old, new)
        assert len(found) <= 2, fault


def test_all_faults_of_all_files_are_told_at_once():
    changed = {
        BRASSICAS: FILES[BRASSICAS].replace("stands_days: 14", "stands_days: 999"),
        "diseases.yaml": FILES["diseases.yaml"].replace("lime_handling", "lyme"),
        "groups.yaml": FILES["groups.yaml"].replace("[memory]", "[nobody]"),
    }
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**changed))
    assert {p.where.split(":")[0] for p in caught.value.problems} == set(changed)
    assert str(caught.value).count("\n") == len(caught.value.problems) - 1


def test_a_crop_in_two_files_is_told():
    more = FILES[MINTS].replace("mint", "kale")
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{MINTS: more}))
    assert "the crop 'kale' stands in two files" in str(caught.value)


def test_a_file_that_is_no_map_is_told_not_thrown():
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{MINTS: "- mint\n"}))
    assert "crops/lamiaceae.yaml:1:1" in {p.where for p in caught.value.problems}


def test_a_source_key_that_is_no_word_is_told_not_thrown():
    found, text = problems(MINTS, "src: {name: [memory]}", "src: {name: [7]}")
    assert place(MINTS, text, "[7]") in [p.where for p in found]


def test_a_pest_that_is_a_disease_too_is_found_as_the_disease():
    nematodes = FILES["pests/mollusc.yaml"] + FILES["pests/mollusc.yaml"].removeprefix("pests:\n").replace(
        "slugs", "eelworm"
    ).replace("[slug]", "[club-root]").replace("mollusc", "nematode")
    facts = read_facts(located(**{"pests/mollusc.yaml": nematodes}))
    assert facts.trouble_names.find("club root") is facts.diseases["clubroot"]
    assert facts.trouble_names.find("eelworm") is facts.pests["eelworm"]


def test_what_nothing_names_is_told_with_its_place():
    facts = read_facts({name: load(text, name) for name, text in FILES.items()})
    lonely = load("sources:\n  nobody_1: {publisher: a, title: b}\n", "sources.yaml")
    left = orphans(replace(facts, sources={"nobody_1": None}, cautions={}), {}, lonely, load("cautions: {}", "c.yaml"))
    assert [str(problem) for problem in left] == [
        "sources.yaml:2:13: the source 'nobody_1' is cited nowhere; remove it"
    ]
