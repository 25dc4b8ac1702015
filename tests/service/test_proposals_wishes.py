"""Wishes in a plan: read strictly, looked up by name, ignored by a check; and what is asked beside them."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest

import rules
from rules.model import Plan
from service.encode import report_dict
from service.proposing.question import NotAsked, Options, Question, read_question
from service.reading import PlanRejected, read_plan

KNOWLEDGE = rules.load_knowledge()
PLAN: dict[str, Any] = {
    "as_of": "2026-11-20",
    "garden": {"name": "Row", "latitude": 46.2, "country": "FR"},
    "crops": [{"id": "oca", "family": "Oxalidaceae"}],
    "beds": [
        {"id": "kiln", "name": "Kiln bed", "length": 300, "width": 120},
        {"id": "quay", "name": "Quay bed", "length": 300, "width": 120},
        {"id": "lime", "name": "Lime bed"},
    ],
    "plantings": [
        {"bed": "kiln", "crop": "kale", "season": "2025"},
        {"bed": "kiln", "crop": "broad beans", "season": "2026"},
        {"bed": "quay", "crop": "carrots", "season": "2025"},
        {"bed": "quay", "part": [0, 0.5], "crop": "leeks", "season": "2026"},
        {"bed": "quay", "part": [0.5, 0.6], "crop": "basil", "season": "2026"},
        {"bed": "lime", "crop": "kale", "season": "2026", "status": "lost"},
        {"bed": "lime", "crop": "globe artichoke", "start": "2024-04-10", "status": "growing"},
    ],
}


def today(zone: str | None) -> date:
    return date(2026, 11, 20)


def with_wishes(wishes: Any, **more: Any) -> bytes:
    return json.dumps({**PLAN, "wishes": wishes, **more}).encode()


def read(wishes: Any, **more: Any) -> Plan:
    return read_plan(with_wishes(wishes, **more), "json", today=today, knowledge=KNOWLEDGE)


def asked(document: dict[str, Any], **options: Any) -> Question:
    return read_question(json.dumps(document).encode(), "json", Options(**options), KNOWLEDGE, today)


def test_wishes_are_read_with_names_amounts_and_beds() -> None:
    plan = read(
        {
            "years": 3,
            "crops": [
                {"crop": "Potatoes", "beds": 1.5, "must": True, "years": [2028, 2027], "slot": "Main"},
                {"crop": "oca", "share": 0.25, "in": ["kiln", "quay"], "not_in": ["quay"]},
                {"crop": "leek", "not_in": ["lime"], "x-note": "for soup"},
            ],
            "dislikes": [{"crop": "radish"}, {"crop": "courgettes", "beds": ["kiln", "lime"]}],
            "winter_beds": 0,
            "catch_crops": True,
        }
    )
    wishes = plan.wishes
    assert wishes is not None
    assert (wishes.first_year, wishes.years, wishes.winter_beds, wishes.catch_crops) == (2027, 3, 0, True)
    told = [(w.crop.id, w.amount, w.share, w.must, w.years, w.beds, w.slot) for w in wishes.wants]
    assert told == [
        ("potato", 1.5, None, True, (2027, 2028), (), "main"),
        ("oca", None, 0.25, False, (), ("kiln",), "any"),
        ("leek", None, None, False, (), ("kiln", "quay"), "any"),
    ]
    assert [(one.crop.id, one.bed) for one in wishes.dislikes] == [
        ("radish", None),
        ("zucchini", "kiln"),
        ("zucchini", "lime"),
    ]


def test_plants_are_counted_in_beds_of_middling_size() -> None:
    wishes = read({"crops": [{"crop": "carrots", "plants": 400}]}).wishes
    assert wishes is not None
    # 5 to 7.5 cm each way: 6.25 squared, on beds of 300 by 120 cm
    assert wishes.wants[0].amount == pytest.approx(400 * 6.25**2 / 36_000)


#: Wishes, and the faults that they are refused with: pointer and words of each.
REFUSED: list[tuple[Any, dict[str, str]]] = [
    ("potatoes", {"/wishes": "group of keys"}),
    ({"crop": []}, {"/wishes/crop": "did you mean 'crops'"}),
    ({"years": 0}, {"/wishes/years": "1 to 12"}),
    ({"years": 13}, {"/wishes/years": "1 to 12"}),
    ({"from": "soon"}, {"/wishes/from": "whole number"}),
    ({"from": 2025}, {"/wishes/from": "2025 is over; plan from 2026 on"}),
    ({"winter_beds": -1}, {"/wishes/winter_beds": "0"}),
    ({"catch_crops": "yes"}, {"/wishes/catch_crops": "true or false"}),
    ({"crops": [{"beds": 1}]}, {"/wishes/crops/0/crop": "missing"}),
    ({"crops": ["leeks"]}, {"/wishes/crops/0": "group of keys"}),
    ({"crops": [{"crop": "leaks"}]}, {"/wishes/crops/0/crop": "did you mean leek"}),
    ({"crops": [{"crop": "leeks", "bed": "kiln"}]}, {"/wishes/crops/0/bed": "did you mean 'beds'"}),
    ({"crops": [{"crop": "leeks", "beds": 0}]}, {"/wishes/crops/0/beds": "more than 0"}),
    ({"crops": [{"crop": "leeks", "share": 1.1}]}, {"/wishes/crops/0/share": "at most 1"}),
    ({"crops": [{"crop": "leeks", "slot": "mane"}]}, {"/wishes/crops/0/slot": "'main'"}),
    ({"crops": [{"crop": "leeks", "plants": 3, "beds": 1}]}, {"/wishes/crops/0": "one of beds, plants and share"}),
    ({"crops": [{"crop": "oca", "plants": 3}]}, {"/wishes/crops/0/plants": "give beds instead"}),
    ({"crops": [{"crop": "leeks", "in": ["kilm"]}]}, {"/wishes/crops/0/in/0": "did you mean kiln"}),
    ({"crops": [{"crop": "leeks", "in": ["kiln"], "not_in": ["kiln"]}]}, {"/wishes/crops/0/not_in": "no bed"}),
    ({"crops": [{"crop": "herbs"}]}, {"/wishes/crops/0/crop": "stands for crops of several families; name the one"}),
    ({"crops": [{"crop": "fallow"}]}, {"/wishes/crops/0/crop": "wish for less"}),
    ({"crops": [{"crop": "leeks", "years": [2031]}]}, {"/wishes/crops/0/years/0": "2027 to 2030"}),
    ({"dislikes": [{"crop": "leeks", "beds": ["x"]}]}, {"/wishes/dislikes/0/beds/0": "no bed has the id"}),
    (
        {"crops": [{"crop": "leaks", "beds": "two"}, {"crop": "kale", "in": ["kilm"]}], "dislikes": [{"crop": "zz"}]},
        {
            "/wishes/crops/0/crop": "did you mean leek",
            "/wishes/crops/0/beds": "must be a number",
            "/wishes/crops/1/in/0": "did you mean kiln",
            "/wishes/dislikes/0/crop": "no crop is known",
        },
    ),
]


@pytest.mark.parametrize(("wishes", "faults"), REFUSED, ids=lambda value: json.dumps(value)[:60])
def test_every_fault_of_wishes_is_told_by_its_place(wishes: Any, faults: dict[str, str]) -> None:
    with pytest.raises(PlanRejected) as refused:
        read(wishes)
    told = {error.pointer: error.detail for error in refused.value.errors}
    assert told.keys() == faults.keys(), told
    for pointer, words in faults.items():
        assert words in told[pointer]


def test_faults_in_yaml_have_line_and_column() -> None:
    text = b"beds:\n  - {id: kiln}\nwishes:\n  crops:\n    - {crop: leaks}\n"
    with pytest.raises(PlanRejected) as refused:
        read_plan(text, "yaml", today=today, knowledge=KNOWLEDGE)
    assert [(error.line, error.column) for error in refused.value.errors] == [(5, 14)]


def test_a_check_does_no_more_with_wishes() -> None:
    plain = read_plan(json.dumps(PLAN).encode(), "json", today=today, knowledge=KNOWLEDGE)
    wished = read({"crops": [{"crop": "kale", "beds": 2}]})
    assert report_dict(rules.check(wished, KNOWLEDGE)) == report_dict(rules.check(plain, KNOWLEDGE))


# -- years


@pytest.mark.parametrize(
    ("as_of", "latitude", "planned", "first"),
    [
        ("2026-11-20", 46.2, [], 2027),
        ("2027-03-01", 46.2, [], 2027),  # spring: this year can still be planned
        ("2027-07-20", 46.2, [], 2028),
        ("2026-11-20", 46.2, ["2027-04-01"], 2028),
        ("2026-11-20", 46.2, ["2026-12-01"], 2027),
        ("2026-11-20", -33.0, [], 2026),  # spring there, of the year that began in July
        ("2027-03-01", -33.0, [], 2027),
    ],
)
def test_the_first_year_is_the_first_that_nothing_is_planned_for(
    as_of: str, latitude: float, planned: list[str], first: int
) -> None:
    rows = [{"bed": "kiln", "crop": "kale", "start": day} for day in planned]
    document = {**PLAN, "as_of": as_of, "garden": {"latitude": latitude}}
    document["plantings"] = [row for row in PLAN["plantings"] if row.get("season") == "2025"] + rows
    wishes = asked(document).wishes
    assert (wishes.first_year, wishes.years) == (first, 4)


def test_what_the_door_asks_is_stronger_than_the_wishes() -> None:
    document = {
        **PLAN,
        "wishes": {"from": 2029, "years": 3, "crops": [{"crop": "leeks", "years": [2030]}, {"crop": "kale"}]},
    }
    assert asked(document).wishes.horizon == range(2029, 2032)
    question = asked(document, first=2028, years=2, alternatives=2)
    assert question.wishes.horizon == range(2028, 2030)
    assert question.wishes.alternatives == 2
    assert [wish.crop.id for wish in question.wishes.wants] == ["kale"]
    assert "leeks are wanted in 2030 only" in question.notes[0]


def test_without_wishes_the_record_says_what_is_wanted() -> None:
    question = asked(PLAN, years=2)
    # Two years on record: kale, carrots and broad beans half of the time in a bed, leeks in half a bed.
    # Lost kale was not grown, artichokes stand anyway, and basil is too little.
    wants = {wish.crop.id: wish.amount for wish in question.wishes.wants}
    assert wants == {"broad_bean": 0.5, "carrot": 0.5, "kale": 0.5, "leek": 0.25}
    assert question.notes[0] == (
        "The plan has no wishes, so what was grown from 2025 to 2026 is taken as what is wanted."
    )
    assert "Too little to plan for: basil." in question.notes[1]


@pytest.mark.parametrize(
    ("document", "words"),
    [
        ({**PLAN, "plantings": []}, "nothing is wanted"),
        ({"plantings": [], "beds": [{"id": "kiln"}]}, "nothing is wanted"),
    ],
)
def test_a_question_without_an_answer_is_refused(document: dict[str, Any], words: str) -> None:
    with pytest.raises(PlanRejected) as refused:
        asked(document)
    assert words in refused.value.errors[0].detail


# -- keeping a part

PLANNED = {
    **PLAN,
    "plantings": [
        *PLAN["plantings"],
        {"bed": "kiln", "crop": "potatoes", "start": "2027-04-10", "end": "2027-08-20", "x-mine": True},
        {"id": "beet", "bed": "quay", "crop": "beetroot", "start": "2027-04-20", "end": "2027-09-20"},
        {"bed": "kiln", "crop": "onions", "start": "2028-03-20", "end": "2028-08-20"},
    ],
    "wishes": {"from": 2027, "years": 2, "crops": [{"crop": "kale"}]},
}


@pytest.mark.parametrize(
    ("keep", "left"),
    [
        ((), ["potato", "beet", "onion"]),
        (("kiln",), ["potato", "onion"]),
        (("kiln:2027",), ["potato"]),
        (("kiln:2028", " quay "), ["beet", "onion"]),
        (("lime",), []),
    ],
)
def test_what_is_not_kept_is_planned_anew(keep: tuple[str, ...], left: list[str]) -> None:
    question = asked(PLANNED, keep=keep)
    assert sorted(p.crop.id for p in question.plan.plantings if p.start > question.plan.as_of) == sorted(left)
    rows = [row for row in question.document["plantings"] if row.get("start", "") > "2026-11-20"]
    assert len(rows) == len(left)
    history = [p for p in question.plan.plantings if p.start <= question.plan.as_of]
    assert len(history) == len(PLAN["plantings"])  # history stays


@pytest.mark.parametrize(
    ("keep", "words"),
    [
        ("kilm", "did you mean 'kiln'"),
        ("kiln:2026", "2027 to 2028"),
        ("kiln:soon", "bed:2028"),
        ("", "no bed|write a bed"),
    ],
)
def test_what_cannot_be_kept_is_refused(keep: str, words: str) -> None:
    with pytest.raises(NotAsked) as refused:
        asked(PLANNED, keep=(keep, "kiln"))
    ((name, said),) = refused.value.faults
    assert name == "keep"
    assert any(word in said for word in words.split("|"))
