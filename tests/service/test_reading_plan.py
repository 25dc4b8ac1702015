"""Reading with the real builder: a plan, or all that is wrong."""

import pytest
from read_documents import PLANTING, TODAY, WHOLE, read

from rules.model import Plan
from service.reading import (
    PlanRejected,
    typed,
)

BEDS = [{"id": "kiln"}, {"id": "quay"}]


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
