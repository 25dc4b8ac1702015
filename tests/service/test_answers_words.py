"""Spoken answers: days, crops and beds as people say them, and what cannot be one thing."""

from __future__ import annotations

from datetime import date

import pytest
from test_answers import DEMO_PLAN, KNOWLEDGE, ask, speakable
from tiny_plans import plan_of

from service.answers import answer
from service.answers.daymeant import NoDay, day_meant

FRIDAY = date(2026, 11, 20)


@pytest.mark.parametrize(
    ("word", "day"),
    [
        ("today", "2026-11-20"),
        ("Tomorrow", "2026-11-21"),
        ("the day after tomorrow", "2026-11-22"),
        ("yesterday", "2026-11-19"),
        ("Friday", "2026-11-20"),
        ("on Saturday", "2026-11-21"),
        ("Tuesday", "2026-11-24"),
        ("next Tuesday", "2026-11-24"),
        ("this Sunday", "2026-11-22"),
        ("next Friday", "2026-11-27"),
        ("last Tuesday", "2026-11-17"),
        ("next week", "2026-11-27"),
        ("in 10 days", "2026-11-30"),
        ("in two weeks", "2026-12-04"),
        ("a week from now", "2026-11-27"),
        ("1 March", "2027-03-01"),
        ("March 1st", "2027-03-01"),
        ("1st of March", "2027-03-01"),
        (" 1  march 2028 ", "2028-03-01"),
        ("20 Nov", "2026-11-20"),
        ("29 February", "2028-02-29"),
        ("25/3", "2027-03-25"),
        ("3/25", "2027-03-25"),
        ("13.3.2028", "2028-03-13"),
        ("1/1", "2027-01-01"),
        ("2027-04-20", "2027-04-20"),
        ("2027-4-2", "2027-04-02"),
        ("2027/04/20", "2027-04-20"),
        ("20270420", "2027-04-20"),
        ("2027-04-20T08:00:00+02:00", "2027-04-20"),
    ],
)
def test_a_day_is_read_as_it_is_said(word: str, day: str) -> None:
    assert day_meant(word, FRIDAY, ahead=True) == date.fromisoformat(day)


@pytest.mark.parametrize(
    ("word", "day"), [("1 March", "2026-03-01"), ("Tuesday", "2026-11-17"), ("25/3", "2026-03-25")]
)
def test_what_was_lies_behind(word: str, day: str) -> None:
    assert day_meant(word, FRIDAY, ahead=False) == date.fromisoformat(day)
    assert ask(DEMO_PLAN, "was", None, "kiln", word) == ask(DEMO_PLAN, "was", None, "kiln", day)


@pytest.mark.parametrize(
    ("word", "sentence"),
    [
        ("1/3", "1 3 can be 1 March or 3 January, say the month by its name."),
        ("1-3-2027", "1 3 can be 1 March or 3 January, say the month by its name."),
        ("next Saturday", "Next Saturday can be 21 November 2026 or 28 November 2026, say the date."),
        ("March", "March is a whole month, say a day of it, such as 1 March."),
        ("2027-02-30", "There is no 30 February 2027, say another day."),
        ("2027-13-01", "There is no day 1 of month 13 2027, say another day."),
        ("1899-01-01", "1 January 1899 is too far off, ask about 1900 to 2199."),
        ("2200-01-01", "1 January 2200 is too far off, ask about 1900 to 2199."),
        ("soon", "Soon is no date, say a day such as 20 April, tomorrow or Tuesday."),
        ("30 February", "30 February is no date, say a day such as 20 April, tomorrow or Tuesday."),
        ("in 99999999 weeks", "In 99999999 weeks is no date, say a day such as 20 April, tomorrow or Tuesday."),
        ("45/45", "45 45 is no date, say a day such as 20 April, tomorrow or Tuesday."),
        ("🌱", "That is no date, say a day such as 20 April, tomorrow or Tuesday."),
    ],
)
def test_what_is_no_day_or_two_is_refused_plainly(word: str, sentence: str) -> None:
    assert ask(DEMO_PLAN, "due", day=word) == (sentence, False)


