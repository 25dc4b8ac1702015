"""Two processes write to one garden in turn and at once: what each remembers is what one that begins anew reads."""

from __future__ import annotations

import os
import random
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import event

from service.importing import read_garden, store_garden
from service.mapping import document, garden_plan
from service.plantingsheet import import_plantings
from service.reading import PlanRejected
from service.record import Record
from service.store.contents import READING, Contents
from service.store.errors import Busy, StoreError
from service.store.journal import Journal
from service.store.repository import Repository
from service.store.session import Store

TODAY = date(2027, 6, 1)
NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
BEDS = ("kiln", "quay", "oven", "loft")
CROPS = ("kale", "leek", "pea", "oca")
STEPS = 50


class TakenBack(Exception):
    """A write that its own transaction takes back."""


def contents_of(store, garden_id):
    with store.read() as session:
        return Repository(session).contents(garden_id)


def told(contents):
    """All of a garden as text: its rows, and what follows from its journal."""
    lists = (contents.crops, contents.beds, contents.grounds, contents.plantings, contents.journal)
    journal = contents.journal
    derived = sorted(journal.undone), journal.standing, sorted(journal.lives.items())
    return repr((contents.garden, [list(rows) for rows in lists], derived, document(contents, as_of=TODAY)))


def anew(contents):
    """The same rows without anything that was worked out from them before."""
    rows = contents.crops, contents.beds, contents.grounds, contents.plantings
    return Contents(contents.garden, *rows, Journal(contents.journal))


@pytest.fixture
def open_store(store):
    """``open_store()``: another process on the same database, as far as the record can tell."""
    made = []

    def new(**options):
        made.append(Store(store.url.render_as_string(hide_password=False), **options))
        return made[-1]

    yield new
    for one in made:
        one.close()


@contextmanager
def writing(store, garden_id, knowledge):
    with store.write() as session:
        yield Record(Repository(session), garden_id, knowledge, today=TODAY, now=NOW)


class Writer:
    """Writes of all kinds by chance; many are refused, as they would be of a person who does not look."""

    def __init__(self, seed):
        self.chance = random.Random(seed)
        self.kinds = [name for name in dir(self) if name.startswith("write_")]

    def write(self, record):
        kind = self.chance.choice(self.kinds)
        getattr(self, kind)(record)
        return kind

    def day(self):
        return TODAY - timedelta(days=self.chance.randrange(60))

    def planting(self, record):
        return self.chance.choice([row.id for row in record.contents().plantings] or ["none"])

    def write_bed(self, record):
        older = [{"bed": self.chance.choice(BEDS)}] if self.chance.random() < 0.5 else []
        record.add_bed({"id": self.chance.choice(BEDS), "length": 100.0, "width": 80.0, "replaces": older})

    def write_bed_changed(self, record):
        older = self.chance.choice([None, [{"bed": self.chance.choice(BEDS)}]])
        record.change_bed(
            self.chance.choice(BEDS), {"length": float(self.chance.randrange(90, 300)), "replaces": older}
        )

    def write_bed_gone(self, record):
        record.repository.remove_bed(record.garden_id, self.chance.choice(BEDS))

    def write_garden(self, record):
        record.change_garden({"latitude": self.chance.choice([46.2, -35.0]), "name": self.chance.choice("AB")})

    def write_crop(self, record):
        record.add_crop({"id": "oca", "family": "Oxalidaceae"})

    def write_crop_gone(self, record):
        record.remove_crop("oca")

    def write_planting(self, record):
        record.add_planting(
            {"bed": self.chance.choice(BEDS), "crop": self.chance.choice(CROPS), "start": self.day(), "count": 9}
        )

    def write_planting_changed(self, record):
        record.change_planting(self.planting(record), {"count": self.chance.randrange(1, 20)})

    def write_planting_gone(self, record):
        record.repository.remove_planting(record.garden_id, self.planting(record))

    def write_sheet(self, record):
        row = f"{self.chance.choice(BEDS)},{self.chance.choice(CROPS)},{self.day()}"
        import_plantings(record, f"bed,crop,start\n{row}\n".encode())

    def write_light_line(self, record):
        record.log({"did": "watered", "bed": self.chance.choice(BEDS), "date": self.day()})

    def write_cover(self, record):
        record.log({"did": "covered", "bed": self.chance.choice(BEDS), "kind": "net", "date": self.day()})

    def write_cover_off(self, record):
        record.log({"did": "uncovered", "bed": self.chance.choice(BEDS), "date": TODAY})

    def write_life(self, record):
        for did in self.chance.sample(("sown", "emerged", "harvested", "cleared", "resown"), 2):
            record.log({"did": did, "planting": self.planting(record), "date": self.day()})

    def write_note_on_planting(self, record):
        record.log({"did": "note", "planting": self.planting(record), "note": "wet", "date": self.day()})

    def write_undo(self, record):
        record.undo()

    def write_undo_of_any(self, record):
        record.undo(self.chance.choice([line.id for line in record.contents().journal] or [1]))


def attempt(writer, store, garden_id, knowledge):
    """One or two writes in a transaction, sometimes taken back at the end; the kinds of those that stand."""
    kinds = set()
    try:
        with writing(store, garden_id, knowledge) as record:
            for _ in range(writer.chance.choice((1, 2))):
                kinds.add(writer.write(record))
                seen = record.repository.contents(garden_id)
                assert told(seen) == told(anew(seen))
            if writer.chance.random() < 0.2:
                raise TakenBack
    except (StoreError, PlanRejected, TakenBack):
        return set()
    return kinds


