"""The batch command on sheets of growing size: gardens a second and core, memory, and what a second process brings.

``python tests/bench/batch.py [gardens ...]`` prints the figures; without sizes 1,000, 10,000 and 100,000.
"""

from __future__ import annotations

import http.client
import os
import resource
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from time import perf_counter, sleep
from typing import NamedTuple

from measure import Row, Target
from plans import body, plan
from serve import gunicorn

from service.store.migrating import current_revision, migrate
from service.store.repository import Repository
from service.store.session import Store
from service.store.tokens import create_token

ROOT = Path(__file__).parents[2]
PLANTINGS, PLOTS = 60, 3
SMALL = 100
SIZES = (1_000, 10_000, 100_000)
COLUMNS = ("garden", "bed", "start", "end", "crop", "method", "count", "spacing", "part", "status")
MB = 1024 * 1024


class Run(NamedTuple):
    """One run of the command: wall and processor seconds, and the most memory that all its processes held, in MB."""

    wall: float
    processor: float
    memory: float


def sheet(gardens: int) -> Iterator[str]:
    """The lines of a sheet of so many gardens of 60 plantings, one garden in three with a fault.

    Each has four beds of the plan of twelve, and days of its own, so that no date is known from the garden before.
    """
    yield ",".join(COLUMNS) + "\n"
    rows = [{**row, "part": "-".join(map(str, row["part"]))} for row in plan(PLOTS * PLANTINGS)["plantings"]]
    plots = [rows[first : first + PLANTINGS] for first in range(0, len(rows), PLANTINGS)]
    for number in range(gardens):
        for row in plots[number % PLOTS]:
            start = f"{row['start'][:8]}{1 + (int(row['start'][8:]) + number) % 28:02}"
            cells = {**row, "garden": f"Plot {number + 1}", "start": min(start, row["end"])}
            yield ",".join(str(cells[column]) for column in COLUMNS) + "\n"


def _sheet_file(gardens: int, folder: Path) -> Path:
    path = folder / f"plots-{gardens}.csv"
    if not path.exists():
        with path.open("w", encoding="utf-8") as file:
            file.writelines(sheet(gardens))
    return path


def run(gardens: int, jobs: int, folder: Path) -> Run:
    """The command on a sheet of its own, report and summary included."""
    path = _sheet_file(gardens, folder)
    command = [sys.executable, "-m", "service.cli", "batch", str(path), "--season", "2027", "--summary"]
    command += ["--jobs", str(jobs), "--out", os.devnull, "--format", "ndjson"]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = perf_counter()
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    most = _Most(process.pid)
    status = process.wait()
    wall = perf_counter() - started
    most.stop()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    if status != 2:
        raise RuntimeError(f"the batch ended with {status}")
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Run(wall, processor, most.megabytes)


def over_http(gardens: int, folder: Path) -> Run:
    """The same sheet sent to the service: one worker, its answer read while it comes."""
    path = _sheet_file(gardens, folder)
    url = f"sqlite:///{folder}/record.db"
    headers = {"Content-Type": "text/csv", "Accept": "application/x-ndjson", "Authorization": f"Bearer {_token(url)}"}
    with gunicorn("service.wsgi:app", body(5), DATABASE_URL=url, WORKERS="1", BATCH_MB="1024") as port:
        (server,) = _children(os.getpid())
        most, before, started = _Most(server), _processor(server), perf_counter()
        line = http.client.HTTPConnection("127.0.0.1", port, timeout=600)
        with path.open("rb") as file:
            headers["Content-Length"] = str(path.stat().st_size)
            line.request("POST", "/v1/checks/batch?season=2027", file, headers)
        answer = line.getresponse()
        last = b""
        while piece := answer.read(64 * 1024):
            last = last[-64 * 1024 :] + piece
        line.close()
        wall, processor = perf_counter() - started, _processor(server) - before
        most.stop()
    if answer.status != 200 or b'"complete":true' not in last:
        raise RuntimeError(f"status {answer.status}: {last[:300]!r}")
    return Run(wall, processor, most.megabytes)


def _token(url: str) -> str:
    """A token in a record of its own."""
    store, now = Store(url), datetime.now(UTC)
    if current_revision(store) is None:
        migrate(store)
    with store.write() as session:
        club = Repository(session).add_club("Bench", now=now)
        return create_token(session, club.id, "club_admin", now=now)[1]


class _Most(threading.Thread):
    """Watches what a process and all below it hold together: each page once, however many share it (PSS)."""

    def __init__(self, pid: int) -> None:
        super().__init__(daemon=True)
        self.pid, self.megabytes, self._over = pid, 0.0, threading.Event()
        self.start()

    def run(self) -> None:
        while not self._over.is_set():
            self.megabytes = max(self.megabytes, sum(map(_held, _tree(self.pid))) / MB)
            sleep(0.2)

    def stop(self) -> None:
        """Watch no longer."""
        self._over.set()
        self.join()


def _tree(pid: int) -> list[int]:
    return [pid, *(below for child in _children(pid) for below in _tree(child))]


def _children(pid: int) -> list[int]:
    try:
        return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:  # it is over
        return []


def _held(pid: int) -> int:
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines()
    except OSError:
        return 0
    return 1024 * sum(int(line.split()[1]) for line in lines if line.startswith("Pss:"))


def _processor(pid: int) -> float:
    """Processor seconds of a process and all below it that are still there."""
    fields = [Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split() for one in _tree(pid)]
    return sum(int(each[11]) + int(each[12]) for each in fields) / os.sysconf("SC_CLK_TCK")


def batch_row(gardens: int = 10_000) -> Row:
    """The row of the table: the memory of a batch beside that of a small one, and the cores it keeps busy."""
    cores = len(os.sched_getaffinity(0))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small, large = run(SMALL, cores, folder), run(gardens, cores, folder)
    more = large.memory - small.memory
    rate = gardens / large.processor
    figures = f"{more:.0f} MB more than for {SMALL}; {rate:.0f} gardens a second and core; "
    figures += f"{large.processor / large.wall:.2f} of {cores} cores busy; {gardens / large.wall:.0f} gardens a second"
    what = f"breakcrop batch, {gardens:,} gardens of {PLANTINGS} plantings"
    return Row(what, figures, Target("at most", 50.0, "{:.0f} MB"), None, more)


def main(sizes: Sequence[int]) -> None:
    """Print every figure."""
    cores = len(os.sched_getaffinity(0))
    first = sizes[0]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        base = run(SMALL, cores, folder).memory
        one, two = run(first, 1, folder), run(first, 2, folder)
        print(f"{first:,} gardens: {first / one.processor:.0f} a second on one core; "
              f"2 processes {one.wall / two.wall:.2f} times as fast as 1", flush=True)  # fmt: skip
        for size in sizes:
            print(_told(size, run(size, cores, folder), base, f"{cores} processes"), flush=True)
        base = over_http(SMALL, folder).memory
        for size in sizes[:2]:  # a larger sheet is work for a job
            print(_told(size, over_http(size, folder), base, "over HTTP, one worker"), flush=True)


def _told(gardens: int, now: Run, base: float, how: str) -> str:
    return (
        f"{gardens:,} gardens, {how}: {now.wall:.1f} s, {gardens / now.wall:.0f} a second, "
        f"{gardens / now.processor:.0f} a second and core, {now.processor / now.wall:.2f} cores busy, "
        f"{now.memory:.0f} MB, {now.memory - base:+.0f} MB against {SMALL}"
    )


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or SIZES)
