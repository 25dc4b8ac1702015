"""docker-compose.yml without containers: the same commands with the same settings, on this machine.

PostgreSQL and Redis are real; of each setting only what names another machine is changed.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from ports import free_port
from processes import GARDENS, Client, every_garden_once, kill_at_work, process, tries, until

from service.config import SETTINGS
from service.store.session import Store

ROOT = Path(__file__).parents[2]
COMPOSE = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES = COMPOSE["services"]
OURS = ("migrate", "web", "worker")


@pytest.fixture
def redis(tmp_path):
    """Redis as compose starts it."""
    if shutil.which("redis-server") is None:
        pytest.skip("redis-server is not here (apt-get install redis-server)")
    port = free_port()
    with process([*SERVICES["redis"]["command"], "--port", str(port)], tmp_path / "redis.log") as server:
        until(lambda: subprocess.run(["redis-cli", "-p", str(port), "ping"], capture_output=True).returncode == 0)
        yield f"127.0.0.1:{port}", server


@pytest.fixture
def start(new_url, redis, tmp_path):
    """``start("web")``: the command of a service, with its own settings."""
    port = str(free_port())
    moved = {"BREAKCROP_DATABASE_URL": new_url(migrated=False), "BREAKCROP_HOST": "127.0.0.1", "BREAKCROP_PORT": port}
    moved |= {"BREAKCROP_LEASE_SECONDS": "2", "BREAKCROP_WORKERS": "1", "BREAKCROP_WORKER_PROCESSES": "1"}

    def settings(name):
        own = {key: str(value).replace("redis:6379", redis[0]) for key, value in SERVICES[name]["environment"].items()}
        return own | {key: value for key, value in moved.items() if key in own or key == "BREAKCROP_PORT"}

    def run(name):
        command = [word.replace("/tmp/", f"{tmp_path}/") for word in SERVICES[name]["command"]]
        return process(command, tmp_path / f"{name}.log", **settings(name))

    run.url = moved["BREAKCROP_DATABASE_URL"]
    run.base, run.logs = f"http://127.0.0.1:{port}", tmp_path
    return run


def test_compose_names_commands_and_settings_that_exist():
    known = {setting.variable for setting in SETTINGS}
    for name in OURS:
        service = SERVICES[name]
        assert set(service["environment"]) <= known
        help_text = subprocess.run(
            [*service["command"][:2], "--help"], capture_output=True, text=True, check=True,
            env={**os.environ, "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}"},
        ).stdout  # fmt: skip
        assert all(word in help_text for word in service["command"][2:] if word.startswith("--"))
    image = (ROOT / "Dockerfile").read_text()
    assert set(re.findall(r"BREAKCROP_[A-Z_]+", image)) <= known
    assert 'CMD ["breakcrop", "serve"]' in image


def test_compose_waits_for_what_it_needs_and_watches_what_runs():
    for name in ("web", "worker"):
        needs = SERVICES[name]["depends_on"]
        assert needs["migrate"] == {"condition": "service_completed_successfully"}
        assert needs["redis"] == {"condition": "service_healthy"}
        assert SERVICES[name]["healthcheck"]["test"]
        assert int(SERVICES[name]["stop_grace_period"].removesuffix("s")) >= 40
    assert SERVICES["migrate"]["depends_on"]["postgres"] == {"condition": "service_healthy"}
    assert all(SERVICES[name]["healthcheck"]["test"] for name in ("postgres", "redis"))
    volumes = [volume.split(":")[0] for volume in SERVICES["postgres"]["volumes"]]
    assert set(volumes) <= set(COMPOSE["volumes"])
    assert "container_name" not in SERVICES["worker"], "it could not be scaled"


@pytest.mark.parametrize("backend", ["postgresql"], indirect=True)
def test_workers_of_a_cluster_are_killed_and_every_garden_is_answered_once(start, redis):
    with start("migrate") as migrate:
        assert migrate.wait(180) == 0
    store = Store(start.url, lock_timeout=20)
    client = Client(start.base, store)
    with start("web") as web, start("worker") as first:
        client.wait(web)
        until(lambda: (start.logs / "alive").exists())
        place = client.begin(**{"Idempotency-Key": "next-year"})
        killed = [kill_at_work(store, lambda: [first.pid])]
        assert first.wait(180) == -signal.SIGKILL
        with start("worker") as second, start("worker") as third:
            killed.append(kill_at_work(store, lambda: [second.pid, third.pid]))
            # The message service goes, the work goes on.
            redis[1].kill()
            job = client.done(place)
            assert (job["answered"], job["failed"], job["gardens"]) == (GARDENS, 0, GARDENS)
            lines = client.lines(place)
    every_garden_once(lines)
    counted = tries(store, place)
    assert all(counted[chunk] >= 2 for _, chunk in killed)
    store.close()
