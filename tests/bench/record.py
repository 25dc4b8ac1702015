"""The record of ten years over HTTP: answers and journal writes on SQLite and PostgreSQL, beside bare Flask.

``python tests/bench/record.py [--quick]`` prints the rows alone.
"""

from __future__ import annotations

import argparse
import http.client
import json
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import NamedTuple

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "store")]

from databases import own_postgres, run_alone, url_text  # noqa: E402
from flask import Flask, Response, request  # noqa: E402
from measure import Row, Target, shown, table  # noqa: E402
from plans import body  # noqa: E402
from serve import gunicorn, run_wrk  # noqa: E402

from service.store.migrating import migrate  # noqa: E402
from service.store.repository import Repository  # noqa: E402
from service.store.session import Store  # noqa: E402
from service.store.tokens import create_token  # noqa: E402

BEDS, YEARS, LAST = 12, 10, 2026
NOW = datetime(2026, 11, 20, 9, 0, tzinfo=UTC)
CROPS = ("potato", "cabbage", "carrot", "broad bean", "leek", "courgette", "beetroot", "lettuce", "onion", "sweetcorn")
#: What phones ask most, each answered in turn.
ASKED = ("ask=may&crop=cabbage&bed=bed3&date=2027-04-20", "ask=was&bed=bed5", "ask=free&crop=leek&bed=bed7", "ask=due")
#: What phones write in turn: a line that changes no plan, and one that changes what became of a planting.
LINES = (
    {"did": "watered", "bed": "bed4", "litres": 12},
    {"did": "harvested", "planting": f"p{LAST}-4-1", "date": f"{LAST}-08-20", "amount": 2, "unit": "kg"},
)
WRITERS = 8
_LUA = """\
local turn, made = 0, %s
request = function()
  turn = (turn + 1) %% (#made)
  local one = made[turn + 1]
  return wrk.format(one[1], one[2], { ["Authorization"] = "Bearer %s", ["Content-Type"] = "application/json" }, one[3])
end
"""


class Kept(NamedTuple):
    """A record with one garden of ten years, and a token that may write to it."""

    url: str
    garden: str
    secret: str
    lines: int


def bare() -> Flask:
    """Flask alone: a sentence for every question, the body back for every line."""
    app = Flask("bare")

    @app.post("/v1/checks")
    @app.post("/v1/gardens/<garden>/journal")
    def back(garden: str = "") -> Response:
        return Response(request.get_data(cache=False), 201 if garden else 200, content_type="application/json")

    @app.get("/v1/gardens/<garden>/answers")
    def said(garden: str) -> Response:
        return Response(f"Nothing is due in {garden} this week.", content_type="text/plain; charset=utf-8")

    return app


def ten_years(url: str) -> Kept:
    """A garden of 12 beds and ten years: two plantings a bed and year, eight lines each."""
    store, lines = Store(url), 0
    migrate(store)
    with store.write() as session:
        repository = Repository(session)
        club = repository.add_club("Tannery Row", now=NOW)
        place = {"name": "Tannery Row Plots", "latitude": 46.2, "country": "FR", "time_zone": "Europe/Paris"}
        garden = repository.add_garden(club.id, place, now=NOW)
        for number in range(BEDS):
            row = {"id": f"bed{number}", "name": f"Bed {number}", "length": 300.0, "width": 120.0}
            repository.add_bed(garden.id, {**row, "position": (number * 2.0, 0.0)})
        for year in range(LAST - YEARS + 1, LAST + 1):
            for number in range(BEDS):
                for half, start in enumerate((date(year, 3, 20), date(year, 7, 1))):
                    crop = CROPS[(number + 3 * year + 5 * half) % len(CROPS)]
                    planting = {"id": f"p{year}-{number}-{half}", "bed": f"bed{number}", "crop": crop}
                    repository.add_planting(garden.id, {**planting, "start": start, "end": start + timedelta(90)})
                    lines += _log(repository, garden.id, planting["id"], planting["bed"], start)
        secret = create_token(session, club.id, "garden_write", garden_id=garden.id, now=NOW)[1]
    store.close()
    return Kept(url, garden.id, secret, lines)


def _log(repository: Repository, garden: str, planting: str, bed: str, start: date) -> int:
    words = ("sown", "emerged", "watered", "watered", "note", "harvested", "harvested", "cleared")
    for number, did in enumerate(words):
        line = {"did": did, "bed": bed, "planting": planting, "date": start + timedelta(12 * number)}
        repository.log(garden, line | ({"note": "sturdy"} if did == "note" else {}), now=NOW)
    return len(words)


