"""The doors to the cutting of nets."""

from __future__ import annotations

import copy
import json
import re
from typing import Any

import pytest
from bed_plan import JSON, PLAN, faults, post, printed
from flask.testing import FlaskClient

from service.schemas.planning import CutListSchema


def test_a_bed_is_cut_by_hand(client: FlaskClient) -> None:
    answer = post(client, "/v1/netting?bed=kiln")
    assert (answer.status_code, answer.content_type) == (200, JSON)
    body = answer.get_json()
    assert CutListSchema().validate(body) == {}
    (bed,) = body["beds"]
    # 300 cm in four gaps of 75 cm; half a circle of 60 cm is 188.5 cm, with two legs of 20 cm 229 cm
    assert bed["hoops"] == {"count": 5, "length": 229, "arc": 188.5, "apart": 75}
    assert bed["net"] == {"length": 450, "width": 219}
    assert [caution["id"] for caution in body["cautions"]] == ["netting_and_wildlife"]


def test_without_a_name_all_open_beds_are_cut_and_what_lacks_is_told(client: FlaskClient) -> None:
    body = post(client, "/v1/netting").get_json()
    assert [bed["bed"] for bed in body["beds"]] == ["kiln", "quay"]
    assert [lack["bed"] for lack in body["lacking"]] == ["bare"]
    assert [bed["bed"] for bed in post(client, "/v1/netting?bed=quay,%20vat").get_json()["beds"]] == ["quay", "vat"]


@pytest.mark.parametrize(
    ("text", "cm"), [("60", 60), ("60 cm", 60), ("0.6 m", 60), ("2 ft", 60.96), ("2 ft 6 in", 76.2), ("600mm", 60)]
)
def test_a_length_may_have_its_unit(
    client: FlaskClient, plan_file: str, capfdbinary: Any, text: str, cm: float
) -> None:
    body = client.post(
        "/v1/netting", query_string={"height": text}, data=json.dumps(PLAN), content_type=JSON
    ).get_json()
    assert body["work"]["height"] == cm
    assert json.loads(printed(capfdbinary, "net", plan_file, "--height", text, "--format", "json")) == body


#: A query for nets, and the words with which each of its parameters is refused.
BAD_NETS: list[tuple[dict[str, str], dict[str, str]]] = [
    ({"bed": "kilm"}, {"bed": "'kiln'"}),
    ({"bed": "kiln,,quay"}, {"bed": "''"}),
    ({"height": "sixty"}, {"height": "60 cm"}),
    ({"height": "60 yd"}, {"height": "'60 yd'"}),
    ({"height": "-60"}, {"height": "'-60'"}),
    ({"height": "1e2"}, {"height": "'1e2'"}),
    ({"height": "٦٠"}, {"height": "60 cm"}),
    ({"height": "9 m"}, {"height": "10 to 250 cm"}),
    ({"spacing": "0"}, {"spacing": "10 to 300 cm"}),
    ({"leg": "2 m"}, {"leg": "5 to 100 cm"}),
    ({"edge": "1"}, {"edge": "5 to 100 cm"}),
    ({"net_width": "1 in"}, {"net_width": "30 to 10000 cm"}),
    ({"pipe": "9999999"}, {"pipe": "30 to 10000 cm"}),
    (
        {"bed": "kilm", "height": "x", "leg": "9 m", "pipe": "1"},
        {"bed": "did you mean", "height": "'x'", "leg": "5 to 100", "pipe": "30 to"},
    ),
]


@pytest.mark.parametrize(
    ("query", "told"), BAD_NETS, ids=["-".join(query) + str(n) for n, (query, _) in enumerate(BAD_NETS)]
)
def test_all_faults_of_a_question_are_told_at_once(
    client: FlaskClient, query: dict[str, str], told: dict[str, str]
) -> None:
    found = faults(client.post("/v1/netting", query_string=query, data=json.dumps(PLAN), content_type=JSON))
    assert set(found) == set(told)
    for name, words in told.items():
        assert words in found[name]
        assert re.search(r"\w.*[^.?][.?]$", found[name])


def test_the_command_tells_all_faults_as_well(plan_file: str, capfdbinary: Any) -> None:
    told = printed(
        capfdbinary, "net", plan_file, "--bed", "kilm", "--net-width", "x", "--leg", "9 m", status=65
    ).decode()
    assert "did you mean 'kiln'" in told
    assert "--net-width: write a length" in told
    assert "--leg: 5 to 100 cm, not 900" in told
    assert b"--pipe" in printed(capfdbinary, "net", plan_file, "--pipe", "1", status=64)


def test_an_imperial_garden_reads_feet_and_inches(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["garden"]["units"] = "imperial"
    plan["beds"].append({"id": "field", "name": "Field", "length": "60 ft", "width": "30 ft"})
    answer = post(client, "/v1/netting?net_width=6%20ft&pipe=12%20ft", plan, Accept="text/plain")
    assert answer.content_type == "text/plain; charset=utf-8"
    text = answer.get_data(as_text=True)
    assert "Quay bed, 10 ft by 2 ft 11 in" in text
    assert "of 12 ft; left over: " in text
    assert "Not worked out: Field: it is wider than 13 ft 1 in" in text
    assert "Does not fit: Kiln bed: the net must be 7 ft 2 in wide" in text
    assert " cm" not in text
    assert max(map(len, text.splitlines())) <= 80


def test_the_text_of_a_cut_list_has_its_arithmetic_and_its_caution(plan_file: str, capfdbinary: Any) -> None:
    text = printed(capfdbinary, "net", plan_file, "--bed", "kiln", "--pipe", "3 m").decode()
    assert "Hoops: 5 of 2.29 m, 75 cm apart" in text
    assert "188 cm over the bed, 60 cm high, and 2 x 20 cm in the ground" in text
    assert "left over: 5 of 71 cm" in text
    caution = " ".join(text[text.index("Caution: ") :].split())
    assert "holes of 5 mm or less" in caution
    assert "Defer to: wildlife agency" in caution
