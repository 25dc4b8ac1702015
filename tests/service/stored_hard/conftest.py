"""A world on each database, and a garden in it."""

from __future__ import annotations

import shutil
import uuid
from collections.abc import Iterator

import pytest
from club import World, make_world
from databases import run_alone, url_text
from hard_door import PAGE, Door, close_all


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def world(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    """An application on a database of its own, of each kind."""
    if request.param == "sqlite":
        path = tmp_path_factory.mktemp("hard") / "record.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        world = make_world(f"sqlite:///{path}", cors_origins=(PAGE,))
        yield world
        close_all(world)
        return
    server, name = request.getfixturevalue("postgres"), f"hard_{uuid.uuid4().hex[:12]}"
    run_alone(server, f"CREATE DATABASE {name} TEMPLATE {request.getfixturevalue('postgres_template')}")
    world = make_world(url_text(server.set(database=name)), cors_origins=(PAGE,))
    yield world
    close_all(world)
    run_alone(server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def door(world: World) -> Door:
    """A new garden with two beds and a planting."""
    admin = world.ours.headers("club_admin")
    made = world.client.post("/v1/gardens", json={"name": "Tannery Row Plots"}, headers=admin)
    door = Door(world, made.get_json()["id"], admin)
    for path, row in (
        ("/beds", {"id": "kiln", "name": "Kiln bed", "width": 120}),
        ("/beds", {"id": "quay"}),
        ("/plantings", {"id": "kale", "bed": "kiln", "crop": "kale", "season": "2025"}),
    ):
        assert door("POST", path, row).status_code == 201
    return door
