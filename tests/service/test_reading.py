"""From bytes to a plan, or to everything that is wrong with them."""

import json
from datetime import date

import pytest

import service.reading as reading_module
from rules.knowledge.library import load_knowledge
from rules.model import FrostDate, Plan
from rules.reading import Fault, PlanFaults
from service.reading import (
    MOST_ERRORS,
    BrokenJson,
    BrokenYaml,
    Empty,
    NotText,
    PlanError,
    PlanRejected,
    TooDeep,
    TooLarge,
    Unreadable,
    parse,
    pointer,
    read_plan,
    typed,
)

TODAY = date(2026, 11, 20)
BEDS = [{"id": "kiln"}, {"id": "quay"}]


class Builder:
    """Stands in for ``rules.reading.build_plan``: notes what it was given, raises the faults it was told."""

    def __init__(self, *faults):
        self.faults = [Fault(*fault) for fault in faults]
        self.calls = []

    def __call__(self, data, knowledge, **given):
        self.calls.append((data, given))
        if self.faults:
            raise PlanFaults(self.faults)
        return "the plan"


def read(document, *, kind="json", build_plan=None, today=lambda zone: TODAY, **given):
    body = document if isinstance(document, bytes) else json.dumps(document).encode()
    knowledge = None if build_plan else load_knowledge()
    return read_plan(body, kind, today=today, knowledge=knowledge, build_plan=build_plan, **given)


def data_of(document, kind="json"):
    """The typed data that ``build_plan`` gets."""
    builder = Builder()
    assert read(document, kind=kind, build_plan=builder) == "the plan"
    return builder.calls[0][0]


def faults_of(document, *faults, kind="json"):
    """Pointer and message of each fault of a document that is refused."""
    with pytest.raises(PlanRejected) as rejected:
        read(document, kind=kind, build_plan=Builder(*faults))
    return [(error.pointer, error.detail) for error in rejected.value.errors]


# -- typed data


WHOLE = b"""
format: 1
as_of: 2026-11-20
judge: {season: 2027-Fall}
garden:
  name: Tannery Row Plots
  site: tannery
  latitude: 46.2
  country: fr
  time_zone: Europe/Paris
  last_spring_frost: 05-04
  first_autumn_frost: {p10: 09-20, p50: 10-02}
  units: Metric
  rotation: full
  soil: {ph: 6.5, texture: Sandy loam, drainage: good}
  x-color: green
crops:
  - {id: oca, family: Oxalidaceae, lifecycle: Annual}
beds:
  - id: kiln
    name: Kiln bed
    kind: Raised
    length: 10 ft
    width: 120
    position: {x: 0, y: 2.5}
    turn: 90
    irrigation: {method: drip, emitter_spacing: 30, emitter_flow: 2.0, lines: 2}
    soil: {ph: 6.2}
    replaces: [old-kiln, {bed: 7, from: 2020-01-01, until: 2021-12-31}]
    from: 2022-01-01
  - {id: old-kiln, until: 2021-12-31}
  - {id: 7}
plantings:
  - {id: p1, bed: kiln, part: [0, 0.5], crop: Cabbage, season: 2027-spring, start: 2027-04-20,
     end: 2027-09-30, first_harvest: 2027-07-20, status: planned, method: transplant, count: 8, spacing: 50, x-tag: a,
     variety: {name: Early, resists: [clubroot], parthenocarpic: false}}
  - {bed: 7, crop: kale, season: 2024, end: null}
covers:
  - {bed: kiln, kind: net, mesh: 0.8, start: 2027-04-20, plantings: [p1], edges: Shut, open_by_day_from: null}
sightings: [{bed: kiln, date: 2025-07-01, of: clubroot, level: severe}]
treatments: [{bed: kiln, planting: p1, date: 2027-06-01, active: azadirachtin, harvest_interval: 3}]
amendments: [{bed: kiln, date: 2027-03-01, kind: raw manure}]
x-mine: [1, 2]
"""


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


# -- faults


