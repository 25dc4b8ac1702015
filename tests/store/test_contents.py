"""What a process remembers of a garden is what stands in the database, whoever wrote it and however."""

from __future__ import annotations

import os
import shutil
from datetime import UTC, date, datetime

import pytest
from sqlalchemy import event

from service.mapping import document, garden_plan
from service.plantingsheet import import_plantings
from service.store.contents import Contents, Remembered
from service.store.journal import Journal
from service.store.repository import Repository
from service.store.session import Store

DAY, TODAY = date(2027, 5, 20), date(2027, 6, 1)
NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
WATERED = {"did": "watered", "bed": "kiln", "date": DAY}


def contents_of(store, garden_id):
    with store.read() as session:
        return Repository(session).contents(garden_id)


def told(contents):
    """Everything that can be asked of contents."""
    journal = contents.journal
    found = [
        contents.garden,
        *map(list, (contents.crops, contents.beds, contents.grounds, contents.plantings, journal)),
    ]
    return [*found, journal.undone, journal.standing, journal.lives, document(contents, as_of=TODAY)]


def url(store):
    return store.url.render_as_string(hide_password=False)


@pytest.fixture
def other(store):
    """Another process, as far as the record can tell."""
    there = Store(url(store))
    yield there
    there.close()


def fresh(store, garden_id):
    """The garden as a process reads it that has just begun."""
    new = Store(url(store))
    try:
        return contents_of(new, garden_id)
    finally:
        new.close()


#: Each kind of write to a garden, in an order in which they can follow each other.
WRITES = {
    "a bed": lambda record: record.add_bed({"id": "oven", "replaces": [{"bed": "quay", "from": DAY}]}),
    "another bed's ground": lambda record: record.change_bed("oven", {"replaces": [{"bed": "kiln"}]}),
    "a bed's length": lambda record: record.change_bed("kiln", {"length": 250.0}),
    "the garden": lambda record: record.change_garden({"latitude": -35.0}),
    "a crop": lambda record: record.add_crop({"id": "oca", "family": "Oxalidaceae"}),
    "a planting": lambda record: record.add_planting({"bed": "quay", "crop": "oca", "start": DAY}),
    "a planted number": lambda record: record.change_planting("kale", {"count": 9}),
    "a sheet": lambda record: import_plantings(record, b"bed,crop,start,end\nquay,leek,2026-05-01,2026-09-01\n"),
    "a line": lambda record: record.log(WATERED),
    "lines of a life": lambda record: [
        record.log({"did": "sown", "planting": "kale", "date": DAY}),
        record.log({"did": "harvested", "planting": "kale", "date": TODAY}),
        record.log({"did": "emerged", "planting": "kale", "date": date(2027, 5, 25)}),
    ],
    "an undo": lambda record: record.undo(plantings={"kale"}),
    "a cover": lambda record: record.log({"did": "covered", "bed": "kiln", "kind": "net", "date": DAY}),
    "a cover off": lambda record: record.log({"did": "uncovered", "bed": "kiln", "date": TODAY}),
    "a planting gone": lambda record: record.repository.remove_planting(record.garden_id, "quay.oca.2027-05-20"),
    "a crop gone": lambda record: record.remove_crop("oca"),
    "a bed gone": lambda record: record.repository.remove_bed(record.garden_id, "oven"),
}


def test_what_is_remembered_is_what_is_there(store, other, garden_id, writing, knowledge):
    for what, write in WRITES.items():
        garden_plan(contents_of(store, garden_id), knowledge, as_of=TODAY)
        contents_of(other, garden_id)
        with writing() as record:
            write(record)
        there = fresh(store, garden_id)
        for process in (store, other):
            found = contents_of(process, garden_id)
            assert told(found) == told(there), what
            # By what they say: a crop of one's own is another object in each plan.
            plans = [garden_plan(one, knowledge, as_of=TODAY).plantings for one in (found, there)]
            assert repr(plans[0]) == repr(plans[1]), what


