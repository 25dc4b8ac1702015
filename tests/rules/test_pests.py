"""Pests and controls: hosts, words, places and located faults. Who shares what: tests/reference/test_host_pairs.py."""

import re

import pytest
from factfile import FILES, located, place, problems

from rules import load_knowledge
from rules.knowledge.factfiles import read_facts
from rules.knowledge.pestshapes import GROUPS, REGIONS, STEPS, VOCABULARY
from rules.knowledge.shapes import KnowledgeError

KNOWLEDGE = load_knowledge()
PESTS, CONTROLS, CROPS = KNOWLEDGE.pests, KNOWLEDGE.controls, KNOWLEDGE.crops
SLUGS, COPPER = "pests/mollusc.yaml", "controls.yaml"


def test_seventy_pests_and_twenty_four_controls_with_hosts_and_words_that_exist():
    assert (len(PESTS), len(CONTROLS)) == (70, 24)
    for pest in PESTS.values():
        crops = {key for key in pest.hosts if key in CROPS}
        assert crops
        assert pest.hosts - crops <= set(KNOWLEDGE.groups)
        assert pest.preferred <= crops
        assert pest.non_hosts.isdisjoint(pest.hosts)
        assert pest.bridge_crops <= set(CROPS)
        assert pest.group in GROUPS
        for name, words in VOCABULARY.items():
            assert getattr(pest, name) in words or (name == "emerges_same_season" and getattr(pest, name) is None)


def test_every_caution_of_a_pest_or_control_exists_and_defers_to_someone():
    for thing in (*PESTS.values(), *CONTROLS.values()):
        for key in thing.cautions:
            assert KNOWLEDGE.cautions[key].defer_to
    for control in CONTROLS.values():
        if control.kind in ("bait", "spray", "dust", "repel", "release", "avoid") or control.step.startswith("chem"):
            assert control.cautions, control.id


def test_every_control_is_for_pests_that_exist_but_the_one_to_avoid():
    assert [control.id for control in CONTROLS.values() if not control.against] == ["relocation"]
    for control in CONTROLS.values():
        assert control.against <= set(PESTS)
        assert control.against.isdisjoint(control.weak_on)


def test_the_least_harm_comes_first():
    steps = [control.step for control in KNOWLEDGE.controls_of("slugs")]
    assert steps == sorted(steps, key=list(STEPS).index)
    assert (steps[0], steps[-1]) == ("cultural", "chemical_targeted")
    assert "iron_phosphate_bait" not in [control.id for control in KNOWLEDGE.controls_of("pillbugs_sowbugs")]


def test_group_words_are_hosts_when_all_members_are_and_possible_when_some_are():
    beetle = PESTS["colorado_potato_beetle"]
    assert "pepper" in beetle.hosts
    assert "nightshade" in beetle.possible  # tomatillo is not on its list
    assert "brassica" not in beetle.hosts | beetle.possible


@pytest.mark.parametrize(
    ("pest", "country", "lives"),
    [
        ("colorado_potato_beetle", "GB", False),
        ("colorado_potato_beetle", "FR", True),
        ("striped_cucumber_beetle", "US-MN", True),
        ("striped_cucumber_beetle", "DE", False),
        ("swede_midge", "CA", True),
        ("swede_midge", "AU", False),
        ("slugs", "NZ", True),
        ("squash_bug", None, True),
    ],
)
def test_where_a_pest_lives(pest, country, lives):
    assert PESTS[pest].lives_in(country) is lives


def test_regions_are_country_codes_each_once():
    for name, codes in REGIONS.values():
        assert name
        assert all(re.fullmatch("[A-Z]{2}", code) for code in codes.split())
        assert len(codes.split()) == len(set(codes.split()))


def test_the_nematode_is_found_as_pest_and_as_disease():
    assert KNOWLEDGE.find_pest("root-knot nematodes") is PESTS["root_knot_nematodes"]
    assert KNOWLEDGE.find_trouble("root-knot nematodes") is KNOWLEDGE.diseases["root_knot_nematode"]


FAULTS = {
    "unknown host": (
        SLUGS,
        "{crops: [kale], p",
        "{crops: [kael], p",
        "kael",
        "unknown crop 'kael'; did you mean 'kale'?",
    ),
    "unknown word": (
        SLUGS,
        "soil_anywhere",
        "soil_anyware",
        "soil_anyware",
        "did you mean 'soil_anywhere'?",
    ),
    "preferred but no host": (SLUGS, "preferred: [kale]", "preferred: [radish]", "[radish], w", "not among the hosts"),
    "host and not a host": (SLUGS, "{crops: [mint]", "{crops: [kale]", "{crops: [kale], s", "both a host and not"),
    "unknown bridge": (SLUGS, "{crops: [radish]", "{crops: [raddish]", "raddish", "did you mean 'radish'?"),
    "mesh that is no width": (SLUGS, "max_mesh_mm: 1.5", "max_mesh_mm: 0", "0\n", "a width in millimetres"),
    "unknown group": (SLUGS, "mollusc", "molusc", "molusc", "did you mean 'mollusc'?"),
    "no such place": (SLUGS, "[europe, US]", "[europa, US]", "europa", "neither a region"),
    "unknown caution of a pest": (SLUGS, "[lime_handling]", "[lime]", "lime]", "unknown caution 'lime'"),
    "value without its source": (
        SLUGS,
        "      season: [memory]\n",
        "",
        "name: [memory]",
        "the source of 'season' is missing",
    ),
    "source without its value": (
        SLUGS,
        "      season: [memory]\n",
        "      season: [memory]\n      carries: [memory]\n",
        "[memory]\n      susceptible",
        "'carries' has a source but no value",
    ),
    "unknown source of hosts": (SLUGS, "wide: true, src: [memory]", "wide: true, src: [memry]", "[memry]", "'memory'?"),
    "unknown pest of a control": (COPPER, "[slugs]", "[slogs]", "slogs", "unknown pest 'slogs'; did you mean 'slugs'?"),
    "control for nothing": (
        COPPER,
        "    against: {pests: [slugs], src: [memory]}\n",
        "",
        "name: copper",
        "give the pests it is for",
    ),
    "for and weak on": (
        COPPER,
        "    when:",
        "    weak_on: {groups: [mollusc], src: [memory]}\n    when:",
        "{groups",
        "'slugs' is among those it is for",
    ),
    "unknown caution of a control": (COPPER, "[lime_handling]", "[lime]", "lime]", "unknown caution 'lime'"),
    "unknown step": (COPPER, "physical", "fysical", "fysical", "did you mean 'physical'?"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_told_with_its_place(fault):
    file, old, new, mark, message = FAULTS[fault]
    found, text = problems(file, old, new)
    assert [p.where for p in found if message in p.message] == [place(file, text, mark)]


def test_a_pest_in_two_files_is_told():
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{"pests/other.yaml": FILES[SLUGS]}))
    assert "the pest 'slugs' stands in two files" in str(caught.value)