PLANTING = {"bed": "kiln", "crop": "kale", "season": "2027"}
WRONG = [
    ({"format": 2}, "/format", "format must be 1; got 2"),
    ({"as_of": "2026-13-01"}, "/as_of", "as_of must be a date that exists"),
    ({"as_off": "2026-12-01"}, "/as_off", "unknown key 'as_off'; did you mean 'as_of'?"),
    ({"a/b~c": 1}, "/a~1b~0c", "unknown key 'a/b~c'"),
    ({"_schema": 1}, "", "unknown key '_schema'"),
    ({"judge": {}}, "/judge", "judge needs either season, or from and to"),
    ({"judge": {"season": "2027", "from": "2027-01-01"}}, "/judge", "either season, or from and to"),
    ({"judge": {"from": "2027-01-01"}}, "/judge", "either season, or from and to"),
    ({"judge": "2027"}, "/judge", "must be a group of keys and values"),
    ({"garden": []}, "/garden", "must be a group of keys and values"),
    ({"garden": {"latitude": 91}}, "/garden/latitude", "latitude must be a number from -90 to 90; got 91"),
    ({"garden": {"time_zone": "Europe/Pariss"}}, "/garden/time_zone", "did you mean 'Europe/Paris'?"),
    ({"garden": {"units": "metrc"}}, "/garden/units", "one of metric, imperial; got 'metrc'; did you mean"),
    ({"garden": {"last_spring_frost": "5 May"}}, "/garden/last_spring_frost", "written MM-DD, such as 05-04"),
    ({"garden": {"last_spring_frost": {"p10": "04-01"}}}, "/garden/last_spring_frost/p50", "p50 is missing"),
    ({"garden": {"last_spring_frost": 504}}, "/garden/last_spring_frost", "written MM-DD"),
    ({"garden": {"soil": {"ph": 2}}}, "/garden/soil/ph", "ph must be a number from 3 to 10; got 2"),
    (
        {"garden": {"soil": {"texture": "mud"}}},
        "/garden/soil/texture",
        "texture must be one of sand, sandy_loam",
    ),
    ({"crops": [{"id": "oca"}]}, "/crops/0/family", "family is missing"),
    ({"beds": {}}, "/beds", "beds must be a list"),
    ({"beds": [{"id": "a"}, None]}, "/beds/1", "an entry of beds is empty"),
    ({"beds": ["a"]}, "/beds/0", "must be a group of keys and values"),
    ({"beds": [{"id": "a b"}]}, "/beds/0/id", "id must be an id of letters"),
    ({"beds": [{"id": "a", "lenght": 3}]}, "/beds/0/lenght", "unknown key 'lenght'; did you mean 'length'?"),
    ({"beds": [{"id": "a", "length": "3 yards"}]}, "/beds/0/length", "(mm, cm, m, in, ft)"),
    ({"beds": [{"id": "a", "kind": "raisd"}]}, "/beds/0/kind", "did you mean 'raised'?"),
    ({"beds": [{"id": "a", "position": {"x": 1}}]}, "/beds/0/position/y", "y is missing"),
    (
        {"beds": [{"id": "a", "irrigation": {"method": "hose"}}]},
        "/beds/0/irrigation/method",
        "one of drip, soaker",
    ),
    (
        {"beds": [{"id": "a", "irrigation": {"method": "drip", "emitter_flow": 0}}]},
        "/beds/0/irrigation/emitter_flow",
        "more than 0",
    ),
    (
        {"beds": [{"id": "a", "replaces": [{"from": "2020-01-01"}]}]},
        "/beds/0/replaces/0/bed",
        "bed is missing",
    ),
    ({"beds": [{"id": "a", "replaces": "b"}]}, "/beds/0/replaces", "replaces must be a list"),
    ({"beds": [{"id": "a"}] * 5001}, "/beds", "beds must have at most 5,000 entries; got 5,001"),
    ({"plantings": [{}] * 20_001}, "/plantings", "at most 20,000 entries; got 20,001"),
    ({"plantings": [{"crop": "kale"}]}, "/plantings/0/bed", "bed is missing"),
    ({"plantings": [{**PLANTING, "crop": None}]}, "/plantings/0/crop", "crop is missing"),
    (
        {"plantings": [{**PLANTING, "count": 2.7}]},
        "/plantings/0/count",
        "count must be a whole number, 1 or more; got 2.7",
    ),
    ({"plantings": [{**PLANTING, "part": [1, 0]}]}, "/plantings/0/part", "the smaller first"),
    (
        {"plantings": [{**PLANTING, "variety": {"resists": ["a", 5]}}]},
        "/plantings/0/variety/resists/1",
        "must be text; got 5",
    ),
    (
        {"plantings": [{**PLANTING, "variety": {"resists": ["a"] * 51}}]},
        "/plantings/0/variety/resists",
        "at most 50",
    ),
    (
        {"plantings": [{**PLANTING, "variety": {"parthenocarpic": 1}}]},
        "/plantings/0/variety/parthenocarpic",
        "true or false; got 1",
    ),
    (
        {"plantings": [{**PLANTING, "season": "2027-sumer"}]},
        "/plantings/0/season",
        "such as 2027 or 2027-spring",
    ),
    ({"plantings": [{**PLANTING, "status": "plannd"}]}, "/plantings/0/status", "did you mean 'planned'?"),
    (
        {"covers": [{"bed": "a", "kind": "net", "start": "2027-01-01", "mesh": 0}]},
        "/covers/0/mesh",
        "from 0.1 to 200",
    ),
    (
        {"covers": [{"bed": "a", "kind": "tent", "start": "2027-01-01"}]},
        "/covers/0/kind",
        "fleece, net, cage, fence, collar",
    ),
    (
        {"sightings": [{"bed": "a", "date": "2025-07-01", "of": "x" * 81}]},
        "/sightings/0/of",
        "at most 80 characters",
    ),
    (
        {"treatments": [{"bed": "a", "date": "2025-07-01", "active": "x", "harvest_interval": 366}]},
        "/treatments/0/harvest_interval",
        "from 0 to 365",
    ),
    (
        {"amendments": [{"bed": "a", "date": "2025-07-01", "kind": "manure"}]},
        "/amendments/0/kind",
        "did you mean 'raw_manure'?",
    ),
    ([], "", "a plan must be a group of keys and values"),
    (None, "", "a plan must be a group of keys and values"),
]


