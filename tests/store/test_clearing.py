"""A whole bed cleared in one breath: what goes, what stays, what is said, and that it comes back whole."""

from __future__ import annotations

import pytest
from phoning import NOW, Phone

from service.encode import to_bytes
from service.exporting import export
from service.importing import read_garden, store_garden
from service.phonelog import note
from service.store.repository import Repository

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)  # words, not the store


@pytest.fixture
def phone(store, knowledge):
    told = Phone(store, knowledge)
    for crop in ("lettuce", "radish", "spinach"):
        told.say(did="sown", bed="kiln", crop=crop)
    told.wait(40)
    return told


def test_a_cleared_bed_is_cleared_of_all_that_stands_in_it(phone):
    noted = phone.noted(did="cleared", bed="Kiln bed", note="frosted")
    assert noted.say == "Logged: lettuces, radishes and spinach cleared from Kiln bed today."
    assert noted.planting is None
    assert [line.did for line in noted.entries] == ["cleared"] * 3
    assert {line.note for line in noted.entries} == {"frosted"}
    assert phone.standing() == []
    assert set(phone.statuses().values()) == {"done"}
    assert phone.refused(did="cleared", bed="kiln") == [
        "Lettuces, radishes and spinach could be meant in Kiln bed, name the crop."
    ]


@pytest.mark.parametrize("word", ["everything", "all", "The lot"])
def test_everything_is_the_whole_bed(phone, word):
    assert phone.say(did="pulled up", bed="kiln", crop=word).startswith("Logged: lettuces, radishes and spinach")
    assert phone.standing() == []


def test_undo_takes_the_whole_clearing_back_and_says_so(phone):
    before = phone.statuses()
    phone.say(did="cleared", bed="kiln")
    assert phone.say(did="undo") == "Taken back: lettuces, radishes and spinach cleared from Kiln bed today."
    assert phone.statuses() == before
    assert phone.say(did="undo") == "Taken back: spinach sown in Kiln bed on 22 April."


def test_undo_of_one_crop_or_one_line_leaves_the_rest_cleared(phone):
    noted = phone.noted(did="cleared", bed="kiln")
    assert phone.say(did="undo", crop="radish") == "Taken back: radishes cleared from Kiln bed today."
    assert phone.standing() == ["radish"]
    number = str(noted.entries[0].id)
    assert phone.say(did="undo", corrects=number) == "Taken back: lettuces cleared from Kiln bed today."
    assert phone.standing() == ["lettuce", "radish"]
    assert phone.say(did="undo") == "Taken back: spinach cleared from Kiln bed today."


def test_what_stays_for_years_is_left_and_named(phone):
    phone.plan(crop="asparagus", start=phone.today.replace(year=2024), status="growing")
    assert phone.say(did="cleared", bed="kiln") == (
        "Logged: lettuces, radishes and spinach cleared from Kiln bed today. "
        "Note: Asparagus is left, name it if it went too."
    )
    assert phone.standing() == ["asparagus"]
    assert phone.refused(did="cleared", bed="kiln") == [
        "Only asparagus stands in Kiln bed on 1 June 2027, meant to stay for years, name the crop if it was cleared."
    ]
    assert phone.say(did="cleared", bed="kiln", crop="asparagus") == "Logged: asparagus cleared from Kiln bed today."


def test_what_is_planned_and_may_not_be_in_yet_stays_planned(phone):
    coming = phone.plan(crop="leek", start=phone.today.replace(day=1), count=20)
    assert phone.say(did="cleared", bed="kiln").endswith("Note: Leeks are not logged as begun, and stay planned.")
    assert coming not in {line.planting for line in phone.contents().journal}
    assert phone.standing() == ["leek"]


def test_what_was_only_planned_is_cleared_where_nothing_else_stands(store, knowledge):
    phone = Phone(store, knowledge)
    phone.plan(crop="leek", start=phone.today.replace(month=3))
    phone.plan(crop="kale", start=phone.today.replace(month=3))
    assert phone.say(did="cleared", bed="kiln") == "Logged: kale and leeks cleared from Kiln bed today."


def test_an_empty_bed_says_so(phone):
    assert phone.refused(did="cleared", bed="quay") == [
        "Nothing stands in Quay bed on 1 June 2027, by what is on record."
    ]


def test_many_crops_are_counted_where_they_cannot_be_named(store, knowledge):
    phone = Phone(store, knowledge)
    names = [crop.id for crop in knowledge.crops.values() if crop.kind == "vegetable" and not crop.perennial][:30]
    for name in names:
        phone.say(did="sown", bed="kiln", crop=name)
    phone.wait(3)
    noted = phone.noted(did="cleared", bed="kiln")
    assert len(noted.entries) == len(names)
    assert "more cleared from Kiln bed today" in noted.say
    assert phone.noted(did="undo").entries[-1].did == "undo"
    assert phone.standing() == sorted(names)


def test_a_clearing_goes_out_and_in_as_one(phone, store, knowledge):
    phone.say(did="cleared", bed="kiln")
    out = export(phone.contents())
    read = read_garden(to_bytes(out), "json", knowledge=knowledge, today=lambda zone: phone.today, now=NOW)
    with store.write() as session:
        repository = Repository(session)
        phone.garden = store_garden(repository, read, club_id=phone.club, now=NOW).id
        assert export(repository.contents(phone.garden)) == out
    with store.write() as session:
        assert note(phone.record(session), {"did": "undo"}).say == (
            "Taken back: lettuces, radishes and spinach cleared from Kiln bed today."
        )
    assert phone.standing() == ["lettuce", "radish", "spinach"]
