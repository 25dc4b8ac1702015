"""Published rotations as baselines: they hold before our check, and a proposal does no worse by it."""

from dataclasses import replace

import pytest
from invented import KNOWLEDGE, breaches
from proposals import lines
from proposals import published as compared
from published import EIGHT, FOUR

from rules import check
from rules.planning.propose import propose
from rules.planning.propose.judging import joined


def cautions(report):
    return sum(f.severity == "caution" for f in report.findings)


@pytest.mark.parametrize(("rotation", "years"), [(FOUR, 4), (EIGHT, 4)], ids=["four", "eight"])
def test_a_proposal_is_no_worse_than_the_published_rotation(rotation, years):
    garden = replace(rotation.garden(), judge=rotation.window(years), judged_season=None)
    published = check(joined(garden, rotation.plantings(years)), KNOWLEDGE)
    assert not breaches(published)
    found = propose(rotation.wishes(years), rotation.garden(), KNOWLEDGE, seconds=3.0)
    assert not found.unplaced
    assert not breaches(found.report)
    assert cautions(found.report) <= cautions(published)


def test_the_eight_year_rotation_holds_for_eight_years():
    garden = replace(EIGHT.garden(), judge=EIGHT.window(8), judged_season=None)
    report = check(joined(garden, EIGHT.plantings(8)), KNOWLEDGE)
    assert not breaches(report)


def test_the_bench_compares_all_ways_by_the_same_check():
    told = list(compared(FOUR, 2, 0.5))
    assert [row[1].split()[0] for row in told] == ["published", "greedy", "flow", "HiGHS,"]
    assert all(row[3] == "0" for row in told)
    assert len(lines("abcdefg", told).splitlines()) == 6