@pytest.mark.parametrize(("document", "at", "words"), WRONG, ids=[at or "top" for _, at, _ in WRONG])
def test_each_fault_has_its_pointer_and_its_words(document, at, words):
    ((found, detail),) = faults_of(document)
    assert found == at
    assert words in detail


def test_faults_of_shape_and_of_reference_come_together_in_document_order():
    document = {
        "plantings": [{**PLANTING, "count": 0}, PLANTING, {"crop": "kale"}],
        "beds": [{"id": "kiln", "width": "wide", "id2": 1}],
        "garden": {"latitude": 100},
    }
    reference = [(("beds", 0), "no such place"), (("plantings", 1, "crop"), "no such crop")]
    assert [at for at, _ in faults_of(document, *reference)] == [
        "/plantings/0/count",
        "/plantings/1/crop",
        "/plantings/2/bed",
        "/beds/0",
        "/beds/0/width",
        "/beds/0/id2",
        "/garden/latitude",
    ]


def test_the_builder_is_told_what_not_to_look_at_and_gets_the_rest_in_place():
    builder = Builder()
    document = {
        "garden": {"latitude": 100, "last_spring_frost": {"p10": "04-01"}},
        "beds": [{"id": "kiln", "position": {"x": 1}}, {"id": "quay"}],
        "plantings": [None, {**PLANTING, "variety": {"resists": [5]}}, PLANTING],
        "covers": 5,
    }
    with pytest.raises(PlanRejected):
        read(document, build_plan=builder)
    ((data, given),) = builder.calls
    assert given["broken"] == {
        ("garden", "latitude"),
        ("garden", "last_spring_frost", "p50"),
        ("beds", 0),
        ("plantings", 0),
        ("plantings", 1),
        ("covers",),
    }
    assert "garden" not in data  # nothing half read
    assert data["beds"] == [{"id": "kiln"}, {"id": "quay"}]
    assert data["plantings"][2] == PLANTING
    assert "covers" not in data


