"""Connections: what survives, who waits for whom, and what it is called when nobody comes free."""

import os
import sqlite3
import threading
from datetime import UTC, date, datetime

import pytest
from sqlalchemy import event, text

from service.store.errors import Busy, NotFound, Stale, Unavailable
from service.store.migrating import require_head
from service.store.repository import Repository
from service.store.session import Store, default_url

NOW = datetime(2027, 6, 1, tzinfo=UTC)
DAY = date(2027, 5, 2)


def test_sqlite_is_set_up_to_keep_what_it_acknowledged(tmp_path):
    store = Store(f"sqlite:///{tmp_path / 'new' / 'record.db'}", lock_timeout=1.5)
    for way in (store.read, store.write):
        with way() as session:
            told = [session.scalar(text(f"PRAGMA {name}")) for name in ("journal_mode", "synchronous", "foreign_keys")]
            assert told == ["wal", 2, 1]  # 2 is FULL
            assert session.scalar(text("PRAGMA busy_timeout")) == 1500
    store.close()


def test_a_new_file_that_another_is_writing_is_waited_for(tmp_path, monkeypatch):
    path = tmp_path / "record.db"
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    slept = []
    monkeypatch.setattr("service.store.session.sleep", lambda seconds: slept.append(other.execute("COMMIT")))
    store = Store(f"sqlite:///{path}")
    with store.write() as session:
        assert session.scalar(text("PRAGMA journal_mode")) == "wal"
    assert len(slept) == 1
    store.close()
    other.execute("PRAGMA journal_mode = DELETE")
    other.execute("BEGIN IMMEDIATE")
    impatient = Store(f"sqlite:///{path}", lock_timeout=0)
    with pytest.raises(Busy), impatient.read() as session:
        session.connection()
    other.close()


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
def test_a_writer_takes_its_lock_with_its_first_word(store):
    said = []
    event.listen(store.engine, "before_cursor_execute", lambda c, cursor, statement, *rest: said.append(statement))
    with store.write() as session:
        session.connection()
    with store.read() as session:
        session.connection()
    assert said == ["BEGIN IMMEDIATE", "BEGIN"]


def test_postgres_urls_are_read_as_hosts_write_them():
    for text_ in ("postgres://u@h/d", "postgresql://u@h/d", "postgresql+psycopg://u@h/d"):
        store = Store(text_)
        assert (store.url.drivername, store.sqlite) == ("postgresql+psycopg", False)


def test_the_default_is_a_file_of_the_users_own(monkeypatch, tmp_path):
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_url() == f"sqlite:///{tmp_path}/breakcrop/record.db"
    assert Store().sqlite
    with pytest.raises(Unavailable, match="needs a file"):
        _ = Store("sqlite://").engine


def test_a_writer_that_waits_too_long_hears_busy(store, garden_id):
    impatient = Store(store.url.render_as_string(hide_password=False), lock_timeout=0.3)
    with store.write() as session:
        Repository(session).touch(garden_id)
        with pytest.raises(Busy) as caught, impatient.write() as other:
            Repository(other).touch(garden_id)
        assert caught.value.retry_after >= 1
        with impatient.read() as other:  # who only reads waits for nobody
            assert Repository(other).garden(garden_id).name == "Plots"
    with impatient.write() as other:
        assert Repository(other).touch(garden_id)
    impatient.close()


def test_a_reader_sees_one_moment(store, garden_id):
    with store.read() as session:
        before = len(Repository(session).lines(garden_id))
        with store.write() as writing:
            Repository(writing).log(garden_id, {"did": "note", "date": DAY, "note": "rain"}, now=NOW)
        assert len(Repository(session).lines(garden_id)) == before == 0
    with store.read() as session:
        assert len(Repository(session).lines(garden_id)) == 1


def test_two_writers_on_one_bed_lose_nothing(store, garden_id):
    faults, started = [], threading.Barrier(2)

    def log(name):
        try:
            started.wait(10)
            for n in range(25):
                with store.write() as session:
                    line = {"did": "watered", "date": DAY, "bed": "kiln", "planting": "kale", "note": f"{name} {n}"}
                    Repository(session).log(garden_id, line, now=NOW)
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=log, args=(name,)) for name in ("one", "other")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert faults == []
    with store.read() as session:
        notes = [line.note for line in Repository(session).lines(garden_id)]
        assert sorted(notes) == sorted(f"{name} {n}" for name in ("one", "other") for n in range(25))
        assert Repository(session).planting(garden_id, "kale").version == 51


def test_of_two_changes_to_one_version_one_is_refused(store, garden_id):
    told, started = [], threading.Barrier(2)

    def change(length):
        started.wait(10)
        try:
            with store.write() as session:
                Repository(session).change_bed(garden_id, "kiln", {"length": length}, version=1)
            told.append(length)
        except Stale as error:
            told.append(error.detail)

    threads = [threading.Thread(target=change, args=(length,)) for length in (100.0, 200.0)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    kept = [entry for entry in told if isinstance(entry, float)]
    assert len(told) == 2
    assert len(kept) == 1
    with store.read() as session:
        bed = Repository(session).bed(garden_id, "kiln")
        assert (bed.length, bed.version) == (kept[0], 2)


def test_a_forked_process_makes_connections_of_its_own(store, garden_id):
    engine = store.engine
    with store.read() as session:
        session.connection()
    before, store._made_in = store._made_in, -1  # as a child of a fork finds it
    assert store.engine is not engine
    assert store._made_in == before == os.getpid()
    with store.read() as session:
        assert Repository(session).garden(garden_id).id == garden_id
    engine.dispose()


def test_a_database_out_of_reach_is_unavailable(tmp_path):
    with pytest.raises(Unavailable), Store("postgresql://nobody@127.0.0.1:1/none").read() as session:
        session.connection()
    empty = Store(f"sqlite:///{tmp_path / 'empty.db'}")
    with pytest.raises(Unavailable), empty.read() as session:
        Repository(session).garden("none")
    with pytest.raises(Unavailable, match="this version's shape"):
        require_head(empty)
    empty.close()


def test_what_is_not_there_is_named(store, garden_id):
    with store.read() as session:
        repository = Repository(session)
        for look in (
            lambda: repository.bed(garden_id, "none"),
            lambda: repository.planting(garden_id, "none"),
            lambda: repository.line(garden_id, 7),
            lambda: repository.club("none"),
        ):
            with pytest.raises(NotFound):
                look()
