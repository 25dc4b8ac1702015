"""Spoken answers: the demo garden's word for word, what is wrong with a question, and truth to the full check."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import assume, given
from hypothesis import strategies as st
from test_properties import CROPS, plans, read, some
from tiny_plans import grew, plan_of

import rules
from rules.model import Plan
from service.answers import ASKS, Unanswerable, answer, answered
from service.answers.question import ASKS as KNOWN
from service.answers.trial import Quick, Trial, judged_on
from service.app import build
from service.askcommand import QUESTIONS
from service.cli import main
from service.config import Config
from service.examples import PLAN
from service.planfile import DEMO
from service.reading import read_plan

KNOWLEDGE = rules.load_knowledge()
DEMO_PLAN = read_plan(DEMO.read_bytes(), "yaml", today=lambda _: date(2026, 11, 20), knowledge=KNOWLEDGE)


def ask(
    plan: Plan, question: str, crop: str | None = None, bed: str | None = None, day: str | None = None
) -> tuple[str, bool]:
    said = answer(question, plan, KNOWLEDGE, crop=crop, bed=bed, date=day)
    return said.say, said.ok


# -- the demo garden, word for word; a row is: question, crop, bed, day, ok, sentence

DEMO_ANSWERS: list[tuple[str, str | None, str | None, str | None, bool, str]] = [
    ("may", "cabbage", "kiln", "2027-04-20", False,
     "No, cabbages in Kiln bed too soon after kale, both are of the cabbage family, so wait until April 2029."),
    ("may", "Leeks", "Quay bed", "2027-06-10", False,
     "No, leeks in Quay bed, where allium white rot was seen in June 2024, and no better bed was found."),
    ("may", "tomatoes", "the vat house", "2027-05-15", False,
     "No, tomatoes in Vat house, where fusarium wilt of tomato was seen in August 2023, so wait until May 2031."),
    ("may", "kale", "quay", "2027-04-20", False,
     "No, kale in Quay bed too soon after kale, the same crop again, so swap with the winter squashes in Sluice bed."),
    ("may", "oca", "sluice", "2027-05-01", True, "Yes, oca may go in Sluice bed on 1 May 2027."),
    ("may", "tomato", "bark", "2027-05-20", True, "Yes, tomatoes may go in Bark tub on 20 May 2027."),
    ("may", "courgette", "sluice", "2027-05-20", True,
     "Yes, courgettes may go in Sluice bed on 20 May 2027, once the winter squashes are cleared."),
    ("may", "peas", "vat", "2027-03-01", False,
     "No, raw manure in Vat house on 10 February 2027, peas would be picked from 24 April 2027, too soon, "
     "so wait until 18 March 2027."),
    ("may", "strawberries", "sluice", "2027-05-20", True,
     "Yes, strawberries may go in Sluice bed on 20 May 2027, with a caution, strawberries in Sluice bed "
     "within 4 years of potatoes, once the winter squashes are cleared."),
    ("may", "carrots", "vat", "2027-04-04", True,
     "Yes, as far as is known, carrots may go in Vat house on 4 April 2027, but Vat house has no record for 2024, "
     "once the radishes are cleared."),
    ("may", "beans", "old-kiln", "2027-04-20", False,
     "Old kiln bed is no more since 14 February 2026, its ground is now Kiln bed."),
    ("was", None, "kiln", None, True,
     "Kiln bed had French beans in 2026, kale in 2025, carrots in 2024 and peas in 2023."),
    ("was", None, "quay", None, True,
     "Quay bed had kale since August 2026, potatoes in 2026 and in 2023, peas in 2026, carrots in 2025 "
     "and garlic from 2023 to 2024."),
    ("was", None, "vat", None, True,
     "With no record for 2024, Vat house had basil in 2026, spinach in 2026, cucumbers in 2025 and tomatoes in 2023."),
    ("was", "garlic", "quay", None, True, "In Quay bed the last garlic grew from 2023 to 2024."),
    ("was", "cabbage", "kiln", None, True,
     "No cabbages are on record in Kiln bed, but kale of the cabbage family grew there in 2025."),
    ("was", None, "kiln", "2020-01-01", False, "Nothing is on record for Kiln bed up to 1 January 2020."),
    ("free", "cabbage", "kiln", None, True,
     "Kiln bed is free for cabbages from 1 November 2027, better from 1 November 2028."),
    ("free", "garlic", "quay", None, False,
     "Never again, allium white rot was seen in Quay bed, so it is closed to garlic."),
    ("free", "Amaryllidaceae", "quay", None, False,
     "Never again, allium white rot was seen in Quay bed, so it is closed to the onion family."),
    ("free", "cabbage", "lime", None, True,
     "Lime ground is free for cabbages from 1 January 2031, because clubroot was seen there."),
    ("free", "lettuce", "lime", None, False,
     "Lime ground is free for lettuces only once the host that stands there is cleared."),
    ("free", "mint", "kiln", None, True, "Kiln bed is free for mint now, which needs no break."),
    ("free", "tomato", "bark", None, True, "Bark tub is free for tomatoes now, by what is on record."),
    ("where", "cabbage", None, "2027-04-20", True,
     "Cabbages may go in Bark tub and Sluice bed on 20 April 2027, and in Vat house once cleared."),
    ("where", "tomatoes", None, "2027-06-01", True,
     "Tomatoes may go in Kiln bed, Bark tub and Sluice bed on 1 June 2027 once cleared of what stands there."),
    ("now", None, "kiln", None, True, "Kiln bed can take garlic on 20 November 2026, the usual time for it."),
    ("now", None, "quay", "2027-05-10", True,
     "Quay bed can take leaf lettuces, dwarf French beans, carrots and beetroot on 10 May 2027, "
     "the usual time for them."),
    ("now", None, "quay", "2027-04-10", False,
     "Nothing on 10 April 2027, kale and strawberries stand in Quay bed until 5 May 2027."),
    ("now", None, "lime", "2027-03-01", False, "1 March 2027 is not the usual time for any common crop."),
    ("with", "onions", None, None, True,
     "In the garden onions go well with lettuces, broccoli and cabbages, and on some conditions with rocket, "
     "French marigolds and kale, but may not suit tomatoes."),
    ("with", "onions", "kiln", None, True, "In Kiln bed onions go well with cabbages."),
    ("with", "basil", "kiln", None, True, "In Kiln bed basil goes well on some conditions with cabbages."),
    ("due", None, None, "2027-04-17", True,
     "Due this week, plant out cabbages in Kiln bed on 20 April, put the net over the cabbages in Kiln bed "
     "on 20 April, look over the strawberries on 19 April and 5 more."),
    ("due", None, None, "2027-01-17", True, "Nothing is due from 17 January to 23 January 2027."),
    ("pick", None, "kiln", "2027-07-20", False,
     "No, not before 21 July 2027, because it was treated with azadirachtin on 18 July 2027 "
     "and the label asks for 3 days."),
    ("pick", None, "kiln", "2027-07-21", True, "Yes, nothing on record forbids picking the cabbages in Kiln bed."),
    ("pick", None, "vat", "2027-03-20", False,
     "No, not before 10 June 2027, because raw manure was given on 10 February 2027 and radishes wait 120 days."),
    ("pick", None, "kiln", "2027-06-01", True,
     "Yes, nothing on record forbids picking the cabbages in Kiln bed, though they should not be ready "
     "before 20 July 2027."),
    ("pick", "leeks", "quay", None, False, "No leeks stand in Quay bed on 20 November 2026, by what is on record."),
    ("cover", None, "kiln", "2027-05-01", True, "Take the net off the cabbages in Kiln bed on 15 July 2027."),
    ("cover", None, "lime", "2027-05-10", True,
     "Take the fleece off the strawberries in Lime ground on 31 May 2027 after opening it by day from 11 May on "
     "and take the net off the broccoli in Lime ground on 15 October 2027."),
    ("cover", None, "kiln", "2027-08-01", True, "No cover is on Kiln bed now, the last net came off on 15 July 2027."),
    ("cover", None, "sluice", None, False, "No cover is on record for Sluice bed."),
]  # fmt: skip


@pytest.mark.parametrize(
    ("question", "crop", "bed", "day", "ok", "sentence"),
    DEMO_ANSWERS,
    ids=[" ".join(str(word) for word in row[:4] if word) for row in DEMO_ANSWERS],
)
def test_the_demo_garden_is_answered_word_for_word(
    question: str, crop: str | None, bed: str | None, day: str | None, ok: bool, sentence: str
) -> None:
    assert ask(DEMO_PLAN, question, crop, bed, day) == (sentence, ok)


def test_every_question_stands_in_the_table_and_at_every_door() -> None:
    assert {row[0] for row in DEMO_ANSWERS} == set(ASKS)
    assert tuple(KNOWN) == ASKS == QUESTIONS


SPOKEN = re.compile(r"[\w .,'’?!-]+")


def speakable(said: str) -> bool:
    return len(said) < 200 and SPOKEN.fullmatch(said) is not None and said.endswith(".") and "_" not in said


def test_every_answer_for_every_bed_can_be_spoken() -> None:
    said = set()
    for bed in ("kiln", "old-kiln", "quay", "bark", "vat", "lime", "sluice"):
        for day in ("2026-11-20", "2027-04-20", "2027-07-18", "2028-02-29"):
            for name, known in KNOWN.items():
                for crop in ("cabbage", "onion", "strawberries", "mint") if "crop" in known.needs else (None,):
                    spoken = ask(DEMO_PLAN, name, crop, bed if "bed" in (*known.needs, *known.takes) else None, day)[0]
                    assert speakable(spoken), spoken
                    said.add(spoken)
    assert len(said) > 150


# -- what is wrong with a question

FAULTS = [
    (("may", "cabage", "kilm"), "No crop is called cabage, the nearest name is cabbage. "
     "No bed is called kilm, the nearest name is Kiln bed."),
    (("may", None, "kiln"), "To ask may, name the crop."),
    (("may", None, None), "To ask may, name the crop and bed."),
    (("may", " ", "kiln"), "To ask may, name the crop."),
    (("may", "cabage", None), "To ask may, name the bed. No crop is called cabage, the nearest name is cabbage."),
    (("due", "cabbage", None), "The question due takes no crop, leave it out."),
    (("whether", None, None),
     "No question is called whether, ask may, was, free, where, now, with, due, pick or cover."),
    (("may", "Brassicaceae", "kiln"),
     "Cabbage family is no crop, name one such as rocket, broccoli or Brussels sprout."),
    (("may", "fallow", "kiln"), "Empty ground is no crop, name one."),
    (("free", "salad", "lime"),
     "Salad leaves can be of several families, name one crop, such as rocket, chicory and corn salad."),
    (("now", None, "zzzz"), "No bed is called zzzz, there are Kiln bed, Old kiln bed, Quay bed and 4 more."),
    (("was", "x" * 500, "kiln"), f"No crop is called {'x' * 40}, and no name is like it."),
]  # fmt: skip


@pytest.mark.parametrize(("words", "sentence"), FAULTS, ids=[str(row[0])[:40] for row in FAULTS])
def test_what_is_wrong_with_a_question_is_told(words: tuple[str, str | None, str | None], sentence: str) -> None:
    assert ask(DEMO_PLAN, *words) == (sentence, False)
    with pytest.raises(Unanswerable):
        answered(words[0], DEMO_PLAN, KNOWLEDGE, crop=words[1], bed=words[2])


def test_a_date_may_come_as_a_day_and_stand_at_the_ends_of_time() -> None:
    plain = answer("due", DEMO_PLAN, KNOWLEDGE, date=date(2027, 4, 17))
    assert plain == answer("due", DEMO_PLAN, KNOWLEDGE, date="2027-04-17")
    for day in ("1900-01-01", "2199-12-31"):
        for name, known in KNOWN.items():
            crop = "cabbage" if "crop" in known.needs else None
            bed = "sluice" if "bed" in known.needs else None
            assert speakable(ask(DEMO_PLAN, name, crop, bed, day)[0])


def test_names_with_marks_are_spoken_without_them() -> None:
    plan = plan_of(
        grew("b1", "beans", "2025"), beds=[{"id": "b1", "name": "Bed #3 (north) & 50%"}, {"id": "b2", "name": "🌱"}]
    )
    assert ask(plan, "was", bed="b1", day="2026-01-01")[0] == "Bed 3, north, and 50 percent had beans in 2025."
    assert ask(plan, "was", bed="b2")[0] == "Nothing is on record for bed b2 up to 20 November 2026."


def test_two_beds_of_one_name_are_told_apart() -> None:
    plan = plan_of(beds=[{"id": "a", "name": "North"}, {"id": "b", "name": "north"}])
    assert ask(plan, "was", bed="North")[0] == "2 beds are called North, say a or b."
    assert ask(plan, "was", bed="b")[0] == "Nothing is on record for north up to 20 November 2026."


# -- what is not on record, and what closes ground


def test_an_empty_bed_and_an_empty_record_are_told_as_such() -> None:
    plan = plan_of(beds=["a"], garden={"latitude": 46.2})
    assert ask(plan, "was", bed="a") == ("Nothing is on record for bed a up to 20 November 2026.", False)
    assert ask(plan, "free", "cabbage", "a") == (
        "Nothing is on record for bed a, so it is not known when it is free.",
        False,
    )
    assert ask(plan, "may", "cabbage", "a", "2027-04-20") == (
        "Yes, as far as is known, cabbages may go in bed a on 20 April 2027, "
        "but bed a has no record for 2024, 2025, 2026.",
        True,
    )
    assert ask(plan, "now", bed="a", day="2027-05-20") == (
        "Bed a can take leaf lettuces, dwarf French beans, carrots and beetroot on 20 May 2027, "
        "the usual time for them as far as is known without your frost dates, though nothing is on record for it.",
        True,
    )
    assert ask(plan, "with", "cabbage", "a")[1] is False
    assert ask(plan, "pick", bed="a")[0] == "Nothing to pick stands in bed a on 20 November 2026, by what is on record."


def test_a_record_by_years_alone_is_told_by_years() -> None:
    plan = plan_of(grew("a", "kale", "2024"), grew("a", "beans", "2026"), beds=["a"], garden={"latitude": 46.2})
    assert ask(plan, "was", bed="a")[0] == "With no record for 2025, bed a had beans in 2026 and kale in 2024."
    assert ask(plan, "free", "cabbage", "a")[0] == (
        "Bed a is free for cabbages from 1 January 2027, better from 1 January 2028."
    )
    assert ask(plan, "free", "tomato", "a", "2027-03-01") == (
        "Bed a has no record for 2025, so it is free for tomatoes now only if no relative grew there then.",
        False,
    )


def test_pick_waits_for_a_label_that_is_not_on_record() -> None:
    def treated(**more: Any) -> Plan:
        return plan_of(
            grew("a", "lettuce", "2027-04-01", "2027-07-30"),
            beds=["a"],
            treatments=[{"bed": "a", "date": "2027-05-10", "active": "spinosad", **more}],
        )

    said, ok = ask(treated(), "pick", bed="a", day="2027-05-20")
    assert not ok
    assert said == (
        "No, it was treated with spinosad on 10 May 2027 and the days on the label are not on record, "
        "so read your label first."
    )
    assert ask(treated(harvest_interval=1), "pick", bed="a", day="2027-05-10")[0].endswith("the label asks for 1 day.")
    assert ask(treated(harvest_interval=10), "pick", bed="a", day="2027-05-19")[1] is False
    assert ask(treated(harvest_interval=10), "pick", bed="a", day="2027-05-20")[1] is True
    assert ask(treated(harvest_interval=10), "pick", bed="a", day="2027-05-09")[1] is True


# -- true to the full check


def full_breaches(data: dict[str, Any], row: dict[str, Any] | None = None) -> set[tuple[str, str]]:
    """The breaches of the full check, read from a document as any door reads it."""
    plan = read({**data, "plantings": [*data["plantings"], *([row] if row else [])]})
    return {(f.rule, p) for f in rules.check(plan, KNOWLEDGE).findings if f.severity == "breach" for p in f.plantings}


@given(
    plans(lines=False), st.sampled_from([crop for crop in CROPS if crop != "fallow"]), st.integers(1, 364), st.data()
)
@some
def test_may_is_yes_exactly_when_the_full_check_adds_no_breach(
    data: dict[str, Any], crop: str, days: int, draw: st.DataObject
) -> None:
    bed = draw.draw(st.sampled_from([bed["id"] for bed in data["beds"]]))
    day = date.fromordinal(date(2027, 1, 1).toordinal() + days)
    plan = read(data)
    assume(plan.judge.start <= day <= plan.judge.end)
    row = {"id": "new", "bed": bed, "crop": crop, "start": day, "status": "planned"}
    clean = full_breaches(data, row) <= full_breaches(data)
    said = answer("may", plan, KNOWLEDGE, crop=crop, bed=bed, date=day)
    assert said.ok is clean
    assert said.say.startswith("Yes, " if clean else "No, ")


@given(plans(), st.sampled_from(["cabbage", "onion", "tomato", "pea", "lettuce", "strawberry", "salad"]), st.data())
@some
def test_the_quick_way_says_what_the_full_check_says(data: dict[str, Any], crop: str, draw: st.DataObject) -> None:
    plan = read(data)
    day = draw.draw(st.dates(date(2025, 1, 1), date(2028, 12, 31)))
    wanted = KNOWLEDGE.find_crop(crop)
    assert wanted is not None
    quick = Quick(plan, day, KNOWLEDGE)
    for bed in plan.beds:
        trial = Trial(plan, bed, wanted, day, KNOWLEDGE)
        assert quick.may(bed, wanted) is (not trial.breaches)


def test_what_is_planned_for_later_counts_as_well() -> None:
    plan = plan_of(
        grew("a", "kale", "2027-05-01", "2027-09-01", id="kale"), beds=["a"], as_of=date(2026, 4, 1), judge="2027"
    )
    said, ok = ask(plan, "may", "cabbage", "a", "2026-05-01")
    assert not ok
    assert said.startswith("No, kale in bed a too soon after cabbages")
    assert judged_on(plan, date(2026, 5, 1)).judge == (date(2026, 1, 1), date(2027, 12, 31))


def test_where_names_the_beds_in_which_may_is_yes() -> None:
    for crop in ("cabbage", "peas", "tomato", "leek", "lettuce"):
        said = ask(DEMO_PLAN, "where", crop, None, "2027-04-01")[0]
        for bed in DEMO_PLAN.beds:
            yes = ask(DEMO_PLAN, "may", crop, bed.id, "2027-04-01")[1]
            assert (bed.name in said) is yes, (crop, bed.id, said)


def test_free_agrees_with_the_outlook_of_the_report() -> None:
    plan = replace(DEMO_PLAN, as_of=DEMO_PLAN.judge.start)
    found = {row.bed: row for row in rules.check(plan, KNOWLEDGE).beds}
    kiln = found["kiln"].free_from["Brassicaceae"]
    assert (kiln.least, kiln.better) == (date(2027, 11, 1), date(2028, 11, 1))  # type: ignore[union-attr]
    assert ask(plan, "free", "kale", "kiln")[0] == (
        "Kiln bed is free for kale from 1 November 2027, better from 1 November 2028."
    )


# -- the doors

URL = "/v1/answers?ask=may&crop=cabbage&bed=kiln&date=2027-04-20"
SENTENCE = "No, cabbages in Kiln bed too soon after kale, both are of the cabbage family, so choose Quay bed instead."


@pytest.fixture(scope="module")
def client() -> FlaskClient:
    return build(Config(checks_per_minute=0)).test_client()


def test_over_http_the_sentence_is_the_default(client: FlaskClient) -> None:
    got = client.post(URL, json=PLAN)
    assert (got.status_code, got.mimetype, got.get_data(as_text=True)) == (200, "text/plain", SENTENCE)
    assert client.post(f"{URL}&format=json", json=PLAN).get_json() == {"say": SENTENCE, "ok": False}
    as_json = client.post(URL, json=PLAN, headers={"Accept": "application/json"})
    assert as_json.get_json() == {"say": SENTENCE, "ok": False}


def test_over_http_a_wrong_question_is_spoken_and_a_wrong_address_refused(client: FlaskClient) -> None:
    spoken = client.post("/v1/answers?ask=may&crop=cabage", json=PLAN)
    assert spoken.status_code == 200
    assert spoken.get_data(as_text=True).startswith("To ask may, name the bed. No crop is called cabage")
    for address, parameter in (("?crop=kale", "ask"), ("?ask=whether", "ask"), ("?ask=due&corp=kale", "corp")):
        refused = client.post(f"/v1/answers{address}", json=PLAN)
        assert refused.status_code == 400
        assert [fault["parameter"] for fault in refused.get_json()["errors"]] == [parameter]
    assert client.post("/v1/answers?ask=due", json={"beds": [{}]}).status_code == 422


def test_questions_are_counted_as_checks_are() -> None:
    counted = build(Config(checks_per_minute=1)).test_client()
    assert counted.post(URL, json=PLAN).status_code == 200
    assert counted.post(URL, json=PLAN).status_code == 429


def test_on_the_command_line_the_status_tells_yes_from_no(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["ask", "demo", "may", "--crop", "oca", "--bed", "sluice", "--date", "2027-05-01"]
    assert main(words) == 0
    assert capsys.readouterr().out == "Yes, oca may go in Sluice bed on 1 May 2027.\n"
    assert main(["ask", "demo", "free", "--crop", "garlic", "--bed", "quay", "--format", "json"]) == 1
    assert json.loads(capsys.readouterr().out)["ok"] is False
    assert main(["ask", "demo", "may", "--crop", "cabage"]) == 64
    assert "the nearest name is cabbage" in capsys.readouterr().err
