"""The plan and the words that the document and the pages show; a test sends each of them."""

from __future__ import annotations

from typing import Any

#: Two beds, four seasons: the cabbages of 2027 come too soon after the kale of 2025.
PLAN: dict[str, Any] = {
    "format": 1,
    "as_of": "2026-11-20",
    "judge": {"season": "2027"},
    "garden": {"name": "Tannery Row Plots", "latitude": 46.2, "time_zone": "Europe/Paris"},
    "beds": [{"id": "kiln", "name": "Kiln bed"}, {"id": "quay", "name": "Quay bed"}],
    "plantings": [
        {"bed": "kiln", "crop": "potatoes", "season": "2024"},
        {"bed": "kiln", "crop": "kale", "season": "2025"},
        {"bed": "kiln", "crop": "broad beans", "season": "2026"},
        {"id": "p1", "bed": "kiln", "crop": "cabbage", "start": "2027-04-20", "end": "2027-09-30"},
        {"bed": "quay", "crop": "beetroot", "season": "2024"},
        {"bed": "quay", "crop": "leeks", "season": "2025"},
        {"bed": "quay", "crop": "courgettes", "season": "2026"},
    ],
}

PLAN_YAML = """\
as_of: 2026-11-20
judge: {season: 2027}
garden: {name: Tannery Row Plots, latitude: 46.2}
beds:
  - {id: kiln, name: Kiln bed}
plantings:
  - {bed: kiln, crop: kale, season: 2025}
  - {bed: kiln, crop: broad beans, season: 2026}
  - {bed: kiln, crop: cabbage, start: 2027-04-20, end: 2027-09-30}
"""

#: What is wanted of two years to come, with the record to plan on from.
WISHED: dict[str, Any] = {
    "as_of": "2026-11-20",
    "garden": {"name": "Tannery Row Plots", "latitude": 46.2, "time_zone": "Europe/Paris"},
    "beds": [{"id": "kiln", "name": "Kiln bed"}, {"id": "quay", "name": "Quay bed"}],
    "plantings": [
        {"bed": "kiln", "crop": "kale", "season": "2025"},
        {"bed": "kiln", "crop": "broad beans", "season": "2026"},
        {"bed": "quay", "crop": "leeks", "season": "2025"},
        {"bed": "quay", "crop": "courgettes", "season": "2026"},
    ],
    "wishes": {
        "years": 2,
        "crops": [
            {"crop": "potatoes", "beds": 0.5, "must": True},
            {"crop": "carrots", "beds": 0.5},
            {"crop": "leeks", "share": 0.25, "not_in": ["quay"]},
        ],
        "dislikes": [{"crop": "radishes"}],
        "winter_beds": 1,
    },
}

#: The two crops that the document asks about; the answer that it shows is worked out.
PAIR = ("onion", "cabbage")
