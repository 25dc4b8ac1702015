"""A whole bed cleared over HTTP: one write, a line a planting, and once for each key."""

from __future__ import annotations

from club import make_world


def test_a_bed_is_cleared_in_one_write_and_once_for_each_key() -> None:
    world = make_world()
    base, headers = f"/v1/gardens/{world.ours.garden}", world.ours.headers("garden_write")
    world.client.post(f"{base}/beds", json={"id": "kiln", "name": "Kiln bed"}, headers=headers)
    for crop in ("kale", "leek"):
        line = {"did": "sown", "bed": "kiln", "crop": crop}
        assert world.client.post(f"{base}/journal", json=line, headers=headers).json["planting"] is not None
    before = world.client.get(base, headers=headers).json["revision"]
    sent = {**headers, "Idempotency-Key": "once"}
    told = world.client.post(f"{base}/journal", json={"did": "cleared", "bed": "kiln"}, headers=sent)
    assert told.status_code == 201, told.text
    assert told.json["say"] == "Logged: kale and leeks cleared from Kiln bed today."
    assert told.json["planting"] is None
    assert [line["did"] for line in told.json["lines"]] == ["cleared", "cleared"]
    assert told.json["line"] == told.json["lines"][0]
    assert "joined" not in told.text
    again = world.client.post(f"{base}/journal", json={"did": "cleared", "bed": "kiln"}, headers=sent)
    assert again.data == told.data
    lines = world.client.get(f"{base}/journal", headers=headers).json["items"]
    assert [line["did"] for line in lines] == ["sown", "sown", "cleared", "cleared"]
    assert world.client.get(base, headers=headers).json["revision"] > before
    undone = world.client.post(f"{base}/journal", json={"did": "undo"}, headers=headers)
    assert undone.json["say"] == "Taken back: kale and leeks cleared from Kiln bed today."
    assert [line["corrects"] for line in undone.json["lines"]] == [4, 3]
    wrong = world.client.post(
        f"{base}/journal", json={"did": "cleared", "bed": "kiln", "joined": True}, headers=headers
    )
    assert wrong.status_code == 422
