"""Which two crops share a pest and which do not, by species, with the source that says so beside each.

In a row that is shared both crops are hosts; in one that is not the first is a host and the
second is not, although growers may fear for it.
"""

from __future__ import annotations

import pytest

from rules import build_plan, load_knowledge
from rules.checks.context import Context
from rules.checks.hostgroups import Shared
from rules.knowledge.facts import UNPUBLISHED
from tests.rules.tiny_plans import TODAY, document, grew

KNOWLEDGE = load_knowledge()
PESTS = KNOWLEDGE.pests

#: pest, crop, crop, shared or not, and the keys of the sources that say so.
HOST_PAIRS: list[tuple[str, str, str, bool, tuple[str, ...]]] = [
    ("crucifer_flea_beetle", "radish", "cabbage", True, ("UMASS_FB",)),
    ("crucifer_flea_beetle", "arugula", "cabbage", True, ("UMASS_FB",)),
    ("crucifer_flea_beetle", "radish", "eggplant", False, ("UMASS_FB",)),
    ("crucifer_flea_beetle", "cabbage", "tomato", False, ("UMASS_FB",)),
    ("crucifer_flea_beetle", "arugula", "spinach", False, ("UMASS_FB",)),
    ("eggplant_flea_beetle", "eggplant", "potato", True, ("VT_EFB",)),
    ("eggplant_flea_beetle", "eggplant", "radish", False, ("VT_EFB", "UMASS_BEATFB")),
    ("eggplant_flea_beetle", "potato", "cabbage", False, ("VT_EFB", "UMASS_BEATFB")),
    ("potato_flea_beetle", "potato", "tomato", True, ("WISC_FB",)),
    ("potato_flea_beetle", "potato", "kale", False, ("WISC_FB", "UMASS_FB")),
    ("spinach_flea_beetle", "beet", "spinach", True, ("WISC_FB",)),
    ("spinach_flea_beetle", "beet", "cabbage", False, ("WISC_FB", "UMASS_FB")),
    ("corn_flea_beetle", "sweet_corn", "broccoli", False, ("NEVMG_RC", "UMASS_FB")),
    ("cabbage_aphid", "kale", "cabbage", True, ("UF_EENY577",)),
    ("cabbage_aphid", "kale", "head_lettuce", False, ("UF_EENY577", "VPH_CABAPHID")),
    ("cabbage_aphid", "kale", "potato", False, ("UF_EENY577", "VPH_CABAPHID")),
    ("cabbage_whitefly", "kale", "cabbage", True, ("RHS_CWF",)),
    ("cabbage_whitefly", "kale", "tomato", False, ("RHS_CWF",)),
    ("greenhouse_whitefly", "tomato", "cucumber", True, ("UCIPM_WF",)),
    ("greenhouse_whitefly", "tomato", "kale", False, ("UCIPM_WF", "RHS_CWF")),
    ("onion_maggot", "onion_bulb", "leek", True, ("VPH_OM", "PURDUE_MAG")),
    ("onion_maggot", "onion_bulb", "radish", False, ("VPH_OM",)),
    ("onion_maggot", "leek", "cabbage", False, ("PURDUE_MAG",)),
    ("allium_leafminer", "leek", "chives", True, ("CORNELL_ALM", "PSU_ALM")),
    ("allium_leafminer", "leek", "spinach", False, ("CORNELL_ALM",)),
    ("leek_moth", "garlic", "leek", True, ("CCE_LEEK2010",)),
    ("leek_moth", "garlic", "broccoli", False, ("CCE_LEEK2010", "CCE_LEEKMOTH")),
    ("carrot_rust_fly", "parsnip", "celery", True, ("UCIPM_CRF", "PNW_CRF")),
    ("carrot_rust_fly", "carrot", "parsnip", True, ("UCIPM_CRF",)),
    ("carrot_weevil", "parsley", "carrot", True, ("OMAFRA_CW",)),
    ("beet_leafminer", "swiss_chard", "beet", True, ("UMASS_LM",)),
    ("spinach_leafminer", "beet", "spinach", True, ("UMD_LM",)),
    ("colorado_potato_beetle", "eggplant", "potato", True, ("UTK_CPB",)),
    ("colorado_potato_beetle", "potato", "tomato", True, ("UTK_CPB",)),
    ("colorado_potato_beetle", "potato", "sweet_potato", False, ("UTK_CPB",)),
    ("colorado_potato_beetle", "eggplant", "bush_bean", False, ("UTK_CPB",)),
    ("striped_cucumber_beetle", "zucchini", "cucumber", True, ("UMN_CUCB",)),
    ("squash_vine_borer", "zucchini", "pumpkin", True, ("VT_SVB",)),
    ("squash_vine_borer", "zucchini", "cucumber", False, ("VT_SVB",)),
    ("squash_bug", "pumpkin", "zucchini", True, ("UCIPM_SB",)),
    ("squash_bug", "pumpkin", "tomato", False, ("UCIPM_SB",)),
    ("mexican_bean_beetle", "bush_bean", "lima_bean", True, ("UIUC_MBB",)),
    ("cabbage_root_maggot", "radish", "carrot", False, ("UNH_CABMAG", "PURDUE_MAG")),
    ("harlequin_bug", "collards", "turnip", True, ("KSTATE_HB",)),
    ("slugs", "head_lettuce", "basil", True, ("UCIPM_SNAIL",)),
]


