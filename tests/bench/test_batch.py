"""The sheets of the batch benchmark are what they say they are."""

from __future__ import annotations

import io
from datetime import date

from batch import PLANTINGS, PLOTS, sheet

import rules
from service.batch.gardens import Gardens
from service.batch.judge import Shared, judge_garden


def test_every_garden_is_read_and_one_in_three_has_a_fault() -> None:
    knowledge = rules.load_knowledge()
    gardens = list(Gardens(io.BytesIO("".join(sheet(2 * PLOTS)).encode())))
    assert [len(garden.rows) for garden in gardens] == [PLANTINGS] * 2 * PLOTS
    lines = [judge_garden(garden, Shared(date(2026, 11, 20), "2027"), knowledge) for garden in gardens]
    assert [line["report"]["verdict"] == "breach" for line in lines] == [False, False, True] * 2


def test_no_garden_has_the_days_of_another() -> None:
    gardens = list(Gardens(io.BytesIO("".join(sheet(PLOTS + 1)).encode())))
    assert [row["start"] for row in gardens[0].rows] != [row["start"] for row in gardens[PLOTS].rows]
