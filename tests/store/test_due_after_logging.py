"""What was logged today is not due today; what was planned for today still is."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from phoning import NOW, Phone

from rules.model import Window
from rules.planning.tasks import tasks
from service.answers import answer
from service.mapping import garden_plan
from service.phonelog import note
from service.record import Record
from service.store.repository import Repository

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)  # words, not the store


@pytest.fixture
def phone(store, knowledge):
    told = Phone(store, knowledge)
    told.say(did="sown", bed="kiln", crop="cabbage")
    return told


def due(phone):
    plan = garden_plan(phone.contents(), phone.knowledge, as_of=phone.today)
    return answer("due", plan, phone.knowledge).say


def say_on(phone, day, **flat):
    """A line that was written down on its own day."""
    with phone.store.write() as session:
        now = NOW + (day - NOW.date())
        return note(Record(Repository(session), phone.garden, phone.knowledge, today=day, now=now), flat)


def test_a_cover_put_on_today_is_not_to_be_put_on(phone):
    phone.say(did="netted", bed="kiln")
    assert "put" not in due(phone)
    phone.say(did="undo")
    phone.say(did="netted", bed="kiln", date="2027-04-24")
    assert "put the net over the cabbages in Kiln bed on 24 April" in due(phone)


def test_a_cover_planned_for_today_is_due_until_it_is_logged(phone):
    phone.say(did="netted", bed="kiln", date="2027-04-24")
    phone.wait(2)
    assert "put the net over the cabbages in Kiln bed on 24 April" in due(phone)
    say_on(phone, phone.today, did="undo")
    say_on(phone, phone.today, did="netted", bed="kiln")
    assert "put" not in due(phone)


def test_a_cover_taken_off_today_is_not_to_be_taken_off(phone):
    phone.say(did="netted", bed="kiln", until="2027-05-20")
    phone.wait(20)
    assert "take the net off" not in due(phone)
    phone.wait(7)
    assert "take the net off the cabbages in Kiln bed on 20 May" in due(phone)
    say_on(phone, phone.today, did="uncovered", bed="kiln")
    assert "take the net off" not in due(phone)


def test_what_was_picked_today_is_not_to_be_picked_from_today(phone):
    phone.wait(80)
    say_on(phone, phone.today, did="picked", bed="kiln", crop="cabbage", count="2")
    assert "pick" not in due(phone).lower()


def test_what_was_sown_or_cleared_today_is_not_due(phone):
    phone.plan(crop="leek", start=phone.today, end=phone.today + timedelta(days=3))
    assert "leeks in Kiln bed on 22 April" in due(phone)
    phone.say(did="sown", bed="kiln", crop="leek")
    assert "plant leeks" not in due(phone).lower()
    assert "clear leeks from Kiln bed on 25 April" in due(phone)
    phone.say(did="cleared", bed="kiln", crop="leek")
    assert "leeks" not in due(phone)


def treatments(phone, first, last):
    plan = garden_plan(phone.contents(), phone.knowledge, as_of=phone.today)
    found = tasks(plan, Window(date(2027, 4, first), date(2027, 4, last)), phone.knowledge)
    return [(task.kind, task.day.day) for task in found if task.kind in ("renew", "wait-over")]


def test_a_treatment_done_again_is_looked_at_and_waited_for_from_the_later_one(phone):
    phone.today = date(2027, 4, 30)
    phone.say(did="sprayed", bed="kiln", active="fatty acids", harvest_interval="5", date="2027-04-01")
    assert treatments(phone, 1, 30) == [("wait-over", 6), ("renew", 8)]
    phone.say(did="sprayed", bed="kiln", active="fatty acids", harvest_interval="5", date="2027-04-05")
    assert treatments(phone, 1, 30) == [("wait-over", 10), ("renew", 12)]
    phone.say(did="sprayed", bed="kiln", active="sulphur", date="2027-04-09")
    assert treatments(phone, 1, 30) == [("renew", 12), ("renew", 16)]


def test_another_planting_s_treatment_settles_nothing(phone):
    phone.today = date(2027, 4, 30)
    phone.say(did="sprayed", bed="kiln", active="sulphur", harvest_interval="9", date="2027-04-22")
    phone.say(did="sprayed", bed="kiln", crop="cabbage", active="sulphur", harvest_interval="9", date="2027-04-24")
    assert treatments(phone, 20, 30) == [("renew", 29)]