def shared(one: str, other: str) -> set[str]:
    """Ids of the pests that two crops share, by the way that a check of a plan asks."""
    rows = [grew("a", one, "2027-04-01", "2027-09-01"), grew("a", other, "2027-04-01", "2027-09-01")]
    plan = build_plan(document(*rows), KNOWLEDGE, as_of=TODAY, season="2027")
    first, second = plan.plantings
    return {pest.id for pest in Shared(Context(plan, KNOWLEDGE), PESTS.values()).between(first, second)}


@pytest.mark.parametrize(("pest", "one", "other", "is_shared", "sources"), HOST_PAIRS)
def test_two_crops_share_a_pest_or_do_not(
    pest: str, one: str, other: str, is_shared: bool, sources: tuple[str, ...]
) -> None:
    facts = PESTS[pest]
    assert one in facts.hosts
    assert (pest in shared(one, other)) is is_shared
    assert (other in facts.non_hosts) is not is_shared
    said = {*facts.sources["hosts"], *(() if is_shared else facts.sources["non_hosts"])}
    assert set(sources) <= said - UNPUBLISHED
    assert set(sources) & set(facts.sources["hosts" if is_shared else "non_hosts"])


def test_there_are_pairs_enough_of_both_sorts_each_once() -> None:
    assert len(HOST_PAIRS) >= 40
    assert len({(pest, frozenset({one, other})) for pest, one, other, *_ in HOST_PAIRS}) == len(HOST_PAIRS)
    assert min(sum(row[3] is sort for row in HOST_PAIRS) for sort in (True, False)) >= 18


# Facts of the trade: no page was read for these, growers know them (common practice).
FLEA_BEETLES = {pest.id for pest in PESTS.values() if pest.id.endswith("flea_beetle")}


@pytest.mark.parametrize("brassica", ["cabbage", "kale", "radish", "arugula", "turnip"])
def test_brassicas_and_aubergines_both_meet_flea_beetles_of_different_species(brassica: str) -> None:
    theirs = {pest for pest in FLEA_BEETLES if brassica in PESTS[pest].hosts}
    aubergines = {pest for pest in FLEA_BEETLES if "eggplant" in PESTS[pest].hosts}
    assert theirs
    assert aubergines
    assert shared(brassica, "eggplant").isdisjoint(FLEA_BEETLES)


def test_woodlice_cut_seedlings_as_they_emerge_and_leave_established_plants() -> None:
    woodlice = KNOWLEDGE.find_pest("woodlice")
    assert woodlice is not None
    assert "bush_bean" in woodlice.hosts
    stage = woodlice.susceptible_stage
    assert stage.startswith("seedlings as they break the ground")
    assert not any(word in stage for word in ("established", "any size", "fruit", "until"))


def test_onions_do_not_keep_woodlice_away() -> None:
    for rule in KNOWLEDGE.rules.values():
        if rule.kind == "pair" and rule.points > 0:
            assert "pillbugs_sowbugs" not in rule.compiled.pests
