"""What is no word at all is refused in a sentence that can be spoken, and nothing is stored."""

from __future__ import annotations

import pytest
from club import make_world


@pytest.mark.parametrize(
    ("line", "pointer", "told"),
    [
        ({"did": "\N{CARROT}", "bed": "kiln"}, "/did", "The journal has no word like that, say one of sown,"),
        ({"did": "sown", "bed": True, "crop": "kale"}, "/bed", "The bed must be a name, not true"),
        ({"did": "sown", "bed": "kiln", "crop": False}, "/crop", "The crop must be a name, not false"),
    ],
)
def test_what_is_no_word_is_refused_in_words(line: dict[str, object], pointer: str, told: str) -> None:
    world = make_world()
    base, headers = f"/v1/gardens/{world.ours.garden}", world.ours.headers("garden_write")
    world.client.post(f"{base}/beds", json={"id": "kiln", "name": "Kiln bed"}, headers=headers)
    journal = f"{base}/journal"
    before = world.client.get(journal, headers=headers).json["items"]
    refused = world.client.post(journal, json=line, headers=headers)
    assert refused.status_code == 422
    assert any(e["pointer"] == pointer and e["detail"].startswith(told) for e in refused.json["errors"]), refused.json
    assert world.client.get(journal, headers=headers).json["items"] == before
