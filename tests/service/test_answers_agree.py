"""Spoken answers that are asked of one day agree with one another: may, where, now and free."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_answers import DEMO_PLAN, KNOWLEDGE, ask
from test_properties import plans, read, some

from rules.model import Plan
from service.answers import answer

CROPS = ("cabbage", "onion", "strawberry", "mint", "garlic", "potato", "tomato", "lettuce", "carrot", "pea", "leek")


def disagreement(plan: Plan, crop: str, bed: str, day: str) -> str | None:
    """What ``free`` says of a day where ``may`` says otherwise; None where they agree."""
    may = answer("may", plan, KNOWLEDGE, crop=crop, bed=bed, date=day)
    free = answer("free", plan, KNOWLEDGE, crop=crop, bed=bed, date=day)
    if not may.say.startswith(("Yes, ", "No, ")):  # the bed is not there on the day
        return None if free.say == may.say else free.say
    unknown = "only if no relative" in free.say or "not known" in free.say
    return None if unknown or (" now" in free.say) is may.ok else f"{may.say} {free.say}"


@pytest.mark.parametrize("day", ["2026-11-20", "2027-04-20", "2027-07-10", "2028-04-20"])
def test_free_agrees_with_may_in_the_demo_garden(day: str) -> None:
    for bed in DEMO_PLAN.beds:
        for crop in CROPS:
            assert disagreement(DEMO_PLAN, crop, bed.id, day) is None


@given(plans(), st.sampled_from(CROPS), st.dates(date(2026, 1, 1), date(2028, 12, 31)))
@some
def test_free_agrees_with_may_in_any_garden(data: dict[str, Any], crop: str, day: date) -> None:
    plan = read(data)
    for bed in plan.beds:
        assert disagreement(plan, crop, bed.id, day.isoformat()) is None


@pytest.mark.parametrize("day", ["2026-11-20", "2027-04-20", "2027-07-10"])
def test_where_and_now_agree_with_may(day: str) -> None:
    for crop in CROPS:
        where = ask(DEMO_PLAN, "where", crop, None, day)[0]
        for bed in DEMO_PLAN.beds:
            may, yes = ask(DEMO_PLAN, "may", crop, bed.id, day)
            assert (bed.name in where.partition(", though")[0]) is yes, (where, may)


FREE = [
    ("peas", "kiln", "2026-11-20", True,
     "Kiln bed is free for peas from 26 September 2027, better from 26 September 2028, "
     "unless they go in now, in one season with their relatives there."),
    ("broccoli", "quay", "2026-11-20", True,
     "Quay bed is free for broccoli from 6 May 2029, better from 6 May 2030, "
     "unless it goes in now, in one season with its relatives there."),
    ("strawberries", "bark", "2027-07-10", False,
     "Bark tub has had its break for strawberries, but another rule speaks against them on 10 July 2027, so ask may."),
]  # fmt: skip


@pytest.mark.parametrize(("crop", "bed", "day", "ok", "sentence"), FREE, ids=[row[0] for row in FREE])
def test_free_says_what_its_break_does_not(crop: str, bed: str, day: str, ok: bool, sentence: str) -> None:
    assert ask(DEMO_PLAN, "free", crop, bed, day) == (sentence, ok)