@contextmanager
def records(folder: Path) -> Iterator[dict[str, Kept]]:
    """The same garden on both databases."""
    with own_postgres() as server:
        run_alone(server, "CREATE DATABASE bench")
        there = url_text(server.set(database="bench"))
        yield {"SQLite": ten_years(f"sqlite:///{folder}/record.db"), "PostgreSQL": ten_years(there)}


def record_rows(*, seconds: int = 5, rounds: int = 3) -> list[Row]:
    """The rows: one question at a time against 100 ms, then both kinds of load beside bare Flask."""
    rows = []
    with (
        tempfile.TemporaryDirectory() as name,
        records(Path(name)) as kept,
        gunicorn("record:bare()", body(10)) as plain,
    ):
        folder = Path(name)
        for database, one in kept.items():
            with gunicorn("service.wsgi:app", body(10), DATABASE_URL=one.url) as port:
                first, later = _alone(port, one)
                what = f"one answer about ten years ({BEDS} beds, {one.lines:,} lines), {database}"
                figures = f"{shown(later)}; just after a write {shown(first)}"
                rows.append(Row(what, figures, Target("at most", 0.1, "{:.1f} s"), None, first))
                for kind in ("answers", "journal writes"):
                    rates: dict[str, list[float]] = {"ours": [], "bare": []}
                    for _ in range(rounds):
                        for whose, where in (("ours", port), ("bare", plain)):
                            rates[whose].append(_load(where, one, kind, seconds, folder))
                    ours, theirs = median(rates["ours"]), median(rates["bare"])
                    what, figures = f"{kind} a second, {WRITERS} connections, {database}", f"{ours:.0f}"
                    if kind == "journal writes":
                        figures += f"; the database alone, one row a commit, {_commits(one.url):.0f}"
                    rows.append(Row(what, f"{figures}; bare Flask {theirs:.0f}", "none set", ours / theirs))
    return rows


def _alone(port: int, kept: Kept) -> tuple[float, float]:
    """Seconds of an answer just after a write, and of one that follows others; medians of 15."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"Authorization": f"Bearer {kept.secret}", "Content-Type": "application/json"}
    first, later = [], []
    try:
        for turn in range(16):
            line.request("POST", f"/v1/gardens/{kept.garden}/journal", json.dumps(LINES[turn % 2]), headers)
            _success(line)
            for took in (first, later):
                began = perf_counter()
                line.request("GET", f"/v1/gardens/{kept.garden}/answers?{ASKED[turn % len(ASKED)]}", headers=headers)
                _success(line)
                took.append(perf_counter() - began)
    finally:
        line.close()
    return median(first[1:]), median(later[1:])


def _commits(url: str, seconds: float = 1.0) -> float:
    """Rows that one connection writes a second, each in a transaction of its own: what disk and database allow."""
    store, count = Store(url), 0
    connection = store.engine.raw_connection()
    try:
        cursor = connection.cursor()
        cursor.execute("CREATE TABLE IF NOT EXISTS bench_commits (line TEXT)")
        connection.commit()
        began = perf_counter()
        while perf_counter() < began + seconds:
            if store.sqlite:
                cursor.execute("BEGIN IMMEDIATE")
            cursor.execute("INSERT INTO bench_commits VALUES ('watered')")
            connection.commit()
            count += 1
        return count / (perf_counter() - began)
    finally:
        connection.close()
        store.close()


def _success(line: http.client.HTTPConnection) -> None:
    answer = line.getresponse()
    said = answer.read()
    if answer.status not in (200, 201):
        raise RuntimeError(f"status {answer.status}: {said[:300]!r}")


def _load(port: int, kept: Kept, kind: str, seconds: int, folder: Path) -> float:
    base = f"/v1/gardens/{kept.garden}"
    asked = [("GET", f"{base}/answers?{question}", "") for question in ASKED]
    sent = [("POST", f"{base}/journal", json.dumps(line)) for line in LINES]
    rows = asked if kind == "answers" else sent
    made = ", ".join("{" + ", ".join(json.dumps(part) for part in row) + "}" for row in rows)
    script = _LUA % (f"{{{made}}}", kept.secret)
    return run_wrk(f"http://127.0.0.1:{port}/", script, seconds, folder, connections=WRITERS)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="short runs")
    short = parser.parse_args().quick
    print(table(record_rows(seconds=2 if short else 5, rounds=1 if short else 3)))
