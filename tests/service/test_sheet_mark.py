"""The sheet over HTTP: with a byte order mark for a spreadsheet, without one for a program, and either is read back."""

from __future__ import annotations

import codecs

import pytest
from club import make_world


@pytest.mark.parametrize("formulas", ["defused", "kept"])
def test_a_sheet_for_a_spreadsheet_begins_with_a_mark_and_comes_back(formulas: str) -> None:
    world = make_world()
    headers, base = world.ours.headers("club_admin"), f"/v1/gardens/{world.ours.garden}"
    for garden in (world.ours.garden, world.ours.second):
        world.client.post(f"/v1/gardens/{garden}/beds", json={"id": "kiln"}, headers=headers)
    row = {"bed": "kiln", "crop": "kale", "season": "2027", "variety": {"name": "=Fougère"}}
    assert world.client.post(f"{base}/plantings", json=row, headers=headers).status_code == 201
    out = world.client.get(f"{base}/plantings.csv", query_string={"formulas": formulas}, headers=headers)
    assert out.data.startswith(codecs.BOM_UTF8) == (formulas == "defused")
    assert ("'=Fougère" in out.text) == (formulas == "defused")
    there = f"/v1/gardens/{world.ours.second}/plantings"
    sent = {**headers, "Content-Type": "text/csv"}
    assert world.client.post(f"{there}.csv", data=out.data, headers=sent).status_code == 201
    assert world.client.get(there, headers=headers).json["items"][0]["variety"] == {"name": "=Fougère"}
