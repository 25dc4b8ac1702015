"""Nothing is restored under a process that uses the record, connected or not; a dead one uses nothing."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.app import build
from service.backup import back_up, restore
from service.config import Config
from service.state import KEY
from service.store.errors import Busy
from service.store.session import Store
from service.store.using import alone, use, used

NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
ROOT = Path(__file__).parents[2]
SITS = """
import sys
from service.store.session import Store
from service.store.using import used
with used(Store(sys.argv[1])):
    print("there", flush=True)
    sys.stdin.read()
"""

pytestmark = pytest.mark.parametrize("backend", ["sqlite"], indirect=True)


@pytest.fixture
def copy(store, garden_id, tmp_path):
    path = tmp_path / "copy.db"
    back_up(store, path)
    store.close()
    return path


def url_of(store):
    return store.url.render_as_string(hide_password=False)


@pytest.mark.parametrize("end", ["kill", "terminate", "ends"])
def test_a_process_that_only_sits_there_keeps_a_restore_off_until_it_is_gone(store, copy, end):
    sits = subprocess.Popen(
        [sys.executable, "-c", SITS, url_of(store)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, cwd=ROOT
    )
    try:
        assert sits.stdout.readline() == b"there\n"
        with pytest.raises(Busy) as caught:
            restore(store, copy, now=NOW)
        assert "Stop the service" in caught.value.detail
        assert not list(Path(store.url.database).parent.glob("*before*"))
    finally:
        if end == "ends":
            sits.stdin.close()
        else:
            getattr(sits, end)()
        sits.wait()
        sits.stdin.close()
        sits.stdout.close()
    assert restore(store, copy, now=NOW)[0].gardens == 1


def test_an_application_uses_the_record_from_its_first_question_on(store, copy):
    app = build(Config(database_url=url_of(store)))
    assert restore(store, copy, now=NOW)[0].gardens == 1
    state = app.extensions[KEY]
    assert app.test_client().get("/readyz").status_code == 200
    state.store.close()  # no connection is left, but what was read is remembered
    with pytest.raises(Busy):
        restore(store, copy, now=NOW)
    state.using.release()
    assert restore(store, copy, now=NOW)[0].gardens == 1


def test_nobody_begins_to_use_a_record_that_is_being_restored(store, copy):
    app = build(Config(database_url=url_of(store)))
    with alone(Path(store.url.database)):
        with pytest.raises(Busy) as caught, used(store):
            pass
        assert caught.value.detail == "The record is being restored. Try again in a moment."
        assert app.test_client().get("/readyz").status_code == 503
    with used(store), used(store):
        assert use(store) is not None
    assert app.test_client().get("/readyz").status_code == 200


def test_there_is_nothing_to_hold_in_postgresql_or_without_a_folder(tmp_path, backend):
    assert use(Store("postgresql://localhost/club")) is None
    assert use(Store(f"sqlite:///{tmp_path}/none/record.db")) is None
    assert list(tmp_path.iterdir()) == []
