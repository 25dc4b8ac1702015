"""The service and a bare Flask echo, each under gunicorn with the same settings, and the load on them."""

from __future__ import annotations

import http.client
import os
import re
import shutil
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from time import monotonic, sleep

from flask import Flask, Response, request

HERE = Path(__file__).parent
CONNECTIONS = 16
MOST_REQUESTS = 200_000
READY_WITHIN = 30.0
_JSON = {"Content-Type": "application/json"}
_LUA = """\
local made, turn = {}, 0
init = function()
  for n = 0, %d do
    local file = assert(io.open("%s/" .. n .. ".json", "rb"))
    made[n] = wrk.format("POST", nil, { ["Content-Type"] = "application/json" }, file:read("*a"))
    file:close()
  end
end
request = function()
  turn = (turn + 1) %% (#made + 1)
  return made[turn]
end
"""


def echo() -> Flask:
    """A Flask application that answers every POST with the bytes it got."""
    app = Flask("echo")

    @app.post("/v1/checks")
    def answer() -> Response:
        return Response(request.get_data(cache=False), content_type="application/json")

    return app


@contextmanager
def gunicorn(app: str, probe: bytes, **settings: str) -> Iterator[int]:
    """An application under the service's own gunicorn settings; gives its port, stops it at the end.

    ``settings`` are more settings of the service, by their names without prefix.
    """
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    # No budget and no access log: both would be measured instead of the check.
    own = {"HOST": "127.0.0.1", "PORT": str(port), "CHECKS_PER_MINUTE": "0", "LOG_LEVEL": "warning", **settings}
    ours = {name: value for name, value in os.environ.items() if not name.startswith("BREAKCROP_")}
    ours |= {f"BREAKCROP_{name}": value for name, value in own.items()}
    command = [sys.executable, "-m", "gunicorn", "-c", "python:service.gunicorn_conf", "--pythonpath", str(HERE), app]
    server = subprocess.Popen(command, env=ours, cwd=HERE.parents[1])
    try:
        _wait(server, port, probe)
        yield port
    finally:
        server.terminate()
        try:
            server.wait(10)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()


def post(port: int, body: bytes) -> tuple[int, bytes]:
    """Status and body of one check."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    try:
        line.request("POST", "/v1/checks", body, _JSON)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


def _wait(server: subprocess.Popen[bytes], port: int, probe: bytes) -> None:
    until = monotonic() + READY_WITHIN
    while monotonic() < until:
        if server.poll() is not None:
            raise RuntimeError(f"gunicorn ended with status {server.returncode}")
        with suppress(OSError, http.client.HTTPException):
            status, answer = post(port, probe)
            if status != 200:
                raise RuntimeError(f"status {status}: {answer[:300]!r}")
            return
        sleep(0.1)
    raise RuntimeError(f"gunicorn did not answer within {READY_WITHIN:.0f} s")


def client_name() -> str:
    """The load generator that ``load`` will use."""
    return "wrk" if shutil.which("wrk") else "threads of the standard library"


def load(port: int, bodies: Sequence[bytes], seconds: float, folder: Path) -> float:
    """Checks answered a second; RuntimeError if one of them is not answered with 200."""
    return (_wrk if shutil.which("wrk") else threads)(port, bodies, seconds, folder)


def _wrk(port: int, bodies: Sequence[bytes], seconds: float, folder: Path) -> float:
    for number, body in enumerate(bodies):
        (folder / f"{number}.json").write_bytes(body)
    return run_wrk(f"http://127.0.0.1:{port}/v1/checks", _LUA % (len(bodies) - 1, folder), seconds, folder)


def run_wrk(url: str, script: str, seconds: float, folder: Path, *, connections: int = CONNECTIONS) -> float:
    """Answers a second that wrk counts; RuntimeError if one of them is not a success."""
    file = folder / "load.lua"
    file.write_text(script)
    # wrk counts whole seconds only.
    settings = ["-t", "1", "-c", str(connections), "-d", f"{max(1, round(seconds))}s", "-s", str(file)]
    settings += ["--timeout", "20s"]  # an answer that comes late is an answer; how late, other rows tell
    command = ["wrk", *settings, url]
    told = subprocess.run(command, capture_output=True, text=True, timeout=seconds + 30, check=True).stdout
    rate = re.search(r"Requests/sec:\s+([0-9.]+)", told)
    if rate is None or float(rate[1]) == 0 or "Non-2xx" in told or "Socket errors" in told:
        raise RuntimeError(f"wrk reports:\n{told}")
    return float(rate[1])


def threads(port: int, bodies: Sequence[bytes], seconds: float, _folder: Path | None = None) -> float:
    """The same load without wrk: a thread a connection, until the time or the count is used up."""
    started = monotonic()
    counts, faults = [0] * CONNECTIONS, []

    def work(own: int) -> None:
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        try:
            while monotonic() < started + seconds and counts[own] < MOST_REQUESTS // CONNECTIONS:
                body = bodies[(own + counts[own] * CONNECTIONS) % len(bodies)]
                line.request("POST", "/v1/checks", body, _JSON)
                answer = line.getresponse()
                if answer.read() and answer.status != 200:
                    raise RuntimeError(f"status {answer.status}")
                counts[own] += 1
        except (OSError, http.client.HTTPException, RuntimeError) as error:
            faults.append(repr(error))
        finally:
            line.close()

    workers = [threading.Thread(target=work, args=(own,)) for own in range(CONNECTIONS)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    if faults or not sum(counts):
        raise RuntimeError(f"the client met: {faults[:3]}")
    return sum(counts) / (monotonic() - started)
