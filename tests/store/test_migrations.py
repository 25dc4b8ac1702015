"""From nothing to head, from the first revision with data, and a change of a table that others point to."""

import threading
from datetime import UTC, datetime

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import inspect, text

from service.store.errors import Busy
from service.store.migrating import BrokenLinks, current_revision, head_revision, migrate, require_head
from service.store.repository import Repository
from service.store.session import WRITES, Store
from service.store.tables import Base, Entry

NOW = datetime(2027, 6, 1, tzinfo=UTC)
FIRST = "0001"

#: What the first revision could hold, in its own words: never changed when tables are.
DATA = """
INSERT INTO clubs (id, name, created_at) VALUES ('c', 'Club', '2026-01-01 00:00:00');
INSERT INTO gardens (id, club_id, version, revision, created_at, name, latitude, last_spring_frost)
  VALUES ('g', 'c', 1, 1, '2026-01-01 00:00:00', 'Plots', 46.2, '{"p50": [5, 4]}');
INSERT INTO own_crops (garden_id, id, place, family) VALUES ('g', 'oca', 0, 'Oxalidaceae');
INSERT INTO beds (garden_id, id, place, version, position) VALUES ('g', 'old', 0, 1, '[0, 1.5]');
INSERT INTO beds (garden_id, id, place, version, from_day) VALUES ('g', 'kiln', 1, 3, '2026-02-15');
INSERT INTO grounds (garden_id, newer, place, bed) VALUES ('g', 'kiln', 0, 'old');
INSERT INTO plantings (garden_id, id, place, version, bed, crop, start_day)
  VALUES ('g', 'kale', 0, 2, 'kiln', 'kale', '2027-05-01');
INSERT INTO tokens (id, club_id, garden_id, scope, digest, created_at)
  VALUES ('t', 'c', 'g', 'garden_write', 'd', '2026-01-01 00:00:00');
INSERT INTO journal (garden_id, bed, planting, date, did, recorded_at, token_id, detail)
  VALUES ('g', 'kiln', 'kale', '2027-05-02', 'sown', '2027-05-02 08:00:00', 't', '{"count": 8}');
INSERT INTO answered (token_id, key, body_hash, status, created_at) VALUES ('t', 'k', 'h', 201, '2027-05-02 08:00:00');
"""

LATER = """
from alembic import op
import sqlalchemy as sa
revision, down_revision, branch_labels, depends_on = "9999", "{head}", None, None
def upgrade():
    with op.batch_alter_table("beds") as batch:
        batch.add_column(sa.Column("shade", sa.String(16)))
        batch.alter_column("name", type_=sa.String(120))
        batch.create_check_constraint("shade", "shade <> 'wrong'")
    {more}
"""


@pytest.fixture
def empty(new_url):
    store = Store(new_url(migrated=False))
    yield store
    store.close()


def fill(store):
    with store.engine.execution_options(**{WRITES: True}).begin() as connection:
        for statement in DATA.split(";"):
            if statement.strip():
                connection.exec_driver_sql(statement)


def garden_is_whole(store):
    with store.read() as session:
        contents = Repository(session).contents("g")
        (line,) = contents.journal
        return (
            [bed.id for bed in contents.beds] == ["old", "kiln"]
            and contents.beds[0].position == (0.0, 1.5)
            and [(ground.newer, ground.bed) for ground in contents.grounds] == [("kiln", "old")]
            and [(p.id, p.version) for p in contents.plantings] == [("kale", 2)]
            and (line.did, line.detail) == ("sown", {"count": 8})
            and session.get(Entry, line.id).token_id == "t"
            and session.scalar(text("SELECT count(*) FROM answered")) == 1
        )


def later(tmp_path, more="pass"):
    (tmp_path / "later").mkdir()
    (tmp_path / "later" / "9999_later.py").write_text(LATER.format(head=head_revision(), more=more), "utf-8")
    return [tmp_path / "later"]


def test_the_migrations_make_what_the_tables_say(empty):
    assert current_revision(empty) is None
    migrate(empty)
    assert current_revision(empty) == head_revision() is not None
    with empty.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []
    migrate(empty)  # again is nothing to do
    require_head(empty)


def test_data_of_the_first_revision_comes_along(empty):
    migrate(empty, FIRST)
    fill(empty)
    migrate(empty)
    assert garden_is_whole(empty)
    with empty.write() as session:
        line = Repository(session).log("g", {"did": "note", "date": NOW.date(), "note": "on"}, now=NOW)
        assert line.id == 2


def test_a_table_that_others_point_to_can_be_changed(empty, tmp_path):
    migrate(empty)
    fill(empty)
    migrate(empty, folders=later(tmp_path))
    assert current_revision(empty) == "9999"
    assert garden_is_whole(empty)
    columns = {column["name"] for column in inspect(empty.engine).get_columns("beds")}
    assert "shade" in columns
    links = inspect(empty.engine).get_foreign_keys("plantings")
    assert "beds" in {link["referred_table"] for link in links}


def test_a_migration_that_fails_leaves_nothing_behind(empty, tmp_path):
    migrate(empty)
    fill(empty)
    with pytest.raises(ZeroDivisionError):
        migrate(empty, folders=later(tmp_path, more="1 / 0"))
    assert current_revision(empty) == head_revision()
    assert garden_is_whole(empty)
    assert "shade" not in {column["name"] for column in inspect(empty.engine).get_columns("beds")}


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)
def test_a_migration_that_would_break_a_link_is_refused(empty, tmp_path):
    migrate(empty)
    fill(empty)
    cut = """op.execute("DELETE FROM beds WHERE id = 'old'")"""
    with pytest.raises(BrokenLinks, match="grounds"):
        migrate(empty, folders=later(tmp_path, more=cut))
    assert garden_is_whole(empty)


def test_two_that_start_at_once_migrate_once(empty):
    faults = []

    def start():
        try:
            migrate(Store(empty.url.render_as_string(hide_password=False)))
        except Exception as error:
            faults.append(error)

    threads = [threading.Thread(target=start) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert faults == []
    require_head(empty)


def test_a_migration_does_not_wait_for_ever(empty):
    migrate(empty)
    impatient = Store(empty.url.render_as_string(hide_password=False), lock_timeout=0.3)
    with empty.engine.execution_options(**{WRITES: True}).begin() as connection:
        if not empty.sqlite:
            connection.exec_driver_sql("SELECT pg_advisory_xact_lock(5203114907)")
        with pytest.raises(Busy):
            migrate(impatient)
