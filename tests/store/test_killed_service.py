"""The service is killed again and again while eight writers post: what it acknowledged is there once."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from datetime import UTC, datetime

from ports import free_port
from sqlalchemy import text

from service.store.repository import Repository
from service.store.tokens import create_token

WRITERS, POSTS, KILLS = 8, 250, 4
NOW = datetime(2027, 6, 1, tzinfo=UTC)
#: Seconds within which all of it must be done, whatever the machine.
LONGEST = 600.0


class Service:
    """``breakcrop serve`` in a process group of its own, so that all of it can be killed at once."""

    def __init__(self, url: str) -> None:
        self.port = free_port()
        self.environment = {
            **os.environ,
            "BREAKCROP_DATABASE_URL": url,
            "BREAKCROP_PORT": str(self.port),
            "BREAKCROP_LOG_LEVEL": "error",
        }
        self.start()

    def start(self) -> None:
        command = [sys.executable, "-m", "service.cli", "serve", "--no-worker"]
        self.process = subprocess.Popen(command, env=self.environment, start_new_session=True)

    def kill(self) -> None:
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


class Writer(threading.Thread):
    """Posts its lines one after the other; after a failure the same line again, with the same key."""

    def __init__(self, name: str, service: Service, path: str, secret: str, until: float) -> None:
        super().__init__(daemon=True)
        self.label, self.service, self.path, self.secret, self.until = name, service, path, secret, until
        self.told: list[int] = []
        self.refused: list[str] = []
        self.again = 0

    def run(self) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", self.service.port, timeout=30)
        for number in range(POSTS):
            body = json.dumps({"did": "note", "bed": "kiln", "note": f"{self.label} {number}"})
            headers = {
                "Authorization": f"Bearer {self.secret}",
                "Content-Type": "application/json",
                "Idempotency-Key": f"{self.label}-{number}",
            }
            while time.monotonic() < self.until:
                try:
                    connection.request("POST", self.path, body, headers)
                    answer = connection.getresponse()
                    said = answer.read()
                except (OSError, http.client.HTTPException):
                    connection.close()  # it connects anew by itself
                    self.again += 1
                    time.sleep(0.05)
                    continue
                if answer.status == 503:  # busy, and says so
                    time.sleep(0.05)
                    continue
                if answer.status != 201:
                    self.refused.append(said.decode())
                    connection.close()
                    return
                self.told.append(number)
                break
        connection.close()


def test_a_killed_service_lost_nothing_that_it_acknowledged(store, garden_id):
    with store.write() as session:
        club = Repository(session).garden(garden_id).club_id
        secret = create_token(session, club, "garden_write", garden_id=garden_id, now=NOW)[1]
    service = Service(store.url.render_as_string(hide_password=False))
    until, chance = time.monotonic() + LONGEST, random.Random(11)
    path = f"/v1/gardens/{garden_id}/journal"
    writers = [Writer(f"w{number}", service, path, secret, until) for number in range(WRITERS)]
    try:
        for writer in writers:
            writer.start()
        all_of_it = WRITERS * POSTS
        marks = sorted(chance.sample(range(all_of_it // 10, all_of_it * 9 // 10), KILLS))
        for mark in marks:
            while sum(len(writer.told) for writer in writers) < mark and time.monotonic() < until:
                time.sleep(0.005)
            service.kill()
            service.start()
        for writer in writers:
            writer.join(max(0.0, until - time.monotonic()))
    finally:
        service.kill()
    assert [writer.refused for writer in writers] == [[]] * WRITERS
    assert [writer.told for writer in writers] == [list(range(POSTS))] * WRITERS
    assert sum(writer.again for writer in writers) >= KILLS, "the service was never caught at work"
    with store.read() as session:
        kept = Counter(line.note for line in Repository(session).lines(garden_id))
        assert kept == Counter(f"w{number} {post}" for number in range(WRITERS) for post in range(POSTS))
        if store.sqlite:
            assert session.scalar(text("PRAGMA integrity_check")) == "ok"
