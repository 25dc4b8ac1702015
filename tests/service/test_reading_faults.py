"""Each fault of a document has its pointer and its words."""

import pytest
from read_documents import PLANTING, Builder, read

from service.reading import (
    MOST_ERRORS,
    PlanError,
    PlanRejected,
    pointer,
)


def faults_of(document, *faults, kind="json"):
    """Pointer and message of each fault of a document that is refused."""
    with pytest.raises(PlanRejected) as rejected:
        read(document, kind=kind, build_plan=Builder(*faults))
    return [(error.pointer, error.detail) for error in rejected.value.errors]


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
