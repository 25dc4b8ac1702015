"""Under gunicorn: a worker whose threads are all busy leaves new connections to the others."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

#: Answers with the id of its process; ``/held`` not before the file is there.
APP = """
import os, pathlib, time
def app(environ, start):
    while environ["PATH_INFO"] == "/held" and not pathlib.Path(os.environ["RELEASE"]).exists():
        time.sleep(0.01)
    start("200 OK", [("Content-Type", "text/plain"), ("Content-Length", str(len(str(os.getpid()))))])
    return [str(os.getpid()).encode()]
"""
PATIENCE = 60.0


@pytest.fixture
def port(tmp_path: Path) -> Iterator[int]:
    """Two workers of one thread each, under the service's own settings."""
    (tmp_path / "holding.py").write_text(APP)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        number: int = free.getsockname()[1]
    settings = {"PORT": str(number), "WORKERS": "2", "THREADS": "1", "LOG_LEVEL": "warning"}
    env = os.environ | {f"BREAKCROP_{name}": value for name, value in settings.items()}
    env["RELEASE"] = str(tmp_path / "release")
    command = [sys.executable, "-m", "gunicorn", "-c", "python:service.gunicorn_conf", "--pythonpath", str(tmp_path)]
    server = subprocess.Popen([*command, "holding:app"], env=env)
    try:
        until = time.monotonic() + PATIENCE
        seen: set[bytes] = set()
        while len(seen) < 2:  # both are there
            assert server.poll() is None
            assert time.monotonic() < until, f"only {seen} answered"
            with suppress(OSError, http.client.HTTPException):
                lines = [_asked(number, "/") for _ in range(4)]
                seen |= {_told(line) for line in lines}
            time.sleep(0.02)
        yield number
    finally:
        (tmp_path / "release").touch()
        server.terminate()
        server.wait(PATIENCE)


def test_a_quick_question_does_not_wait_behind_a_slow_one(port: int, tmp_path: Path) -> None:
    held = _asked(port, "/held")
    quick = {_told(_asked(port, "/")) for _ in range(24)}
    assert len(quick) == 1
    (tmp_path / "release").touch()
    assert _told(held) not in quick


def _asked(port: int, path: str) -> http.client.HTTPConnection:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    line.request("GET", path, headers={"Connection": "close"})
    return line


def _told(line: http.client.HTTPConnection) -> bytes:
    try:
        return line.getresponse().read()
    finally:
        line.close()
