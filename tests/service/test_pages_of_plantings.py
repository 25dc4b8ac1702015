"""Pages of plantings under writes: no row that was there throughout is told twice or left out."""

from __future__ import annotations

import pytest
from club import World, make_world


@pytest.fixture
def world() -> World:
    world = make_world()
    send(world, "POST", "/beds", {"id": "kiln"})
    send(world, "POST", "/beds", {"id": "quay"})
    for number in range(10):
        bed = "kiln" if number % 2 else "quay"
        send(
            world,
            "POST",
            "/plantings",
            {"id": f"p{number}", "bed": bed, "crop": "kale", "start": f"2026-0{number // 2 + 1}-02"},
        )
    return world


def send(world: World, method: str, path: str, row: dict[str, object] | None = None) -> None:
    headers = {**world.ours.headers("garden_write"), "If-Match": "*"}
    answer = world.client.open(f"/v1/gardens/{world.ours.garden}{path}", method=method, json=row, headers=headers)
    assert answer.status_code in (201, 204), answer.text


def page(world: World, address: str) -> tuple[list[str], str | None]:
    answer = world.client.get(address, headers=world.ours.headers("garden_read"))
    assert answer.status_code == 200, answer.text
    return [row["id"] for row in answer.json["items"]], answer.json["next"]


def walk(world: World, limit: int, **more: str) -> list[str]:
    """Every id, page by page."""
    query = "".join(f"&{key}={value}" for key, value in more.items())
    told, address = page(world, f"/v1/gardens/{world.ours.garden}/plantings?limit={limit}{query}")
    while address is not None:
        items, address = page(world, address)
        assert 0 < len(items) <= limit
        told += items
    return told


@pytest.mark.parametrize("limit", [1, 3, 4, 10, 100])
def test_pages_hold_every_row_once_attempts_among_them(world: World, limit: int) -> None:
    lost = (
        {"did": "lost", "planting": "p4", "date": "2026-04-01"},
        {"did": "resown", "planting": "p4", "date": "2026-04-10"},
    )
    for line in (*lost, *({**line, "date": line["date"].replace("-04-", "-05-")} for line in lost)):
        send(world, "POST", "/journal", line)
    ids = [*(f"p{number}" for number in range(4)), "p4.lost1", "p4.lost2", *(f"p{number}" for number in range(4, 10))]
    assert walk(world, limit) == ids
    assert walk(world, limit, bed="quay") == ["p0", "p2", "p4.lost1", "p4.lost2", "p4", "p6", "p8"]


def test_what_is_added_or_taken_away_meanwhile_moves_no_other_row(world: World) -> None:
    first, address = page(world, f"/v1/gardens/{world.ours.garden}/plantings?limit=4")
    assert first == ["p0", "p1", "p2", "p3"]
    send(world, "DELETE", "/plantings/p1")
    for line in (
        {"did": "lost", "planting": "p2", "date": "2026-04-01"},
        {"did": "resown", "planting": "p2", "date": "2026-04-10"},
    ):
        send(world, "POST", "/journal", line)
    send(world, "POST", "/plantings", {"id": "new", "bed": "kiln", "crop": "leek", "season": "2027"})
    assert address is not None
    second, address = page(world, address)
    assert second == ["p4", "p5", "p6", "p7"]
    assert address is not None
    assert page(world, address) == (["p8", "p9", "new"], None)