def test_faults_in_yaml_carry_line_and_column():
    body = b"beds:\n  - id: kiln\n    lenght: 3\nplantings:\n  - {bed: kiln, count: 2}\n"
    with pytest.raises(PlanRejected) as rejected:
        read(body, kind="yaml", build_plan=Builder((("plantings", 0, "bed"), "elsewhere")))
    assert rejected.value.errors == [
        PlanError("/beds/0/lenght", "unknown key 'lenght'; did you mean 'length'?", 3, 13),
        PlanError("/plantings/0/crop", "crop is missing", 5, 5),
        PlanError("/plantings/0/bed", "elsewhere", 5, 11),
    ]


def test_a_hundred_faults_are_shown_and_all_are_counted():
    with pytest.raises(PlanRejected) as rejected:
        read({"plantings": [{**PLANTING, "count": 0}] * 2_000}, build_plan=Builder())
    assert len(rejected.value.errors) == MOST_ERRORS == 100
    assert rejected.value.total == 2_000
    assert [error.pointer for error in rejected.value.errors[:2]] == [
        "/plantings/0/count",
        "/plantings/1/count",
    ]


def test_twenty_words_get_a_suggestion():
    with pytest.raises(PlanRejected) as rejected:
        read({"plantings": [{**PLANTING, "status": "plannd"}] * 30}, build_plan=Builder())
    hints = ["did you mean 'planned'?" in error.detail for error in rejected.value.errors]
    assert hints == [True] * 20 + [False] * 10


def test_half_characters_never_reach_an_answer():
    ((at, detail),) = faults_of(b'{"\\ud800": 1}')
    assert at == "/?"
    assert detail == "unknown key '?'"


@pytest.mark.parametrize(
    ("path", "text"), [((), ""), (("a/b", 0, "m~n"), "/a~1b/0/m~0n"), (("é",), "/é"), (("",), "/")]
)
def test_pointers_are_those_of_rfc_6901(path, text):
    assert pointer(path) == text


# -- what is no document

DEEP = b'{"x-a":' + b"[" * 40 + b"]" * 40 + b"}"
DEEPER = b'{"x-a":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
UNREADABLE = [
    (b'{"name": "\xff"}', "json", NotText, "byte 11 is not"),
    (b"name: \xff", "yaml", NotText, "byte 7 is not"),
    ('{"a": 1}'.encode("utf-16"), "json", NotText, "not UTF-8"),
    (b"", "json", Empty, "empty"),
    (b"\xef\xbb\xbf \n", "yaml", Empty, "empty"),
    (b'{"beds": [}', "json", BrokenJson, "line 1, column 11"),
    (b'{"beds": []} x', "json", BrokenJson, "line 1"),
    (b'{"count": NaN}', "json", BrokenJson, "NaN is not a number"),
    (b'{"count": -Infinity}', "json", BrokenJson, "-Infinity is not a number"),
    (b'{"count": ' + b"9" * 5000 + b"}", "json", BrokenJson, "too many digits"),
    (b'{"beds": [], "beds": []}', "json", BrokenJson, "the key 'beds' stands twice"),
    (b'{"beds": [{"id": "a", "id" : "b"}]}', "json", BrokenJson, "the key 'id' stands twice"),
    (b'{"beds": [{"id": "a", "\\u0069d": "b"}]}', "json", BrokenJson, "the key 'id' stands twice"),
    (b'{"garden": {"name": "a:b", "name": "c"}}', "json", BrokenJson, "the key 'name' stands twice"),
    (DEEP, "json", TooDeep, "deeper than 32"),
    (DEEPER, "json", TooDeep, "deeper than 32"),
    (b"a: " + b"[" * 40 + b"]" * 40, "yaml", TooDeep, "deeper than 32"),
    (b"a: [1", "yaml", BrokenYaml, "line"),
    (b"beds: []\nbeds: []\n", "yaml", BrokenYaml, "(line 2, column 1)"),
    (b"beds: &a []\ncovers: *a\n", "yaml", BrokenYaml, "aliases"),
    (b"beds: !!set {}\n", "yaml", BrokenYaml, "tags"),
    (b"beds:\n\t- id: a\n", "yaml", BrokenYaml, "(line 2, column 1)"),
    (b"name: \x07\n", "yaml", BrokenYaml, "YAML"),
    (b" " * (4 * 1024 * 1024 + 1), "json", TooLarge, "larger than 4 MB"),
    (b"#" * (256 * 1024 + 1), "yaml", TooLarge, "larger than 256 KB"),
]


