"""A proposal made by hand, told as a page, as values and as a plan that can be checked."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

import rules
from rules.model import WHOLE, Planting, Variety, Window
from rules.planning.propose import Placed, Proposal, Relaxation, Unplaced
from service.encode import report_dict
from service.proposing.document import TOLD, document_yaml, planting_row, proposed_document
from service.proposing.encode import proposal_dict
from service.proposing.question import Options, Question, read_question
from service.proposing.text import proposal_text, search_words
from service.reading import parse, read_plan
from service.schemas.proposal import ProposalSchema

KNOWLEDGE = rules.load_knowledge()
PLAN: dict[str, Any] = {
    "as_of": "2026-11-20",
    "garden": {"name": "Tannery Row Plots", "latitude": 46.2},
    "beds": [{"id": "kiln", "name": "Kiln bed"}, {"id": "quay", "name": "Quay bed"}],
    "plantings": [
        *({"bed": "kiln", "crop": "kale", "season": str(year)} for year in (2023, 2024)),
        *({"bed": "kiln", "crop": "broad beans", "season": str(year)} for year in (2025, 2026)),
        *({"bed": "quay", "crop": "courgettes", "season": str(year)} for year in (2023, 2024, 2025, 2026)),
        {"id": "own", "bed": "quay", "part": [0, 0.3], "crop": "parsnips", "start": "2027-04-01", "end": "2028-03-15"},
    ],
    "wishes": {
        "from": 2027,
        "years": 2,
        "crops": [{"crop": "potatoes", "beds": 0.5, "must": True}, {"crop": "garlic"}, {"crop": "leeks", "share": 0.5}],
    },
}


def today(zone: str | None) -> date:
    return date(2026, 11, 20)


def planting(name: str, bed: str, crop: str, start: str, end: str, part: tuple[float, float] = WHOLE) -> Planting:
    return Planting(name, bed, KNOWLEDGE.crops[crop], date.fromisoformat(start), date.fromisoformat(end), part=part)


def made() -> tuple[Question, Proposal]:
    question = read_question(json.dumps(PLAN).encode(), "json", Options(), KNOWLEDGE, today)
    added = (
        planting("p1", "kiln", "potato", "2027-04-15", "2027-08-20", (0.0, 0.5)),
        planting("p2", "kiln", "garlic", "2027-10-15", "2028-07-10", (0.5, 0.75)),
        planting("p3", "quay", "potato", "2028-04-15", "2028-08-20", (0.5, 1.0)),
    )
    plan = replace(
        question.plan,
        plantings=(*question.plan.plantings, *added),
        judge=Window(date(2027, 1, 1), date(2028, 12, 31)),
        judged_season=None,
    )
    potatoes, garlic, leeks = question.wishes.wants
    helps = Relaxation("slot", "plant leeks in June")
    proposal = Proposal(
        plantings=added,
        plan=plan,
        report=rules.check(plan, KNOWLEDGE),
        placed=(Placed(potatoes, 2027, 0.5, ("kiln",)), Placed(garlic, 2027, 0.25, ("kiln",))),
        unplaced=(
            Unplaced(leeks, 2027, 1.0, "both beds are full while leeks stand", helps),
            Unplaced(leeks, 2028, 1.0, "both beds are full while leeks stand", helps),
            Unplaced(garlic, 2028, 0.25, "no bed rests long enough for the onion family"),
        ),
        value=980.0,
        bound=1000.0,
        stopped="time",
        counting=("Leeks ask for 4 quarters, and 3 are free.",),
    )
    elsewhere = added[0]._replace(bed="quay")
    other = replace(proposal, plantings=(elsewhere, *added[1:]), value=970.0)
    return question, replace(proposal, alternatives=(other, proposal))


PAGE = """\
Tannery Row Plots: proposal for 2027 to 2028
--------------------------------------------
Verdict:  clear - nothing against the plan on record
Search:   stopped by time; at most 2 percent better is possible.

Beds and years
--------------
Bed       2027           2028
--------  -------------  --------------
Kiln bed  1/2 potatoes   (1/4 garlic)
          1/4 garlic

Quay bed  30% parsnips*  (30% parsnips)
                         1/2 potatoes

* planned already; ( ) still there from the year before

What goes in in 2027
--------------------
Day     Crop      Bed            Out by
------  --------  -------------  -----------
15 Apr  potatoes  Kiln bed, 1/2  20 Aug 2027
15 Oct  garlic    Kiln bed, 1/4  10 Jul 2028

What was wanted
---------------
Placed as wanted: potatoes.
What falls short, in beds:

        2027       2028
------  ---------  -----------
leeks   none of 1  none of 1
garlic  1/4        none of 1/4

Both beds are full while leeks stand. Short of room: leeks in 2027 and 2028.
  What would help: Plant leeks in June.
No bed rests long enough for the onion family. Short of room: garlic in 2028.
By counting: Leeks ask for 4 quarters, and 3 are free.

What the check says
-------------------
Nothing against it: 2 are benefits. To read them, let breakcrop check read the
  plan that --format yaml writes.

Other plans that would do
-------------------------
1. 1.1 percent less good; potatoes of 2027 in Quay bed.
2. as good; the same crops in the same beds, on other days or in other parts of
   them.
