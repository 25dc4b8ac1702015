"""Two rows of one crop in one bed: told apart by variety or part, and a thumb that pressed twice."""

from __future__ import annotations

import pytest
from phoning import Phone

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)  # words, not the store


@pytest.fixture
def phone(store, knowledge):
    return Phone(store, knowledge)


def rows(phone):
    return [(p.crop, (p.variety or {}).get("name"), p.part, p.count) for p in phone.contents().plantings]


def test_another_variety_on_the_same_day_is_another_planting(phone):
    assert phone.say(did="sown", bed="kiln", crop="lettuce", variety="Harbour", count="20") == (
        "Logged: 20 lettuces, Harbour, sown in Kiln bed today."
    )
    phone.say(did="sown", bed="kiln", crop="lettuces", variety="Winter Quay", count="12")
    assert rows(phone) == [("lettuce", "Harbour", None, 20), ("lettuce", "Winter Quay", None, 12)]
    assert phone.refused(did="sown", bed="kiln", crop="lettuce", variety="harbour")[0].startswith("Lettuces were sown")
    assert phone.refused(did="sown", bed="kiln", crop="lettuce") == [
        "Lettuces were sown in Kiln bed on 22 April 2027 already, "
        "if this is another row, name its variety or its part of the bed."
    ]
    phone.wait(9)
    assert phone.refused(did="came up", bed="kiln", crop="lettuce") == [
        "2 plantings of lettuces fit in Kiln bed, name the variety, Harbour or Winter Quay."
    ]
    noted = phone.noted(did="came up", bed="kiln", crop="lettuce", variety="winter quay", count="9")
    assert noted.planting == phone.contents().plantings[1].id
    assert phone.say(did="cleared", bed="kiln") == "Logged: lettuces cleared from Kiln bed today."


@pytest.mark.parametrize(
    ("said", "part"),
    [("first half", (0.0, 0.5)), ("the last third", (0.6667, 1.0)), ("0.5-1", (0.5, 1.0)), ([0.5, 1], (0.5, 1.0)),
     ("second quarter", (0.25, 0.5)), ("from 0 to 0.3", (0.0, 0.3))],
)  # fmt: skip
def test_another_part_of_the_bed_is_another_planting(phone, said, part):
    phone.say(did="sown", bed="kiln", crop="carrot", part="middle third")
    phone.say(did="sown", bed="kiln", crop="carrot", part=said)
    assert [row[2] for row in rows(phone)] == [(0.3333, 0.6667), part]
    assert phone.refused(did="sown", bed="kiln", crop="carrot", part="middle third")[0].startswith("Carrots were sown")


def test_a_plan_that_names_no_variety_is_completed(phone):
    phone.plan(crop="leek", start=phone.today, id="leeks")
    assert phone.noted(did="sown", bed="kiln", crop="leek", variety="Blue Tide", part="first half").planting == "leeks"
    assert rows(phone) == [("leek", "Blue Tide", (0.0, 0.5), None)]


def test_a_resowing_of_what_named_no_variety_is_of_the_same_planting(phone):
    first = phone.noted(did="sown", bed="kiln", crop="leek").planting
    phone.wait(9)
    phone.say(did="died", bed="kiln", crop="leek", cause="slugs")
    assert phone.noted(did="resown", bed="kiln", crop="leek", variety="Blue Tide").planting == first
    phone.wait(9)
    phone.say(did="died", bed="kiln", crop="leek", cause="slugs")
    assert phone.noted(did="resown", bed="kiln", crop="leek", variety="Grey Tide").planting != first


def test_a_plan_of_another_variety_stays_planned(phone):
    phone.plan(crop="leek", start=phone.today, id="leeks", variety={"name": "Grey Tide"})
    assert phone.noted(did="sown", bed="kiln", crop="leek", variety="Blue Tide").planting != "leeks"
    assert phone.noted(did="sown", bed="kiln", crop="leek", variety="GREY tide").planting == "leeks"


@pytest.mark.parametrize(
    ("flat", "said"),
    [
        ({"crop": "leek", "part": "left"}, "Say which part of the bed, such as first half, last third, "
         "or from 0 to 0.5 of its length."),
        ({"crop": "leek", "part": "0.5 to 0.2"}, "Say which part of the bed, such as first half, last third, "
         "or from 0 to 0.5 of its length."),
        ({"crop": "leek", "variety": "x" * 100}, "Variety must be at most 80 characters, got 100."),
        ({"variety": "Blue Tide"}, "Name the crop too where you name its variety."),
    ],
)  # fmt: skip
def test_what_cannot_be_told_is_asked_for(phone, flat, said):
    assert phone.refused(did="sown", bed="kiln", **flat) == [said]


def test_undo_takes_no_variety(phone):
    phone.say(did="sown", bed="kiln", crop="leek")
    assert phone.refused(did="undo", variety="Blue Tide") == ["Undo takes no variety."]
