"""Words, numbers and units as people say them, and what is told back of each."""

from __future__ import annotations

import re

import pytest
from phoning import Phone

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)  # words, not the store


@pytest.fixture
def phone(store, knowledge):
    told = Phone(store, knowledge)
    told.say(did="planted", bed="kiln", crop="rhubarb", count="4")
    told.say(did="planted", bed="quay", crop="kale", count="6")
    return told


@pytest.mark.parametrize(
    ("flat", "said"),
    [
        ({"did": "frosted", "bed": "quay", "crop": "kale", "count": "2"}, "2 kale plants lost in Quay bed to frost"),
        ({"did": "bolted", "bed": "quay", "crop": "kale"}, "kale lost in Quay bed to bolting"),
        ({"did": "eaten", "bed": "quay", "crop": "kale", "cause": "slugs"}, "kale lost in Quay bed to slugs"),
        ({"did": "picked", "bed": "kiln", "amount": "6", "unit": "sticks"}, "6 rhubarb sticks harvested in Kiln bed"),
        ({"did": "picked", "bed": "kiln", "amount": "six stalks"}, "6 rhubarb sticks harvested in Kiln bed"),
        ({"did": "picked", "bed": "quay", "amount": "half a kilo"}, "0.5 kilograms of kale harvested in Quay bed"),
        ({"did": "picked", "bed": "quay", "amount": "a bunch"}, "1 bunch of kale harvested in Quay bed"),
        ({"did": "watered", "bed": "quay", "amount": "20 litres"}, "Quay bed watered with 20 litres"),
        ({"did": "netted", "bed": "quay", "mesh": "1/4 inch"}, "Quay bed covered with a net of 6.35 millimetres mesh"),
        ({"did": "saw", "bed": "quay", "of": "slugs", "level": "lots"}, "severe attack of slugs seen in Quay bed"),
        ({"did": "dug", "bed": "quay"}, "note about Quay bed"),
    ],
)  # fmt: skip
def test_it_is_written_down_as_it_was_meant(phone, flat, said):
    assert re.fullmatch(rf"Logged: {re.escape(said)} today(, 4 left)?\.", phone.say(**flat))


@pytest.mark.parametrize(
    ("flat", "said"),
    [
        ({"did": "picked", "bed": "quay", "amount": "2 bags"},
         "Say the unit as kilos, grams, pounds, ounces, pieces, bunches or litres, got 'bags'."),
        ({"did": "watered", "bed": "quay", "amount": "5 gallons"},
         "Litres must be a number more than 0 and at most 1,000,000, got '5 gallons'."),
        ({"did": "cleared", "bed": "kiln", "crop": "rhubarb", "date": "2027-04-20"},
         "No rhubarb stands in Kiln bed on 20 April 2027, by what is on record, log it as sown or transplanted first."),
        ({"did": "harvested", "bed": "quay", "date": "2027-04-20"},
         "Nothing stands in Quay bed on 20 April 2027, by what is on record."),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused(phone, flat, said):
    assert phone.refused(**flat) == [said]