def test_what_a_writer_reads_is_what_it_wrote(garden_id, writing, store):
    contents_of(store, garden_id)
    with writing() as record:
        for what, write in WRITES.items():
            write(record)
            found = record.repository.contents(garden_id)
            journal = Journal(found.journal)
            whole = Contents(found.garden, found.crops, found.beds, found.grounds, found.plantings, journal)
            assert told(found) == told(whole), what
            rows = [(bed.id, bed.version) for bed in record.repository.contents(garden_id).beds]
            assert [(name, record.repository.bed(garden_id, name).version) for name, _ in rows] == rows, what
            versions = [(p.id, p.version) for p in found.plantings]
            kept = [(name, record.repository.planting(garden_id, name).version) for name, _ in versions]
            assert kept == versions, what
    assert told(contents_of(store, garden_id)) == told(fresh(store, garden_id))


def test_what_was_taken_back_is_remembered_by_nobody(store, garden_id, writing):
    contents_of(store, garden_id)
    with pytest.raises(ZeroDivisionError), writing() as record:  # noqa: PT012
        record.log({"did": "note", "note": "never was", "date": DAY})
        record.change_bed("kiln", {"length": 1.0})
        assert record.contents().beds[0].length == 1.0
        _ = 1 / 0
    assert contents_of(store, garden_id).beds[0].length == 300.0
    with writing() as record:  # on SQLite the line has the number of the one that never was
        record.log({"did": "note", "note": "was", "date": DAY})
    found = contents_of(store, garden_id)
    assert [line.note for line in found.journal] == ["was"]
    assert told(found) == told(fresh(store, garden_id))


def test_a_reader_of_an_earlier_moment_sees_that_moment(store, garden_id, writing):
    with store.read() as session:
        assert Repository(session).lines(garden_id) == []
        with writing() as record:
            record.log(WATERED)
        contents_of(store, garden_id)
        assert Repository(session).contents(garden_id).journal == ()
    assert len(contents_of(store, garden_id).journal) == 1


def test_a_line_that_changes_no_plan_leaves_the_plan(store, other, garden_id, writing, knowledge):
    plan = garden_plan(contents_of(store, garden_id), knowledge, as_of=TODAY)
    with other.write() as session:
        Repository(session).log(garden_id, WATERED, now=NOW)
    found = contents_of(store, garden_id)
    assert len(found.journal) == 1
    assert garden_plan(found, knowledge, as_of=TODAY) is plan
    assert garden_plan(found, knowledge, as_of=date(2027, 6, 2)) is not plan
    with writing() as record:
        record.log({"did": "sown", "planting": "kale", "date": DAY})
    assert garden_plan(contents_of(store, garden_id), knowledge, as_of=TODAY) is not plan


def test_a_line_to_a_garden_that_is_remembered_reads_no_other_lines(store, garden_id, writing):
    for _ in range(3):
        with writing() as record:
            record.log(WATERED)
    contents_of(store, garden_id)
    asked = []
    event.listen(store.engine, "before_cursor_execute", lambda *args: asked.append(args[2]))
    with writing() as record:
        record.log({"did": "note", "bed": "quay", "note": "wet", "date": DAY})
    assert asked
    assert [text for text in asked if "FROM plantings" in text or "FROM journal" in text] == []


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
def test_a_file_put_in_the_place_of_another_is_read(store, garden_id, writing, tmp_path):
    path = store.url.database
    copy = Store(f"sqlite:///{tmp_path}/copy.db")
    with store.engine.begin() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy(path, copy.url.database)
    for place, note in ((copy, "theirs"), (store, "ours")):
        with place.write() as session:
            Repository(session).log(garden_id, {"did": "note", "note": note, "date": DAY}, now=NOW)
    assert contents_of(store, garden_id).journal[0].note == "ours"
    copy.close()
    for end in ("-wal", "-shm"):
        if os.path.exists(path + end):
            os.unlink(path + end)
    os.replace(copy.url.database, path)
    assert contents_of(store, garden_id).journal[0].note == "theirs"


def test_only_so_much_is_remembered(store, garden_id):
    found = contents_of(store, garden_id)
    remembered = Remembered(most=2 * found.rows)
    for number in range(3):
        garden = found.garden._replace(id=f"g{number}")
        remembered.put(Contents(garden, found.crops, found.beds, found.grounds, found.plantings, found.journal))
        remembered.get("g0")
    assert [remembered.get(f"g{number}") is not None for number in range(3)] == [True, False, True]
    assert remembered.rows == 2 * found.rows
    earlier = Contents(garden._replace(revision=0), [], [], [], [], Journal())
    remembered.put(earlier)
    assert remembered.get("g2") is not earlier
