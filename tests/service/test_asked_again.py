"""Every route that documents 304 answers it to a client that has all, and tells anew what was written since."""

from __future__ import annotations

from typing import Any

import pytest
from club import World, make_world

from service.openapi_doc import document


@pytest.fixture(scope="module")
def world() -> World:
    world = make_world()
    base, headers = f"/v1/gardens/{world.ours.garden}", world.ours.headers("club_admin")
    for path, row in (
        ("crops", {"id": "oca", "family": "Oxalidaceae"}),
        ("beds", {"id": "kiln", "name": "Kiln bed", "length": 300, "width": 120}),
        ("plantings", {"id": "p1", "bed": "kiln", "crop": "kale", "start": "2026-05-01"}),
        ("journal", {"did": "watered", "bed": "kiln"}),
    ):
        assert world.client.post(f"{base}/{path}", json=row, headers=headers).status_code == 201
    return world


def documented(world: World) -> list[str]:
    """The addresses of the routes that document 304."""
    return [
        path for path, item in document(world.app)["paths"].items() if "304" in item.get("get", {}).get("responses", {})
    ]


def get(world: World, path: str, **headers: str) -> Any:
    """An answer, for a path as the document writes it."""
    names = {"club": world.ours.club, "garden": world.ours.garden, "bed": "kiln", "planting": "p1"}
    if path.endswith("/{name}"):  # of the knowledge: the first there is
        names["name"] = world.client.get(path.removesuffix("/{name}")).json["items"][0]["id"]
    query = {"a": "kale", "b": "leek"} if path == "/v1/pairs" else {}
    scope = "club_admin" if path in ("/v1/jobs", "/v1/clubs", "/v1/clubs/{club}") else "garden_read"
    more = world.ours.headers(scope) if path.startswith(("/v1/gardens", "/v1/clubs", "/v1/jobs")) else {}
    return world.client.get(path.format(**names), query_string=query, headers={**more, **headers})


def test_a_client_that_has_it_is_told_so(world: World) -> None:
    paths = documented(world)
    assert {"/v1/gardens/{garden}/plantings/{planting}", "/v1/gardens/{garden}/journal", "/v1/crops"} <= {*paths}
    assert len(paths) > 30
    for path in paths:
        first = get(world, path)
        assert first.status_code == 200, (path, first.get_data())
        tag = first.headers["ETag"]
        for known in (tag, f"W/{tag}", f'"other", {tag}', "*"):
            again = get(world, path, **{"If-None-Match": known})
            assert (again.status_code, again.data, again.headers["ETag"]) == (304, b"", tag), (path, known)
        other = get(world, path, **{"If-None-Match": '"other"'})
        assert (other.status_code, other.data) == (200, first.data), path


def test_what_a_write_changed_is_told_anew(world: World) -> None:
    paths = [path for path in documented(world) if path.startswith("/v1/gardens/{garden}/")]
    before = {path: get(world, path) for path in paths}
    base, headers = f"/v1/gardens/{world.ours.garden}", world.ours.headers("garden_write")
    for method, path, row in (
        ("POST", "crops", {"id": "yacon", "family": "Asteraceae"}),
        ("POST", "beds", {"id": "quay"}),
        ("PATCH", "beds/kiln", {"length": 310}),
        ("POST", "journal", {"did": "harvested", "bed": "kiln", "crop": "kale", "amount": "2 kg"}),
    ):
        sent = {**headers, "If-Match": "*"} if method == "PATCH" else headers
        assert world.client.open(f"{base}/{path}", method=method, json=row, headers=sent).status_code in (200, 201)
    for path, first in before.items():
        again = get(world, path, **{"If-None-Match": first.headers["ETag"]})
        assert again.status_code == 200, path
        assert again.headers["ETag"] != first.headers["ETag"], path


def test_a_garden_is_always_told_since_its_revision_counts_on(world: World) -> None:
    path = "/v1/gardens/{garden}"
    first = get(world, path)
    again = get(world, path, **{"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.json) == (200, first.json)
    assert path not in documented(world)
    assert "/v1/gardens/{garden}/answers" not in documented(world)  # never kept: Cache-Control is no-store
    assert get(world, "/v1/gardens/{garden}/answers").status_code == 400