@pytest.fixture(params=["quick", "standard"])
def json_reader(request, monkeypatch):
    """Each test with the quick JSON reader and without it: they decide alike."""
    if request.param == "standard":
        monkeypatch.setattr(reading_module, "quick_loads", None)
    elif reading_module.quick_loads is None:
        pytest.skip("orjson is not installed")


@pytest.mark.usefixtures("json_reader")
@pytest.mark.parametrize(("body", "kind", "failure", "words"), UNREADABLE, ids=lambda value: str(value)[:24])
def test_what_is_no_document_says_why(body, kind, failure, words):
    with pytest.raises(Unreadable) as unreadable:
        read(body, kind=kind, build_plan=Builder())
    assert type(unreadable.value) is failure
    assert words in unreadable.value.detail
    assert unreadable.value.status == (413 if failure is TooLarge else 400)


@pytest.mark.usefixtures("json_reader")
@pytest.mark.parametrize(
    ("body", "document"),
    [
        (b'{"garden": {"name": "a:b"}, "beds" : []}', {"garden": {"name": "a:b"}, "beds": []}),
        (b'{"count": 25.0, "x": 1e3}', {"count": 25.0, "x": 1000.0}),
        (b'{"x": 1e999}', {"x": float("inf")}),
        (b'{"x": "\\ud800"}', {"x": "\ud800"}),
        (b"{}", {}),
    ],
)
def test_json_is_read_alike_with_and_without_the_quick_reader(body, document):
    assert parse(body, "json") == (document, None)


def test_a_document_at_the_limit_of_depth_is_read():
    body = b'{"x-a":' + b"[" * 31 + b"]" * 31 + b"}"
    assert data_of(body) == {}


# -- with the real builder


def test_a_plan_comes_out_of_the_real_builder():
    plan = read(WHOLE, kind="yaml")
    assert isinstance(plan, Plan)
    assert plan.as_of == TODAY
    assert [bed.id for bed in plan.beds] == ["kiln", "old-kiln", "7"]
    assert {planting.crop.name for planting in plan.plantings} == {"cabbage", "kale"}


def test_the_real_builder_and_the_schema_report_together():
    document = {
        "beds": [{"id": "kiln", "lenght": 3}],
        "plantings": [{**PLANTING, "crop": "cabage"}, {**PLANTING, "bed": "kilm"}, {**PLANTING, "count": 0}],
    }
    with pytest.raises(PlanRejected) as rejected:
        read(document)
    assert [error.pointer for error in rejected.value.errors] == [
        "/beds/0/lenght",
        "/plantings/0/crop",
        "/plantings/1/bed",
        "/plantings/2/count",
    ]
    assert "cabbage" in rejected.value.errors[1].detail
    assert "kiln" in rejected.value.errors[2].detail


def test_a_bad_garden_does_not_upset_the_real_builder():
    document = {
        "garden": {"last_spring_frost": {"p10": "04-01"}, "first_autumn_frost": "soon"},
        "plantings": [PLANTING],
    }
    with pytest.raises(PlanRejected) as rejected:
        read(document)
    assert [error.pointer for error in rejected.value.errors] == [
        "/garden/last_spring_frost/p50",
        "/garden/first_autumn_frost",
    ]


def test_typed_gives_what_could_be_read_beside_the_faults():
    data, faults = typed({"beds": BEDS, "as_of": 5})
    assert data == {"beds": BEDS}
    assert [path for path, _ in faults] == [("as_of",)]
    assert typed({"beds": BEDS}) == ({"beds": BEDS}, [])
    assert typed(5)[0] is None


def test_reading_needs_neither_flask_nor_the_database():
    import subprocess
    import sys

    code = "import sys, service.reading; print(sorted({'flask', 'sqlalchemy'} & set(sys.modules)))"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"
