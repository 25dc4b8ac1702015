"""A year of a small garden, told by phone in any order: whatever is said, the record stays whole."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

import rules
from rules.model import FrostDate
from service.encode import to_bytes
from service.exporting import export
from service.importing import read_garden, store_garden
from service.mapping import document, garden_plan, planting_rows
from service.phonelog import note
from service.plantingsheet import import_plantings, plantings_csv
from service.reading import PlanRejected
from service.record import Record
from service.store.errors import Conflict, NotFound, Stale
from service.store.repository import Repository

NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
FIRST = date(2026, 9, 1)
SPEAKABLE = re.compile(r"[\w .,:?!'’-]+")
#: What may be raised by a write; anything else is our fault.
REFUSED = (PlanRejected, Conflict, NotFound, Stale)


def frosts(spring, autumn):
    return {"last_spring_frost": FrostDate(p50=spring), "first_autumn_frost": FrostDate(p50=autumn)}


GARDENS = (
    {"name": "Tannery Row", "latitude": 46.2, "country": "FR", **frosts((5, 4), (10, 2))},
    {"name": "South side", "latitude": -37.8, "country": "AU", **frosts((9, 20), (5, 25))},
    {"name": "Two beds", "latitude": 41.5, "country": "US", "units": "imperial", "rotation": "short"},
)


#: Values by key: the usual ones, and after None those that are now and then said instead.
BEDS = ("kiln", "the kiln", "Quay bed", "bed 3", None, "none", "old", "")
CROPS = ("kale", "cabbages", "Leek", "garlic", "lettuces", None, "asparagus", "beans", "tomato", "x", "")
ABOUT = ("", "kale", "lettuce", None, "leek", "x")
DAYS = ("", "", "yesterday", "last Monday", None, "2 weeks ago", "3 May", "2026-10-15", "2027-12-31", "31 June")
AHEAD = ("", "2027-12-31", "30 June", None, "today", "2026-01-01")
COUNTS = ("", "12", "a dozen", "5", "30 plants", None, "0", "1000000")
MORE = {
    "sown": {"crop": CROPS, "count": COUNTS},
    "planted": {"crop": CROPS, "count": COUNTS},
    "resown": {"crop": CROPS, "count": COUNTS},
    "volunteers": {"crop": CROPS, "count": COUNTS},
    "came up": {"crop": CROPS, "count": COUNTS},
    "cleared": {"crop": CROPS},
    "died": {"crop": CROPS, "count": COUNTS, "cause": ("", "slugs", "bolted", "clubroot", None, "bad luck")},
    "picked": {"crop": CROPS, "amount": ("", "1.5 kilos", "1/2 lb", None, "3"), "unit": ("", None, "kg")},
    "netted": {"crop": ABOUT, "mesh": ("", "0.8 mm", None, "fine"), "until": AHEAD},
    "fleeced": {"crop": ABOUT, "edges": ("", "Open", None, "loose"), "open_by_day_from": AHEAD},
    "uncovered": {"crop": ABOUT},
    "sprayed": {"crop": ABOUT, "active": ("soap & 2% oil", None, ""), "harvest_interval": ("", "7 days", None, "x")},
    "manured": {"kind": ("raw manure", "compost", "new soil", None, "manure")},
    "saw": {"crop": ABOUT, "of": ("slugs", "clubroot", "late blight", None, "a fox"), "level": ("", "bad", None, "x")},
    "watered": {"litres": ("", "2,5", "12 litres", None, "lots")},
    "weeded": {"crop": ABOUT, "count": COUNTS},
    "note": {"note": ("hedge cut 🥬\r\nand swept", "x" * 1000, None, "")},
}
#: Hypothesis draws much the same line again and again; a year has all sorts.
CHANCE = st.randoms(use_true_random=True)


def line(chance):
    """A line as someone might send it."""
    did = chance.choice([*MORE, "sown", "planted", "sown", "planted", "died", "picked", "cleared"])
    return {"did": did, **{key: one(values, chance) for key, values in MORE[did].items()}, **where(chance)}


def where(chance):
    """The place and day of a line."""
    return {"bed": one(BEDS, chance), "date": one(DAYS, chance)}


def one(values, chance):
    """A usual value, now and then an odd one."""
    at = values.index(None)
    return chance.choice(values[at + 1 :] if chance.random() < 0.06 else values[:at])


PLANTINGS = st.fixed_dictionaries(
    {"bed": st.sampled_from(["kiln", "quay", "3"]), "crop": st.sampled_from(["kale", "leek", "lettuce", "potato"])},
    optional={
        "start": st.integers(0, 600).map(lambda days: FIRST + timedelta(days)),
        "season": st.sampled_from(["2026", "2027", "2027-spring"]),
        "end": st.integers(60, 700).map(lambda days: FIRST + timedelta(days)),
        "method": st.sampled_from(["sow", "transplant", "set"]),
        "status": st.sampled_from(["planned", "growing", "done", "lost"]),
        "count": st.integers(1, 20),
        "part": st.sampled_from([(0.0, 0.5), (0.5, 1.0)]),
    },
)


class Year(RuleBasedStateMachine):
    """A garden, the day it is, and the lines that were seen in its journal so far."""

    @initialize(garden=st.sampled_from(GARDENS))
    def begin(self, garden):
        self.today, self.lines = FIRST, ()
        with self.store.write() as session:
            repository = Repository(session)
            self.club = repository.add_club("Club", now=NOW).id
            self.garden = repository.add_garden(self.club, garden, now=NOW).id
            record = self.record(session)
            record.add_bed({"id": "old", "length": 300.0, "until": FIRST - timedelta(1)})
            record.add_bed({"id": "kiln", "length": 300.0, "width": 120.0, "from": FIRST, "replaces": [{"bed": "old"}]})
            record.add_bed({"id": "quay", "name": "Quay bed", "length": 300.0})
            record.add_bed({"id": "3", "name": "Bed three"})

    def record(self, session):
        return Record(Repository(session), self.garden, self.knowledge, today=self.today, now=NOW)

    def contents(self):
        with self.store.read() as session:
            return Repository(session).contents(self.garden)

    def write(self, work):
        """What a write gives, or None where it is refused and leaves nothing."""
        before = export(self.contents())
        try:
            with self.store.write() as session:
                return work(self.record(session))
        except REFUSED:
            assert export(self.contents()) == before
            return None

    def say(self, **flat):
        number, said = None, []
        try:
            with self.store.write() as session:
                noted = note(self.record(session), flat)
            number, said = noted.entry.id, [noted.say]
            self.lone = len(noted.entries) == 1
        except PlanRejected as refused:
            said = [error.detail for error in refused.errors]
        except (Conflict, NotFound) as refused:
            said = [refused.detail]
        assert said
        assert [text for text in said if len(text) >= 200 or not SPEAKABLE.fullmatch(text)] == []
        return number

    @rule(days=st.integers(1, 60))
    def wait(self, days):
        self.today += timedelta(days)

    @rule(chance=CHANCE)
    def log(self, chance):
        for _ in range(15):
            self.say(**line(chance))

    @rule(chance=CHANCE, by_number=st.booleans())
    def log_and_take_back(self, chance, by_number):
        before = document(self.contents(), as_of=self.today)
        number = self.say(**line(chance))
        if number is not None:
            named = {"corrects": str(number)} if by_number and self.lone else {}  # of a whole bed it is one line
            assert self.say(did="undo", **named) is not None
        assert document(self.contents(), as_of=self.today) == before

    @rule(chance=CHANCE, about=st.sampled_from([{}, {"bed": BEDS}, {"crop": CROPS}]))
    def undo(self, chance, about):
        self.say(did="undo", **{key: one(values, chance) for key, values in about.items()})

    @rule(typed=PLANTINGS)
    def plan(self, typed):
        self.write(lambda record: record.add_planting(typed))

    @precondition(lambda self: self.contents().plantings)
    @rule(data=st.data(), typed=PLANTINGS, version=st.sampled_from([None, None, 1]))
    def replan(self, data, typed, version):
        name = data.draw(st.sampled_from([row.id for row in self.contents().plantings]))
        typed = {key: value for key, value in typed.items() if key not in ("bed", "crop")}
        self.write(lambda record: record.change_planting(name, typed, version=version))

    @rule(until=st.sampled_from([None, date(2027, 3, 1)]), width=st.sampled_from([None, 80.0]))
    def reshape(self, until, width):
        self.write(lambda record: record.change_bed("quay", {"until": until, "width": width}))

    @rule()
    def out_and_in(self):
        contents = self.contents()
        out = export(contents)
        read = read_garden(to_bytes(out), "json", knowledge=self.knowledge, today=lambda zone: self.today, now=NOW)
        with self.store.write() as session:
            repository = Repository(session)
            again = repository.contents(store_garden(repository, read, club_id=self.club, now=NOW).id)
            assert export(again) == out
            assert self.check(again) == self.check(contents)

    @rule()
    def sheet_out_and_in(self):
        contents = self.contents()
        with self.store.write() as session:
            repository = Repository(session)
            other = repository.add_garden(self.club, {"latitude": contents.garden.latitude}, now=NOW)
            for bed in contents.beds:
                repository.add_bed(other.id, {"id": bed.id})
            record = Record(repository, other.id, self.knowledge, today=self.today, now=NOW)
            if rows := [row for row, _ in planting_rows(contents)]:
                import_plantings(record, plantings_csv(contents).encode())
            assert [row for row, _ in planting_rows(record.contents())] == rows

    def check(self, contents):
        return rules.check(garden_plan(contents, self.knowledge, as_of=self.today), self.knowledge)

    @invariant()
    def can_be_read(self):
        garden_plan(self.contents(), self.knowledge, as_of=self.today)

    @invariant()
    def lines_never_change(self):
        journal = tuple(self.contents().journal)
        assert journal[: len(self.lines)] == self.lines
        self.lines = journal


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)  # words and states, not the store
def test_whatever_is_said_the_record_stays_whole(store, knowledge):
    year = type("Year", (Year,), {"store": store, "knowledge": knowledge})
    few = settings(
        max_examples=20, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck), print_blob=True
    )
    run_state_machine_as_test(year, settings=few)
