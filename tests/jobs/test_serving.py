"""The supervisor: two children, one of which is the service."""

import os
import signal
import socket
import sys
import threading
import time

import pytest

from service import serving
from service.serving import Unusable, check_address, supervise

PYTHON = (sys.executable, "-c")


def program(text, *arguments):
    return (*PYTHON, text, *map(str, arguments))


COUNTING = "import sys, time; open(sys.argv[1], 'a').write('x'); sys.exit(1)"
PATIENT = """
import signal, sys, time
def told(number, frame):
    open(sys.argv[1], 'a').write(f'{number} ')
    sys.exit(0)
for number in (signal.SIGTERM, signal.SIGINT):
    signal.signal(number, told)
open(sys.argv[1] + '.up', 'w').close()
time.sleep(600)
"""


@pytest.mark.parametrize(("text", "status"), [
    ("raise SystemExit(3)", 3), ("", 0), ("import os; os.kill(os.getpid(), 9)", 137),
])  # fmt: skip
def test_its_status_is_that_of_the_service(text, status):
    assert supervise(program(text), worker=None) == status


def test_a_worker_that_dies_is_started_again_and_ends_with_the_service(tmp_path, monkeypatch, caplog):
    monkeypatch.setattr(serving, "FIRST_WAIT", 0.05)
    counted = tmp_path / "counted"
    begin = time.monotonic()
    waits = "import sys, time\nwhile len(open(sys.argv[1]).read()) < 3: time.sleep(.02)"
    counted.touch()
    assert supervise(program(waits, counted), program(COUNTING, counted)) == 0
    assert len(counted.read_text()) >= 3
    assert time.monotonic() - begin >= 0.05 + 0.1, "each time it waits longer"
    assert "again in 0.05 s" in caplog.text
    assert "again in 0.1 s" in caplog.text


def test_the_worker_is_stopped_when_the_service_ends(tmp_path):
    waits = "import os, sys, time\nwhile not os.path.exists(sys.argv[1] + '.up'): time.sleep(.02)"
    assert supervise(program(waits, tmp_path / "worker"), program(PATIENT, tmp_path / "worker")) == 0
    assert (tmp_path / "worker").read_text() == f"{int(signal.SIGTERM)} "


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_signals_are_passed_on(tmp_path, number):
    files = tmp_path / "server", tmp_path / "worker"

    def stop():
        while not all(file.with_suffix(".up").exists() for file in files):
            time.sleep(0.02)
        os.kill(os.getpid(), number)

    threading.Thread(target=stop).start()
    assert supervise(*(program(PATIENT, file) for file in files)) == 0
    assert files[0].read_text() == f"{int(number)} "
    assert files[1].read_text() == f"{int(signal.SIGTERM)} "


def test_signals_are_as_before_afterwards():
    before = [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)]
    supervise(program(""), worker=None)
    assert [signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)] == before


def test_an_address_is_tried_first():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        other.listen()
        with pytest.raises(Unusable, match=f"Port {port} of 127.0.0.1 .*already in use.*--port"):
            check_address("127.0.0.1", port)
    check_address("127.0.0.1", port)
    check_address("::1", port)
    with pytest.raises(Unusable, match="no address"):
        check_address("nowhere.invalid", port)