"""


def test_the_page_reads_so() -> None:
    assert proposal_text(*made()) == PAGE


def test_faults_are_told_with_what_to_do_and_gaps_in_the_record() -> None:
    question, proposal = made()
    again = planting("p4", "kiln", "potato", "2028-04-15", "2028-08-20", (0.0, 0.5))
    on_record = tuple(p for p in proposal.plan.plantings if p.season != "2026")
    faulty = replace(proposal.plan, plantings=(*on_record, again))
    page = proposal_text(question, replace(proposal, plan=faulty, report=rules.check(faulty, KNOWLEDGE)))
    told = page.partition("What the check says\n-------------------\n")[2]
    assert told.startswith("Breach:\n- Potatoes in Kiln bed too soon after potatoes: the same crop again (2028).\n  ")
    assert "Not on record: Kiln bed has no record for 2026; Quay bed" in " ".join(told.split())


@pytest.mark.parametrize("width", [40, 60, 80])
def test_the_page_keeps_its_width(width: int) -> None:
    text = proposal_text(*made(), width=width)
    assert max(map(len, text.splitlines())) <= width


@pytest.mark.parametrize(
    ("stopped", "value", "words"),
    [
        ("optimal", 1000.0, "proven best for what goes into which bed in which year."),
        ("optimal", 999.0, "as good as proven; at most 0.1 percent better is possible."),
        ("time", 986.2, "stopped by time; at most 1.4 percent better is possible."),
        ("quick", 750.0, "the quick answer, not searched further; at most 25 percent better is possible."),
    ],
)
def test_how_good_it_is_is_said_in_plain_words(stopped: Any, value: float, words: str) -> None:
    _, proposal = made()
    assert search_words(replace(proposal, stopped=stopped, value=value)) == words


def test_asking_for_less_is_said_once_and_long_lists_are_cut() -> None:
    question, proposal = made()
    less = tuple(replace(one, relaxation=Relaxation("fewer", "ask for less")) for one in proposal.unplaced)
    counting = tuple(f"Count {number}" for number in range(5))
    page = proposal_text(question, replace(proposal, unplaced=less, counting=counting))
    assert page.count("Ask for less of what falls short, and all that is placed above still fits.") == 1
    assert "What would help" not in page
    assert "By counting: Count 2.\n2 more that cannot fit by counting.\n" in page


# -- as values and as a plan


def test_the_answer_is_the_one_of_the_document() -> None:
    question, proposal = made()
    told = proposal_dict(question, proposal)
    assert ProposalSchema().validate(told) == {}
    assert (told["gap"], told["stopped"], told["years"]) == (0.02, "time", {"from": 2027, "to": 2028})
    assert told["unplaced"][2] == {
        **{"crop": "garlic", "year": 2028, "amount": 0.25, "relaxation": None},
        "reason": "no bed rests long enough for the onion family",
    }
    assert [row["bed"] for row in told["alternatives"][0]["plantings"]] == ["quay", "kiln", "quay"]


@pytest.mark.parametrize("form", ["json", "yaml"])
def test_the_proposed_plan_is_read_and_judged_as_it_was(form: Any) -> None:
    question, proposal = made()
    document = proposed_document(question, proposal)
    text = document_yaml(document) if form == "yaml" else json.dumps(document)
    plan = read_plan(text.encode(), form, today=today, knowledge=KNOWLEDGE)
    assert plan.plantings == tuple(sorted(proposal.plan.plantings, key=lambda p: (p.start, p.end, p.crop.id, p.bed)))
    report = {**report_dict(rules.check(plan, KNOWLEDGE)), "seasons_read": None}
    assert report == {**report_dict(proposal.report), "seasons_read": None}
    assert plan.wishes is not None
    assert plan.wishes.wants == question.plan.wishes.wants  # type: ignore[union-attr]
    assert document[TOLD]["added"] == ["p1", "p2", "p3"]
    again = read_question(text.encode(), form, Options(), KNOWLEDGE, today)
    assert again.wishes == question.wishes


#: Texts that a reader could take for something else than text.
ODD = [
    "1e3",
    "012",
    "0x1F",
    "no",
    "null",
    "~",
    "",
    " x ",
    "a: b",
    "#x",
    "2027-01-01",
    "05-04",
    "é\u0085",
    "- a",
    "'",
    '"',
    "{a",
]


def test_what_is_written_as_yaml_is_read_as_it_was() -> None:
    twice = [1]
    document = {"a": ODD, "b": {"c": {"d": [1, 2.5, 1e-7, None, True]}}, "rows": [{"x": one} for one in ODD], "e": "no"}
    document |= {
        "f": [twice, twice],
        "g": {},
        "h": [],
    }  # no anchors, which our reader refuses; what is empty is left out
    read = parse(document_yaml(document).encode(), "yaml")[0]
    assert read == {key: value for key, value in document.items() if value}


def test_a_planting_is_written_with_all_that_is_not_assumed() -> None:
    whole = planting("a", "kiln", "leek", "2027-05-01", "2028-03-01")
    assert planting_row(whole._replace(assumed_end=True)) == {
        **{"id": "a", "bed": "kiln", "crop": "leek", "start": "2027-05-01"}
    }
    full = whole._replace(
        **{"part": (0.0, 0.5), "first_harvest": date(2027, 10, 1), "status": "growing", "plants": 9, "spacing": 15.0},
        **{"method": "transplant", "replaces": "b"},
    )
    assert planting_row(full) == {
        **{"id": "a", "bed": "kiln", "part": [0.0, 0.5], "crop": "leek", "start": "2027-05-01", "end": "2028-03-01"},
        **{"first_harvest": "2027-10-01", "status": "growing", "count": 9},
        **{"method": "transplant", "replaces": "b", "spacing": 15.0},
    }
    season = whole._replace(exact="quarter", season="2027-spring", assumed_end=True, variety=Variety("x"))
    assert planting_row(season) == {"id": "a", "bed": "kiln", "crop": "leek", "season": "2027-spring"}
