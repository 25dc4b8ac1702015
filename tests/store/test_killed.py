"""Writers that are killed in the middle lose nothing that was acknowledged, and nothing is there twice."""

import random
import subprocess
import sys
import time
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import text

from service.store.repository import Repository
from service.store.tokens import create_token

WRITERS, POSTS = 4, 50
#: More than a writer comes to before it is killed, so that it is killed at work.
ENDLESS = 1_000_000
NOW = datetime(2027, 6, 1, tzinfo=UTC)


def test_killed_writers_lose_no_acknowledged_line(store, garden_id, tmp_path):
    with store.write() as session:
        club = Repository(session).garden(garden_id).club_id
        token = create_token(session, club, "garden_write", garden_id=garden_id, now=NOW)[0].id
    url = store.url.render_as_string(hide_password=False)
    chance = random.Random(5)

    def start(name, first, last):
        out = tmp_path / f"{name}-{first}.txt"
        words = [url, garden_id, token, name, str(first), str(last)]
        with out.open("w") as file:
            writer = subprocess.Popen(
                [sys.executable, str(Path(__file__).parent / "writer.py"), *words], stdout=file, stderr=subprocess.PIPE
            )
        return writer, out

    def acknowledged(out):
        return [int(line) for line in out.read_text().splitlines(keepends=True) if line.endswith("\n")]

    names = [f"w{n}" for n in range(WRITERS)]
    running = {name: start(name, 0, ENDLESS) for name in names}
    told = {}
    for name, (writer, out) in running.items():
        enough = chance.randint(3, POSTS // 2)
        while len(acknowledged(out)) < enough and writer.poll() is None:
            time.sleep(0.002)
        writer.kill()
        _, complaint = writer.communicate()
        assert writer.returncode == -9, complaint.decode()
        told[name] = acknowledged(out)
    with store.read() as session:
        kept = Counter(line.note for line in Repository(session).lines(garden_id))
    for name in names:
        assert told[name] == list(range(len(told[name])))
        assert all(kept[f"{name} {number}"] == 1 for number in told[name])
    assert set(kept.values()) == {1}
    # Each sends again from its last acknowledged line on, with the same keys, as a client would.
    goals = {name: max(POSTS, len(told[name]) + 1) for name in names}
    again = {name: start(name, len(told[name]) - 1, goals[name]) for name in names}
    for writer, _ in again.values():
        _, complaint = writer.communicate()
        assert writer.returncode == 0, complaint.decode()
    with store.read() as session:
        lines = Repository(session).lines(garden_id)
        assert sorted(line.note for line in lines) == sorted(
            f"{name} {n}" for name in names for n in range(goals[name])
        )
        assert Repository(session).planting(garden_id, "kale").version == 1 + sum(goals.values())
        if store.sqlite:
            assert session.scalar(text("PRAGMA integrity_check")) == "ok"