def test_no_word_breaks_the_reader_of_days() -> None:
    for word in (
        "/",
        "0/0",
        "in",
        "in a",
        "next",
        "0000-00-00",
        "9" * 400,
        "in -1 days",
        "in half weeks",
        "31/12/9999",
    ):
        with pytest.raises(NoDay):
            day_meant(word, FRIDAY, ahead=True)
    for word in ("tomorrow", "in 3 weeks", "Tuesday", "next week"):
        said = answer("due", plan_of(beds=["a"], as_of=date(2199, 12, 31)), KNOWLEDGE, date=word).say
        assert speakable(said), said


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("spuds", "potato"),
        ("Cabbages", "cabbage"),
        ("cabbage plants", "cabbage"),
        ("a cabbage", "cabbage"),
        ("the cabbages", "cabbage"),
        ("some leeks", "leek"),
        ("my lettuce seedlings", "lettuce"),
        ("lettuce seed", "lettuce"),
        ("zucchini", "courgette"),
        ("OCAS", "oca"),
    ],
)
def test_a_crop_is_found_by_what_people_call_it(said: str, name: str) -> None:
    for bed in ("kiln", "lime"):
        answered = ask(DEMO_PLAN, "may", said, bed, "2027-05-20")
        assert answered == ask(DEMO_PLAN, "may", name, bed, "2027-05-20")
        assert answered[0].startswith(("Yes, ", "No, "))


@pytest.mark.parametrize(
    ("said", "bed"),
    [
        ("Kiln", "kiln"),
        ("the kiln bed", "kiln"),
        ("my kiln bed", "kiln"),
        ("bed kiln", "kiln"),
        ("the greenhouse", "vat"),
        ("house", "vat"),
        ("the tub", "bark"),
        ("old kiln", "old-kiln"),
    ],
)
def test_a_bed_is_found_by_what_people_call_it(said: str, bed: str) -> None:
    answered, ok = ask(DEMO_PLAN, "was", None, said)
    assert ok
    assert (answered, ok) == ask(DEMO_PLAN, "was", None, bed)


def test_a_word_of_two_beds_names_neither() -> None:
    plan = plan_of(beds=[{"id": "a", "name": "North tub"}, {"id": "b", "name": "South tub"}])
    assert ask(plan, "was", None, "tub") == ("No bed is called tub, there are North tub and South tub.", False)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("may", "cabage plants", "kiln"), "No crop is called cabage plants, the nearest name is cabbage."),
        (("may", "🥔", "kiln"), "No crop is called that, and no name is like it."),
        (("now", None, "🌱"), "No bed is called that, there are Kiln bed, Old kiln bed, Quay bed and 4 more."),
        (("?", None, None), "No question is called that, ask may, was, free, where, now, with, due, pick or cover."),
    ],
)
def test_a_name_that_is_none_is_told(words: tuple[str, str | None, str | None], sentence: str) -> None:
    assert ask(DEMO_PLAN, *words) == (sentence, False)


def test_rocket_waits_and_radishes_wait() -> None:
    assert ask(DEMO_PLAN, "pick", None, "vat", "2027-04-10")[0].endswith("and rocket waits 120 days.")
    assert ask(DEMO_PLAN, "pick", None, "vat", "2027-03-20")[0].endswith("and radishes wait 120 days.")


def test_a_long_garden_is_not_read_out() -> None:
    assert ask(DEMO_PLAN, "with", "potatoes", None, "2027-05-20")[0] == (
        "Nothing is known for or against potatoes with globe artichokes, strawberries, lettuces and 8 more "
        "in the garden."
    )
    assert "on some conditions" in ask(DEMO_PLAN, "with", "garlic", None, "2027-05-20")[0]
