"""A document's bytes become typed data, with the day and the season."""

from datetime import date

import pytest
from read_documents import TODAY, WHOLE, Builder, data_of, read

from rules.model import FrostDate
from service.reading import (
    PlanRejected,
    parse,
)

# -- typed data


def test_a_whole_document_is_read_into_typed_data():
    data = data_of(WHOLE, "yaml")
    assert data == {
        "format": 1,
        "as_of": TODAY,
        "judge": {"season": "2027-autumn"},
        "garden": {
            "name": "Tannery Row Plots",
            "site": "tannery",
            "latitude": 46.2,
            "country": "FR",
            "time_zone": "Europe/Paris",
            "last_spring_frost": FrostDate((5, 4)),
            "first_autumn_frost": FrostDate((10, 2), p10=(9, 20)),
            "units": "metric",
            "rotation": "full",
            "soil": {"ph": 6.5, "texture": "sandy_loam", "drainage": "good"},
        },
        "crops": [{"id": "oca", "family": "Oxalidaceae", "lifecycle": "annual"}],
        "beds": [
            {
                "id": "kiln",
                "name": "Kiln bed",
                "kind": "raised",
                "length": 304.8,
                "width": 120.0,
                "position": (0.0, 2.5),
                "turn": 90.0,
                "irrigation": {"method": "drip", "emitter_spacing": 30.0, "emitter_flow": 2.0, "lines": 2},
                "soil": {"ph": 6.2},
                "replaces": [
                    {"bed": "old-kiln"},
                    {"bed": "7", "from": date(2020, 1, 1), "until": date(2021, 12, 31)},
                ],
                "from": date(2022, 1, 1),
            },
            {"id": "old-kiln", "until": date(2021, 12, 31)},
            {"id": "7"},
        ],
        "plantings": [
            {
                "id": "p1",
                "bed": "kiln",
                "part": (0.0, 0.5),
                "crop": "Cabbage",
                "season": "2027-spring",
                "start": date(2027, 4, 20),
                "end": date(2027, 9, 30),
                "first_harvest": date(2027, 7, 20),
                "status": "planned",
                "method": "transplant",
                "count": 8,
                "spacing": 50.0,
                "variety": {"name": "Early", "resists": ["clubroot"], "parthenocarpic": False},
            },
            {"bed": "7", "crop": "kale", "season": "2024"},
        ],
        "covers": [
            {
                "bed": "kiln",
                "kind": "net",
                "mesh": 0.8,
                "start": date(2027, 4, 20),
                "plantings": ["p1"],
                "edges": "shut",
            }
        ],
        "sightings": [{"bed": "kiln", "date": date(2025, 7, 1), "of": "clubroot", "level": "severe"}],
        "treatments": [
            {
                "bed": "kiln",
                "planting": "p1",
                "date": date(2027, 6, 1),
                "active": "azadirachtin",
                "harvest_interval": 3,
            }
        ],
        "amendments": [{"bed": "kiln", "date": date(2027, 3, 1), "kind": "raw_manure"}],
    }


def test_json_and_yaml_of_one_document_give_the_same_data():
    document, _ = parse(WHOLE, "yaml")
    assert data_of(document) == data_of(WHOLE, "yaml")


def test_a_byte_order_mark_is_no_matter():
    assert data_of(b'\xef\xbb\xbf{"beds": []}') == {"beds": []}
    assert data_of(b"\xef\xbb\xbfbeds: []\n", "yaml") == {"beds": []}


# -- the date and the season


@pytest.mark.parametrize(
    ("document", "asked", "as_of"),
    [
        ({"as_of": "2025-01-02"}, [], date(2025, 1, 2)),
        ({}, [None], TODAY),
        ({"garden": {"time_zone": "Australia/Perth"}}, ["Australia/Perth"], TODAY),
    ],
)
def test_the_clock_is_asked_only_without_as_of(document, asked, as_of):
    zones, builder = [], Builder()
    read(document, build_plan=builder, today=lambda zone: zones.append(zone) or TODAY)
    assert zones == asked
    assert builder.calls[0][1]["as_of"] == as_of


def test_a_zone_that_is_none_is_never_asked_about():
    zones = []
    with pytest.raises(PlanRejected) as rejected:
        read(
            {"garden": {"time_zone": "../../etc/passwd"}},
            build_plan=Builder(),
            today=lambda zone: zones.append(zone) or TODAY,
        )
    assert zones == [None]
    assert rejected.value.errors[0].pointer == "/garden/time_zone"


@pytest.mark.parametrize(
    ("season", "passed"), [(None, None), ("2027", "2027"), ("2027-FALL", "2027-autumn"), ("soon", "soon")]
)
def test_a_season_asked_for_is_brought_to_its_one_spelling(season, passed):
    builder = Builder()
    read({}, build_plan=builder, season=season)
    assert builder.calls[0][1]["season"] == passed
