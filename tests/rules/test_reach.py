"""How far pests get: every word for mobility has its metres and their source, and faults are told."""

import pytest
from factfile import FILES, located, place, problems

from rules import load_knowledge
from rules.knowledge.factfiles import read_facts
from rules.knowledge.pestshapes import MOBILITY
from rules.knowledge.shapes import KnowledgeError

REACH = load_knowledge().reach


def test_every_word_for_mobility_has_metres_and_a_source():
    assert list(REACH) == list(MOBILITY)
    for reach in REACH.values():
        assert reach.metres >= 0
        assert reach.basis
        assert reach.sources


@pytest.mark.parametrize(
    ("word", "metres", "source"),
    [
        ("walks_then_flies", 1500, "BOITEAU2008"),
        ("short_flight", 200, "CCE_LEEKMOTH"),
        ("weak_flight", 900, "CORNELL_SM"),
    ],
)
def test_published_figures_stand_as_published(word, metres, source):
    assert REACH[word].metres == metres
    assert REACH[word].sources == (source,)


def test_what_has_no_published_figure_says_so():
    for word in set(MOBILITY) - {"walks_then_flies", "short_flight", "weak_flight"}:
        assert set(REACH[word].sources) & {"judgement", "memory"}, word


def test_who_moves_more_gets_farther():
    order = ["soil_bound", "crawls", "crawls_and_wind", "short_flight", "weak_flight", "strong_flight"]
    metres = [REACH[word].metres for word in [*order, "strong_flight_long_distance"]]
    assert metres == sorted(set(metres))


VALUES = "{metres: 5, basis: ours, src: [memory]}"
CRAWLS = f"  crawls: {VALUES}\n"
FAULTS = {
    "unknown word": (
        CRAWLS,
        f"{CRAWLS}  crawlz: {VALUES}\n",
        f"{VALUES}\n  crawls_at_night",
        "unknown word for mobility 'crawlz'; did you mean 'crawls'?",
    ),
    "missing word": (CRAWLS, "", "soil_bound", "the reach of 'crawls' is missing"),
    "below nothing": (CRAWLS, CRAWLS.replace("5", "-5"), "-5", "metres (0 or more) are needed"),
    "no source": (CRAWLS, CRAWLS.replace(", src: [memory]", ""), "{metres: 5, basis: ours}", "'src' is missing"),
    "unknown source": (CRAWLS, CRAWLS.replace("memory", "memry"), "[memry]", "unknown source 'memry'"),
    "no number": (CRAWLS, CRAWLS.replace("5", "far"), "far", "number is needed"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_told_with_its_place(fault):
    old, new, mark, message = FAULTS[fault]
    found, text = problems("reach.yaml", old, new)
    assert [p.where for p in found] == [place("reach.yaml", text, mark)]
    assert message in found[0].message


def test_a_file_without_the_table_is_told():
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{"reach.yaml": "reaches: {}\n"}))
    assert "the key 'reach' is missing" in str(caught.value)
    assert FILES["reach.yaml"].count("metres") == len(MOBILITY)