@pytest.mark.parametrize("seed", range(3))
def test_two_processes_in_turn(store, open_store, garden_id, knowledge, seed):
    writer, processes, stood = Writer(seed), (store, open_store()), set()
    there = contents_of(store, garden_id)
    for step in range(STEPS):
        at_work = writer.chance.choice(processes)
        with writer.chance.choice(processes).read() as earlier:
            Repository(earlier).garden(garden_id)  # from here on it sees this moment
            before = told(there)
            for _ in range(3):
                stood |= attempt(writer, at_work, garden_id, knowledge)
            # Not each reads each time, so that what is read since is of several writes.
            readers = [one for one in processes if step % 10 == 9 or writer.chance.random() < 0.6]
            there = contents_of(open_store(), garden_id)
            for process in readers:
                found = contents_of(process, garden_id)
                assert told(found) == told(there), step
                plans = [_plan(one, knowledge) for one in (found, there)]
                assert plans[0] == plans[1], step
            assert told(Repository(earlier).contents(garden_id)) == before, step
        assert told(contents_of(at_work, garden_id)) == told(there), step
    assert len(stood) > len(writer.kinds) // 2  # else too little was tried


def _plan(contents, knowledge):
    """A plan by what it says: a crop of one's own is another object in each."""
    return repr(garden_plan(contents, knowledge, as_of=TODAY)) if contents.beds else ""


def test_processes_and_threads_at_once(store, open_store, garden_id, knowledge):
    processes = (store, open_store(lock_timeout=30))

    def work(number):
        writer, process, seen = Writer(100 + number), processes[number % 2], []
        for _ in range(12):
            attempt(writer, process, garden_id, knowledge)
            seen.append(contents_of(process, garden_id))
            with process.write() as session:  # read without ``hold``
                seen.append(Repository(session).contents(garden_id))
        return seen

    with ThreadPoolExecutor(4) as pool:
        seen = [contents for found in pool.map(work, range(4)) for contents in found]
    at = {}
    for contents in seen:
        assert told(contents) == at.setdefault(contents.garden.revision, told(contents))
        assert told(contents) == told(anew(contents))
    there = contents_of(open_store(), garden_id)
    assert [told(contents_of(process, garden_id)) for process in processes] == [told(there)] * 2
    assert max(at) <= there.garden.revision


def test_a_writer_that_only_reads_sees_one_moment(store, open_store, garden_id):
    """PostgreSQL shows a writer what others commit between two of its questions."""
    other, tried = open_store(lock_timeout=0.1), []

    def meanwhile(connection, cursor, text, *rest):
        if "FROM beds" in text and not tried:
            tried.append(text)
            with suppress(Busy), other.write() as session:
                Repository(session).log(garden_id, {"did": "sown", "planting": "kale", "date": TODAY}, now=NOW)

    event.listen(store.engine, "before_cursor_execute", meanwhile)
    with store.write() as session:
        found = Repository(session).contents(garden_id)
    assert tried
    assert found.journal == ()
    assert told(contents_of(store, garden_id)) == told(contents_of(open_store(), garden_id))


def test_a_garden_that_is_not_committed_is_remembered_by_nobody(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        club = repository.garden(garden_id).club_id
        garden = repository.add_garden(club, {"name": "New"}, now=NOW)
        assert repository.contents(garden.id).beds == []
        assert session.info[READING].remembered.get(garden.id) is None


def test_an_import_into_a_garden_that_is_remembered(store, open_store, garden_id, knowledge):
    other = open_store()
    with store.write() as session:
        club = Repository(session).garden(garden_id).club_id
        empty = Repository(session).add_garden(club, {"name": "New"}, now=NOW).id
    assert [contents_of(process, empty).beds for process in (store, other)] == [[], []]
    body = b"beds: [{id: kiln}]\nplantings: [{bed: kiln, crop: leek, start: 2027-04-01}]\n"
    read = read_garden(body, "yaml", knowledge=knowledge, today=lambda zone: TODAY, now=NOW)
    with store.write() as session:
        store_garden(Repository(session), read, club_id=club, into=empty, now=NOW)
    there = told(contents_of(open_store(), empty))
    assert "leek" in there
    assert [told(contents_of(process, empty)) for process in (store, other)] == [there, there]


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")
def test_a_process_forked_while_another_thread_wrote_can_write(store, garden_id):
    with store._in_turn():  # a thread of the parent that the child does not have
        turn = store._turn
        store._made_in = -1  # as a child sees it
        with store._in_turn():
            assert store._turn is not turn
    assert turn.acquire(blocking=False)


def test_what_is_known_of_a_planting_is_worked_out_once(store, garden_id, monkeypatch):
    found, asked = contents_of(store, garden_id), []
    monkeypatch.setattr("service.mapping.typed_row", lambda row: asked.append(row) or {"id": row.id, "crop": "kale"})
    first = [document(found, as_of=TODAY)["plantings"] for _ in range(2)]
    assert first[0] == first[1]
    assert [row for row in asked if row in found.plantings] == list(found.plantings)
