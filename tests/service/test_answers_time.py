"""Spoken answers and the time of year: told beside the verdict, never instead of it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from test_answers import DEMO_PLAN, KNOWLEDGE, ask, speakable
from tiny_plans import plan_of

from rules.knowledge.facts import FALLOW
from rules.model import FrostDate, Plan
from rules.planning.timing import Span, usual_times
from service.answers.spoken import Reserve, with_reserves
from service.answers.trial import Trial
from service.answers.usualtime import in_thirds

FROST = {"last_spring_frost": FrostDate((5, 4)), "first_autumn_frost": FrostDate((10, 2))}


def garden(latitude: float = 46.2, kind: str = "ground", **frosts: FrostDate) -> Plan:
    return plan_of(beds=[{"id": "a", "name": "Flint bed", "kind": kind}], garden={"latitude": latitude, **frosts})


ROWS: list[tuple[str, str | None, str | None, str, bool, str]] = [
    ("may", "garlic", "kiln", "2026-11-20", True, "Yes, garlic may go in Kiln bed on 20 November 2026."),
    ("may", "garlic", "kiln", "2027-07-01", True,
     "Yes, garlic may go in Kiln bed on 1 July 2027, though it usually goes in from mid September to November here, "
     "once the cabbages are cleared."),
    ("may", "potatoes", "kiln", "2027-03-10", True,
     "Yes, potatoes may go in Kiln bed on 10 March 2027, though they usually go in from mid April to early June here."),
    ("may", "broad beans", "sluice", "2027-07-10", True,
     "Yes, broad beans may go in Sluice bed on 10 July 2027, though they usually go in from October to mid November "
     "or from April to early June here, once the winter squashes are cleared."),
    ("may", "sweet potatoes", "sluice", "2027-03-10", True,
     "Yes, sweet potatoes may go in Sluice bed on 10 March 2027, though the season here is usually too short "
     "for them."),
    ("may", "tomatoes", "sluice", "2026-11-20", True,
     "Yes, tomatoes may go in Sluice bed on 20 November 2026, out of their usual time, with a caution, "
     "tomatoes in Sluice bed before the better break after potatoes, both are of the potato family."),
    ("may", "runner beans", "vat", "2026-11-20", True,
     "Yes, as far as is known, runner beans may go in Vat house on 20 November 2026, though they usually go in from "
     "April to July under glass here, and Vat house has no record for 2024."),
    ("may", "rhubarb", "bark", "2026-11-20", True, "Yes, rhubarb may go in Bark tub on 20 November 2026."),
    ("may", "oca", "sluice", "2026-12-20", True, "Yes, oca may go in Sluice bed on 20 December 2026."),
    ("may", "cabbage", "kiln", "2026-11-20", False,
     "No, cabbages in Kiln bed too soon after kale, both are of the cabbage family, so wait until November 2028."),
    ("may", "crimson clover", "quay", "2026-11-20", False,
     "No, crimson clover in Quay bed too soon after peas, both are of the pea and bean family, "
     "so choose Sluice bed instead, though it usually goes in from April to early September here."),
    ("where", "garlic", None, "2027-05-20", True,
     "Garlic may go in Lime ground on 20 May 2027, and in Kiln bed, Bark tub and Vat house once cleared, "
     "though it usually goes in from mid September to November here."),
    ("where", "sweetcorn", None, "2027-07-10", True,
     "Sweetcorn may go in Kiln bed, Quay bed, Bark tub, Vat house, Lime ground and Sluice bed on 10 July 2027 "
     "once cleared of what stands there, though it usually goes in from May to June outdoors."),
    ("where", "mint", None, "2026-11-20", True,
     "Mint may go in Kiln bed, Quay bed, Bark tub, Lime ground and Sluice bed on 20 November 2026."),
    ("now", None, "sluice", "2027-10-15", True,
     "Sluice bed can take broad beans on 15 October 2027, the usual time for them."),
    ("now", None, "vat", "2027-05-15", True,
     "Vat house can take leaf lettuces, dwarf French beans, spinach and cucumbers on 15 May 2027, "
     "the usual time for them."),
    ("now", None, "vat", "2027-11-15", False,
     "15 November 2027 is not the usual time for any common crop under glass."),
    ("now", None, "sluice", "2027-11-15", False,
     "Of the common crops whose usual time is 15 November 2027, none may go in Sluice bed."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("question", "crop", "bed", "day", "ok", "sentence"), ROWS, ids=[" ".join(filter(None, row[:4])) for row in ROWS]
)
def test_the_demo_garden_is_told_its_times(
    question: str, crop: str | None, bed: str | None, day: str, ok: bool, sentence: str
) -> None:
    assert ask(DEMO_PLAN, question, crop, bed, day) == (sentence, ok)


def test_the_verdict_stands_whatever_the_time_of_year() -> None:
    """Yes exactly where the check adds no breach, on every day of the year; the time is told where it is unusual."""
    told = 0
    for name in ("garlic", "tomato", "broad bean", "pak choi", "rhubarb"):
        crop = KNOWLEDGE.find_crop(name)
        assert crop is not None
        for bed in DEMO_PLAN.beds:
            for month in (1, 4, 7, 10):
                day = date(2027, month, 15)
                if bed.end is not None and bed.end < day:
                    continue
                trial = Trial(DEMO_PLAN, bed, crop, day, KNOWLEDGE)
                said, ok = ask(DEMO_PLAN, "may", name, bed.id, day.isoformat())
                assert ok is (not trial.breaches)
                spans = usual_times(crop, day, DEMO_PLAN.garden, KNOWLEDGE, glass=bed.kind == "greenhouse")
                late = spans is not None and not any(span.first <= day <= span.last for span in spans)
                if ok:
                    assert ("usual" in said) is late, said
                    told += late
                assert speakable(said)
    assert told > 30


def test_now_offers_nothing_that_may_calls_unusual() -> None:
    offered = 0
    for month in range(1, 13):
        for bed in DEMO_PLAN.beds:
            day = date(2027, month, 18)
            said, ok = ask(DEMO_PLAN, "now", None, bed.id, day.isoformat())
            for crop in KNOWLEDGE.crops.values():
                if ok and crop.id != FALLOW and f" {crop.plural}" in said.partition(" on ")[0].replace(",", ""):
                    may, yes = ask(DEMO_PLAN, "may", crop.id, bed.id, day.isoformat())
                    assert yes, (said, may)
                    assert "usual" not in may, (said, may)
                    offered += 1
    assert offered > 20


def test_the_south_is_told_its_own_months() -> None:
    plan = garden(-37.8, last_spring_frost=FrostDate((11, 4)), first_autumn_frost=FrostDate((4, 2)))
    said = ask(plan, "may", "garlic", "a", "2027-01-10")[0]
    assert said.startswith(
        "Yes, as far as is known, garlic may go in Flint bed on 10 January 2027, "
        "though it usually goes in from mid March to May here"
    )
    assert ask(plan, "now", None, "a", "2027-05-10")[0].startswith(
        "Flint bed can take broad beans and garlic on 10 May"
    )


@pytest.mark.parametrize("latitude", [46.2, 5.0, -8.0])
def test_without_frost_dates_may_and_where_are_silent_about_time(latitude: float) -> None:
    plan = garden(latitude)
    for question, bed in (("may", "a"), ("where", None)):
        for day in ("2027-01-10", "2027-07-10"):
            said, ok = ask(plan, question, "garlic", bed, day)
            assert ok
            assert "usual" not in said


def test_in_the_tropics_every_common_crop_is_in_time_and_none_is_called_usual() -> None:
    said, ok = ask(garden(5.0), "now", None, "a", "2027-01-10")
    assert ok
    assert said == (
        "Flint bed can take potatoes, leaf lettuces, dwarf French beans and carrots on 10 January 2027, "
        "though nothing is on record for it."
    )


def test_glass_begins_earlier_than_the_open_bed() -> None:
    day = "2027-04-25"
    outside = ask(garden(**FROST), "may", "tomato", "a", day)[0]
    inside = ask(garden(kind="greenhouse", **FROST), "may", "tomato", "a", day)[0]
    assert "usually go in from mid May to June here" in outside
    assert "usual" not in inside


def test_an_imperial_garden_is_answered_alike() -> None:
    plan = plan_of(beds=["a"], garden={"latitude": 40.0, "units": "imperial", **FROST})
    assert (
        "though it usually goes in from mid September to November here"
        in ask(plan, "may", "garlic", "a", "2027-07-01")[0]
    )


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        ((9, 11), (11, 30), "from mid September to November"),
        ((5, 1), (5, 31), "in May"),
        ((5, 11), (5, 20), "in mid May"),
        ((5, 1), (5, 10), "in early May"),
        ((5, 11), (5, 31), "from mid to late May"),
        ((4, 21), (7, 10), "from late April to early July"),
        ((4, 1), (7, 31), "from April to July"),
    ],
)
def test_days_are_told_as_parts_of_months(first: tuple[int, int], last: tuple[int, int], words: str) -> None:
    assert in_thirds(Span(date(2027, *first), date(2027, *last), None)) == words


def test_the_weightiest_reserve_keeps_its_fullest_words() -> None:
    heavy, light = ", " + "h" * 90, ", " + "l" * 60
    reserves = [Reserve(2, (light, ", l")), Reserve(1, (heavy, ", h"))]
    assert with_reserves("m" * 30, reserves) == "m" * 30 + light + heavy
    assert with_reserves("m" * 60, reserves) == "m" * 60 + ", l" + heavy
    assert with_reserves("m" * 120, reserves) == "m" * 120 + light + ", h"
    assert with_reserves("m" * 150, [*reserves, Reserve(3, (heavy,))]) == "m" * 150 + ", l, h"


def test_a_year_of_days_is_answered_in_a_sentence() -> None:
    for n in range(0, 365, 9):
        day = (date(2027, 1, 1) + timedelta(days=n)).isoformat()
        for question, crop, bed in (("may", "peas", "quay"), ("where", "onion", None), ("now", None, "quay")):
            said = ask(DEMO_PLAN, question, crop, bed, day)[0]
            assert speakable(said), said
