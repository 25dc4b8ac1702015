"""Jobs on SQLite and PostgreSQL: chunks claimed and finished a second, gardens checked a second beside no job at all.

``python tests/bench/jobs.py [--quick]`` prints the table.
"""

from __future__ import annotations

import argparse
import io
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import perf_counter, sleep

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "store")]

from batch import sheet  # noqa: E402
from databases import own_postgres, run_alone, url_text  # noqa: E402
from measure import markdown  # noqa: E402

import rules  # noqa: E402
from service.batch.gardens import Gardens  # noqa: E402
from service.batch.gardens import pack as packed_garden  # noqa: E402
from service.batch.judge import Shared, judge_garden  # noqa: E402
from service.batch.run import chunks as gardens_in_chunks  # noqa: E402
from service.jobs import chunks, jobs  # noqa: E402
from service.jobs.batching import own_rules  # noqa: E402
from service.jobs.crew import Crew, Pace  # noqa: E402
from service.jobs.kinds import KINDS  # noqa: E402
from service.jobs.packing import pack  # noqa: E402
from service.store.migrating import migrate  # noqa: E402
from service.store.repository import Repository  # noqa: E402
from service.store.session import Store  # noqa: E402

LEASE = timedelta(seconds=60)
SHARED = Shared(date(2026, 11, 20), "2027", {"garden": {"latitude": 46.2, "country": "FR"}})
HANDS = (1, 4)


class Club:
    """A club with jobs, in an empty record."""

    def __init__(self, url: str) -> None:
        self.store = Store(url, lock_timeout=30)
        migrate(self.store)
        with self.store.write() as session:
            self.id = Repository(session).add_club("Tannery Row", now=now()).id

    def begin(self, packed: list[jobs.Packed]) -> str:
        """A job that checks gardens."""
        with self.store.write() as session:
            return jobs.begin(session, "batch", pack(SHARED.pack()), packed, club_id=self.id, now=now()).id

    def wait(self, job_id: str) -> None:
        """Until the job is done."""
        while True:
            with self.store.read() as session:
                if jobs.find(session, job_id, self.id).state == "done":
                    return
            sleep(0.05)


def now() -> datetime:
    """This moment."""
    return datetime.now(UTC)


def emptied(club: Club, count: int, hands: int) -> float:
    """Chunks a second that are claimed and finished by some threads when there is nothing to do in them."""
    club.begin([jobs.Packed(1, pack([[1, "{}"]]))] * count)
    worker, result = chunks.Worker("bench", own_rules(), tuple(KINDS)), pack([])

    def work() -> None:
        while True:
            with club.store.write() as session:
                held = chunks.claim(session, worker, now=now(), lease=LEASE)
            if held is None:
                return
            with club.store.write() as session:
                chunks.finish(session, held, result, 0, now=now())

    threads = [threading.Thread(target=work) for _ in range(hands)]
    return count / timed(lambda: [*map(threading.Thread.start, threads), *map(threading.Thread.join, threads)])


def checked(club: Club, gardens: int, processes: int) -> float:
    """Gardens a second from a job that is sent to its last answer, its crew up and warm."""
    items = list(Gardens(io.BytesIO("".join(sheet(gardens)).encode())))
    crew = Crew(club.store, processes, Pace(poll=0.05))
    crew.start()
    try:
        club.wait(club.begin(packed(items[: 2 * processes], 1)))  # every process has loaded what it needs
        return gardens / timed(lambda: club.wait(club.begin(packed(items, 100))))
    finally:
        crew.stop()


def packed(items: list, most: int) -> list[jobs.Packed]:
    """Gardens as a job keeps them."""
    several = gardens_in_chunks(items, gardens=most)
    return [jobs.Packed(len(chunk), pack([packed_garden(item) for item in chunk])) for chunk in several]


def without_job(gardens: int) -> float:
    """Gardens a second in this process, one after the other."""
    knowledge = rules.load_knowledge()
    items = list(Gardens(io.BytesIO("".join(sheet(gardens)).encode())))
    judge_garden(items[0], SHARED, knowledge)
    return gardens / timed(lambda: [judge_garden(item, SHARED, knowledge) for item in items])


def timed(work: Callable[[], object]) -> float:
    """Seconds that it takes."""
    begin = perf_counter()
    work()
    return perf_counter() - begin


@contextmanager
def records() -> Iterator[dict[str, Club]]:
    """An empty record in both databases."""
    with tempfile.TemporaryDirectory() as folder, own_postgres() as server:
        run_alone(server, "CREATE DATABASE bench_jobs")
        clubs = {
            "SQLite": Club(f"sqlite:///{folder}/record.db"),
            "PostgreSQL": Club(url_text(server.set(database="bench_jobs"))),
        }
        yield clubs
        for club in clubs.values():
            club.store.close()


def figures(count: int, gardens: int) -> str:
    """The table."""
    lines = [("what", "a second")]
    lines.append(("gardens of 60 plantings checked, one process, no job", f"{without_job(min(gardens, 300)):.0f}"))
    with records() as clubs:
        for database, club in clubs.items():
            for hands in HANDS:
                what = f"empty chunks claimed and finished, {hands} at a time, {database}"
                lines.append((what, f"{emptied(club, count, hands):.0f}"))
            for processes in (1, 2):
                what = f"gardens of 60 plantings checked as a job, {processes} process{'es'[: 2 * (processes > 1)]}"
                lines.append((f"{what}, {database}", f"{checked(club, gardens, processes):.0f}"))
    return markdown(lines)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="short runs")
    short = parser.parse_args().quick
    print(figures(200 if short else 2_000, 200 if short else 2_000))
