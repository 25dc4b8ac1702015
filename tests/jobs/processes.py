"""The program in processes of its own, spoken to over HTTP, and killed in the middle of a chunk."""

import json
import os
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections import Counter
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import select

from service.store.jobtables import Chunk
from service.store.repository import Repository
from service.store.tokens import create_token

BIN = Path(sys.executable).parent
GARDENS = 210
#: Four beds of four years: enough work that a chunk is not over before somebody looks.
CROPS = ("kale", "cabbage", "onion", "potato", "carrot", "leek", "lettuce", "beetroot")


def sheet(gardens=GARDENS):
    rows = ["garden,bed,season,crop"]
    for number in range(gardens):
        for year in range(2024, 2028):
            rows += [f"Plot {number},bed-{bed},{year},{CROPS[(number + bed + year) % 8]}" for bed in range(4)]
    return ("\n".join(rows) + "\n").encode()


@contextmanager
def process(command, log, **settings):
    """A command of the program with these settings and no others; ended, with all its own, at the end."""
    ours = {name: value for name, value in os.environ.items() if not name.startswith("BREAKCROP_")}
    environment = {**ours, "PATH": f"{BIN}:{ours.get('PATH', '')}", **settings}
    with log.open("ab") as out:
        started = subprocess.Popen(
            command, env=environment, cwd=log.parent, stdin=subprocess.DEVNULL, stdout=out, stderr=out
        )
        started.log = log
        try:
            yield started
        finally:
            if started.poll() is None:
                started.terminate()
                try:
                    started.wait(60)
                except subprocess.TimeoutExpired:
                    started.kill()
                    started.wait()


def until(true, seconds=180, every=0.02):
    """The first value of a function that is true."""
    over = time.monotonic() + seconds
    while not (found := true()):
        assert time.monotonic() < over, f"waited {seconds} s"
        time.sleep(every)
    return found


class Client:
    """A club admin at the door of a service."""

    def __init__(self, base, store):
        self.base = base
        with store.write() as session:
            now = datetime.now(UTC)
            club = Repository(session).add_club("Tannery Row", now=now)
            self.secret = create_token(session, club.id, "club_admin", now=now)[1]

    def ask(self, path, body=None, **headers):
        """The status, the headers and the body of an answer."""
        headers = {"Authorization": f"Bearer {self.secret}", "Content-Type": "text/csv", **headers}
        try:
            with urllib.request.urlopen(urllib.request.Request(self.base + path, body, headers), timeout=60) as answer:
                return answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as error:
            return error.code, error.headers, error.read()

    def wait(self, service):
        """Until the service is ready; one that has ended never is."""

        def ready():
            assert service.poll() is None, f"the service ended with {service.returncode}: {service.log.read_text()}"
            with suppress(OSError):
                return self.ask("/readyz")[0] == 200

        until(ready, every=0.1)

    def begin(self, **headers):
        status, headers, body = self.ask("/v1/jobs?kind=batch&season=2027&country=FR", sheet(), **headers)
        assert status == 202, body
        return headers["Location"]

    def job(self, place):
        return json.loads(self.ask(place)[2])

    def done(self, place):
        return until(lambda: (job := self.job(place))["state"] == "done" and job, every=0.2)

    def lines(self, place):
        status, _, body = self.ask(f"{place}/results")
        assert status == 200, body
        return [json.loads(line) for line in body.splitlines()]


def every_garden_once(lines, gardens=GARDENS):
    *answered, summary = lines
    assert [line["garden"] for line in answered] == [f"Plot {number}" for number in range(gardens)]
    assert Counter(line["type"] for line in answered) == {"report": gardens}
    assert (summary["type"], summary["complete"], summary["gardens"], summary["failed"]) == (
        "summary",
        True,
        gardens,
        0,
    )


def kill_at_work(store, pids):
    """Kill -9 one of these workers while it holds a chunk; returns its process id and the first garden of the chunk.

    It is held still first, so that it cannot finish between the look and the end.
    """

    def caught():
        for pid in pids():
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGSTOP)
                held = running(store, pid)
                if held:
                    os.kill(pid, signal.SIGKILL)
                    return pid, held[0]
                os.kill(pid, signal.SIGCONT)
        return None

    return until(caught)


def running(store, pid):
    with store.read() as session:
        held = session.execute(select(Chunk.first, Chunk.worker).where(Chunk.state == "running")).all()
    return [first for first, worker in held if f":{pid}:" in worker]


def tries(store, place):
    """How often each chunk of a job was claimed."""
    wanted = select(Chunk.first, Chunk.tries).where(Chunk.job_id == place.rpartition("/")[2])
    with store.read() as session:
        return dict(map(tuple, session.execute(wanted)))


def children(pid, *words):
    """Process ids of the children whose command has all of these words."""
    found = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        for child in task.read_text().split():
            with suppress(OSError):
                command = Path(f"/proc/{child}/cmdline").read_bytes().decode().split("\0")
                if set(words) <= set(command):
                    found.append(int(child))
    return found
