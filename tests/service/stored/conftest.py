"""A world with two clubs, an empty garden and the demo in it, on one day."""

from __future__ import annotations

import pytest
from club import World, make_world
from stored_door import TODAY, Door

from service.resources import recorded, writing


@pytest.fixture(scope="module")
def world() -> World:
    return make_world()


@pytest.fixture(autouse=True)
def _one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (recorded, writing):
        monkeypatch.setattr(module, "today", lambda zone: TODAY)


@pytest.fixture
def door(world: World) -> Door:
    """A new garden with two beds and some history."""
    admin = world.ours.headers("club_admin")
    made = world.client.post("/v1/gardens", json={"name": "Tannery Row Plots"}, headers=admin)
    door = Door(world, made.get_json()["id"])
    for path, row in (
        ("/beds", {"id": "kiln", "name": "Kiln bed", "length": "3 m", "width": 120}),
        ("/beds", {"id": "quay", "name": "Quay bed"}),
        ("/plantings", {"id": "kale", "bed": "kiln", "crop": "kale", "season": "2025", "status": "done"}),
        ("/plantings", {"id": "cabbage", "bed": "kiln", "crop": "cabbage", "start": "2027-04-20", "end": "2027-09-30"}),
    ):
        assert door("POST", path, row).status_code == 201
    return door
