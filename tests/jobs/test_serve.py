"""``breakcrop serve``: one command that migrates, serves and works, and gets over the death of its worker."""

import signal
import socket
import subprocess
from contextlib import suppress
from pathlib import Path

import pytest
from ports import free_port
from processes import BIN, Client, children, every_garden_once, kill_at_work, process, tries, until
from sqlalchemy import select

from service.store.jobtables import Chunk
from service.store.migrating import require_head
from service.store.session import Store

SERVE = [str(BIN / "breakcrop"), "serve"]
WORKER = ("service.cli", "worker")


@pytest.fixture
def url(tmp_path):
    return f"sqlite:///{tmp_path}/new/record.db"


@pytest.fixture
def record(url):
    store = Store(url, lock_timeout=20)
    yield store
    store.close()


@pytest.fixture
def serve(tmp_path, url):
    """``serve()``: the process of a service."""
    port = str(free_port())

    def start():
        settings = {"PORT": port, "WORKERS": "1", "DATABASE_URL": url, "WORKER_PROCESSES": "1", "LEASE_SECONDS": "2"}
        named = {f"BREAKCROP_{name}": value for name, value in settings.items()}
        return process(SERVE, tmp_path / "serve.log", **named)

    start.base, start.port = f"http://127.0.0.1:{port}", int(port)
    return start


def test_a_killed_worker_is_started_again_and_a_killed_service_resumes(serve, record):
    with serve() as service:
        until(lambda: shaped(record))
        client = Client(serve.base, record)
        client.wait(service)
        key = {"Idempotency-Key": '"next-year"'}
        place = client.begin(**key)
        assert client.begin(**key) == place, "the same key is the same job"
        killed = [kill_at_work(record, lambda: children(service.pid, *WORKER))]
        until(lambda: not alive(killed[0][0]))
        killed.append(kill_at_work(record, lambda: children(service.pid, *WORKER)))
        own = children(service.pid)
        service.kill()
        service.wait()
        # Nothing of it goes on: its children follow it.
        until(lambda: not any(alive(pid) for pid in own))
    with serve() as service:
        client.wait(service)
        assert client.done(place)["failed"] == 0
        every_garden_once(client.lines(place))
        assert all(tries(record, place)[chunk] >= 2 for _, chunk in killed)
        stops_when_it_is_told_to(service, client, record)


def stops_when_it_is_told_to(service, client, record):
    """What was not finished was given back, and nothing goes on."""
    place = client.begin()
    until(lambda: any(tries(record, place).values()))
    own = children(service.pid)
    assert len(own) == 2
    service.send_signal(signal.SIGTERM)
    assert service.wait(180) == 0
    assert not any(alive(pid) for pid in own)
    with record.read() as session:
        rows = session.execute(select(Chunk.state, Chunk.faults).where(Chunk.job_id == place.rpartition("/")[2])).all()
    assert set(rows) <= {("done", 0), ("waiting", 0)}


def test_a_port_that_is_in_use_is_told_before_anything_is_done(serve, tmp_path):
    with socket.socket() as other:
        other.bind(("127.0.0.1", serve.port))
        other.listen()
        with serve() as service:
            assert service.wait(180) == 64
    said = (tmp_path / "serve.log").read_text()
    assert f"Port {serve.port} of 127.0.0.1" in said
    assert "--port" in said
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("command", ["serve", "migrate", "worker"])
def test_a_record_that_cannot_be_kept_is_told(tmp_path, command):
    (tmp_path / "file").write_text("")
    settings = {"BREAKCROP_DATABASE_URL": f"sqlite:///{tmp_path}/file/record.db", "BREAKCROP_PORT": str(free_port())}
    ended = subprocess.run([*SERVE[:1], command], env=settings, capture_output=True, text=True)
    assert ended.returncode == 70
    assert f"The record cannot be kept in {tmp_path}/file" in ended.stderr


def test_a_worker_does_not_begin_before_the_record_is_in_shape(tmp_path):
    settings = {"BREAKCROP_DATABASE_URL": f"sqlite:///{tmp_path}/record.db"}
    ended = subprocess.run([*SERVE[:1], "worker"], env=settings, capture_output=True, text=True)
    assert ended.returncode == 70
    assert "not in this version's shape" in ended.stderr


def shaped(record):
    with suppress(Exception):
        require_head(record)
        return True


def alive(pid):
    """True for a process that runs; one that ended and was not waited for yet does not."""
    with suppress(OSError):
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    return False
