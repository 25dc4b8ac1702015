"""Clearing where neither bed nor crop is named: what stays for years goes by its name only."""

from __future__ import annotations

from club import make_world


def test_what_stays_for_years_is_not_cleared_unless_it_is_named() -> None:
    world = make_world()
    base, headers = f"/v1/gardens/{world.ours.garden}", world.ours.headers("garden_write")
    world.client.post(f"{base}/beds", json={"id": "kiln", "name": "Kiln bed"}, headers=headers)
    line = {"did": "planted", "bed": "kiln", "crop": "globe artichoke"}
    assert world.client.post(f"{base}/journal", json=line, headers=headers).status_code == 201
    before = world.client.get(f"{base}/journal", headers=headers).json["items"]
    for vague in ({"did": "cleared"}, {"did": "cleared", "crop": "everything"}, {"did": "cleared", "bed": ""}):
        refused = world.client.post(f"{base}/journal", json=vague, headers=headers)
        assert refused.status_code == 422, vague
        told = "Name the crop that was cleared, what stays for years goes by its name only."
        assert [error["detail"] for error in refused.json["errors"]] == [told]
    whole = world.client.post(f"{base}/journal", json={"did": "cleared", "bed": "kiln"}, headers=headers)
    assert "name the crop if they were cleared" in whole.json["errors"][0]["detail"]
    assert world.client.get(f"{base}/journal", headers=headers).json["items"] == before
    named = world.client.post(f"{base}/journal", json={"did": "cleared", "crop": "globe artichoke"}, headers=headers)
    assert named.status_code == 201, named.text
