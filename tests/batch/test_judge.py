"""One garden, one line: the report of the ordinary check, or every fault by its cell."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rules
from service.batch.documents import bed_id
from service.batch.gardens import Gardens, read_sightings
from service.batch.judge import Shared, judge_garden
from service.batch.site import good_site, read_site
from service.encode import report_dict
from service.reading import PlanRejected, read_plan

TODAY = date(2026, 11, 20)
HEAD = "garden,bed,season,start,end,crop,count,spacing,part,status,cause,variety,resists,x,y,length,width\n"
KNOWLEDGE = rules.load_knowledge()


def lines(text: str, **shared: Any) -> list[dict[str, Any]]:
    """The lines of a sheet or of plans, each from an item and settings that went through JSON."""
    shared = {"today": TODAY, "season": "2027", **shared}
    kept = Shared.unpack(json.loads(json.dumps(Shared(**shared).pack())))
    assert kept == Shared(**shared)
    return [judge_garden(item, kept) for item in Gardens(io.BytesIO(text.encode()))]


def line(text: str, **shared: Any) -> dict[str, Any]:
    (found,) = lines(text, **shared)
    return found


def checked(document: dict[str, Any], season: str | None = "2027") -> dict[str, Any]:
    """The report of the ordinary way of a document."""
    body = json.dumps(document).encode()
    plan = read_plan(body, "json", today=lambda _zone: TODAY, season=season, knowledge=KNOWLEDGE)
    return report_dict(rules.check(plan, KNOWLEDGE))


# -- the same report as the ordinary check

CROPS = ("kale", "cabbage", "potatoes", "tomato", "onions", "leek", "broad beans", "carrots", "beans", "fallow", "oca")
SITE = {
    "garden": {"latitude": 46.2, "country": "FR", "last_spring_frost": "05-04", "first_autumn_frost": "10-02"},
    "bed": {"kind": "raised", "length": "3 m", "width": 120},
    "crops": [{"id": "oca", "family": "Oxalidaceae"}],
}


@st.composite
def plantings(draw: st.DrawFn) -> dict[str, Any]:
    year = draw(st.integers(2023, 2027))
    row: dict[str, Any] = {
        "bed": draw(st.sampled_from(["kiln", "quay", "bark.2"])),
        "crop": draw(st.sampled_from(CROPS)),
    }
    if draw(st.booleans()):
        row["season"] = draw(st.sampled_from([str(year), f"{year}-spring", f"{year}-autumn"]))
    else:
        row["start"] = f"{year}-0{draw(st.integers(3, 6))}-11"
        if draw(st.booleans()):
            row["end"] = f"{year}-{draw(st.integers(7, 12)):02}-30"
    row |= draw(
        st.fixed_dictionaries(
            {},
            optional={
                "part": st.sampled_from([[0, 0.5], [0.25, 1]]),
                "count": st.integers(1, 90),
                "spacing": st.sampled_from([30, 12.5, "10 in"]),
                "method": st.sampled_from(["sow", "transplant"]),
                "variety": st.sampled_from([{"name": "Red"}, {"resists": ["clubroot", "white rot"]}]),
            },
        )
    )
    return row


def cell(value: Any) -> str:
    if isinstance(value, list):
        return "-".join(map(str, value)) if isinstance(value[0], int | float) else "; ".join(value)
    return str(value)


def sheet_of(document: dict[str, Any]) -> str:
    """A plan document as a sheet, written by other code than the reader's."""
    out = io.StringIO()
    columns = [
        "garden",
        "bed",
        "crop",
        "season",
        "start",
        "end",
        "part",
        "count",
        "spacing",
        "method",
        "variety",
        "resists",
    ]
    writer = csv.DictWriter(out, columns, restval="")
    writer.writeheader()
    for row in document["plantings"]:
        variety = row.get("variety", {})
        flat = {**row, "variety": variety.get("name", ""), "resists": variety.get("resists", "")}
        writer.writerow({"garden": document["garden"]["name"], **{key: cell(value) for key, value in flat.items()}})
    return out.getvalue()


def whole(rows: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    """The document that the sheet of these rows and ``SITE`` stand for."""
    beds = list(dict.fromkeys(row["bed"] for row in rows))
    return {
        "garden": {**SITE["garden"], "name": "Plot 1"},
        "crops": SITE["crops"],
        "beds": [{"id": bed, **SITE["bed"]} for bed in beds],
        "plantings": rows,
        **more,
    }


@settings(max_examples=60, deadline=None)
@given(st.lists(plantings(), min_size=1, max_size=14))
def test_a_garden_of_a_sheet_gets_the_report_of_its_plan(rows: list[dict[str, Any]]) -> None:
    document = whole(rows)
    found = line(sheet_of(document), site=SITE)
    assert found["type"] == "report"
    assert found["report"] == checked(document)


@settings(max_examples=30, deadline=None)
@given(st.lists(plantings(), min_size=1, max_size=8))
def test_a_plan_a_line_gets_the_report_of_its_plan(rows: list[dict[str, Any]]) -> None:
    document = whole(rows)
    assert line(json.dumps(document))["report"] == checked(document)
    lean = {"garden": {"name": "Plot 1"}, "plantings": rows}
    beds = [{"id": bed, **SITE["bed"]} for bed in sorted({row["bed"] for row in rows})]
    assert line(json.dumps(lean), site=SITE)["report"] == checked({**document, "beds": beds})


def test_sightings_of_a_second_sheet_are_those_of_the_plan() -> None:
    rows = [{"bed": "kiln", "crop": "kale", "season": "2022"}, {"bed": "kiln", "crop": "cabbage", "season": "2027"}]
    seen = [{"bed": "kiln", "date": "2022-07-01", "of": "club root", "level": "severe"}]
    sheet = "garden,bed,date,of,level\nplot  1,kiln,2022-07-01,club root,severe\n"
    sightings = read_sightings(io.BytesIO(sheet.encode()))
    expected = checked(whole(rows, sightings=seen))
    assert expected != checked(whole(rows))
    for text in (sheet_of(whole(rows)), json.dumps(whole(rows))):
        found = line(text, site=SITE, sightings=sightings)
        assert found["report"] == expected
        assert found["diseases"] == [{"of": "clubroot", "beds": ["kiln"], "where": "kiln", "last": "2022-07-01"}]


def test_a_plan_says_more_than_its_site() -> None:
    document = {
        "garden": {"name": "Plot 1", "latitude": -40.0},
        "plantings": [{"bed": "a", "crop": "kale", "season": "2027"}],
    }
    told = line(json.dumps(document), site=SITE)["report"]
    assert told["seasons_read"]["2027"] == {"from": "2027-10-01", "to": "2028-04-30"}
    plain = lines(json.dumps({**document, "as_of": "2020-01-01"}), site={"as_of": "2021-01-01"})
    assert plain[0]["report"]["as_of"] == "2020-01-01"


def test_a_bed_has_the_name_that_people_write() -> None:
    text = (
        HEAD
        + "Plot 1,North bed (old),2026,,,kale\n"
        + "Plot 1,north bed (OLD),2027,,,cabbage\nPlot 1,Été,2027,,,leeks\n"
    )
    report = line(text)["report"]
    assert [bed["bed"] for bed in report["beds"]] == ["north-bed-old", "ete"]
    assert any("North bed (old)" in finding["title"] for finding in report["findings"])


@pytest.mark.parametrize("text", ["kiln", "Bed_3", "a.b-c"])
def test_a_cell_that_is_an_id_stays_as_it_is(text: str) -> None:
    assert bed_id(text) == text


@given(st.text(min_size=1, max_size=90))
def test_any_name_of_a_bed_gives_an_id(text: str) -> None:
    from service.schemas.fields import Slug

    assert Slug.form.fullmatch(bed_id(text))


def test_beds_have_the_places_that_their_rows_give() -> None:
    rows = "Plot 1,a,2027,,,kale,,,,,,,,2,3,300,120\nPlot 1,a,2026,,,leeks\n"
    rows += 'Plot 1,b,2027,,,leeks,,,,,,,,-1,"4,5",100,100\n'
    found = line(HEAD + rows)
    assert found["extent"] == [-1.0, 3.0, 5.0, 5.5]
    assert line(HEAD + "Plot 1,a,2027,,,kale\n")["extent"] is None


# -- faults


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        ("Plot 1,a,2027,,,cabage", "crop", "no crop is known as 'cabage'; did you mean cabbage"),
        ("Plot 1,a,2027,,,", "crop", "crop is missing"),
        ("Plot 1,,2027,,,kale", "bed", "bed is missing"),
        ("Plot 1,a,,,,kale", None, "give a season or a start"),
        ("Plot 1,a,next,,,kale", "season", "such as 2027 or 2027-spring"),
        ("Plot 1,a,,14/05/2027,,kale", "start", "written YYYY-MM-DD"),
        ("Plot 1,a,,2027-02-30,,kale", "start", "must be a date that exists"),
        ("Plot 1,a,,2027-05-01,2026-05-01,kale", "end", "lies before the start"),
        ("Plot 1,a,2027,,,kale,eight", "count", "must be a whole number, 1 or more; got 'eight'"),
        ("Plot 1,a,2027,,,kale,2.5", "count", "must be a whole number"),
        ('Plot 1,a,2027,,,kale,,"1,250"', "spacing", "text with a unit"),
        ("Plot 1,a,2027,,,kale,,,half", "part", "such as 0-0.5"),
        ("Plot 1,a,2027,,,kale,,,0.5-0.2", "part", "the smaller first"),
        ("Plot 1,a,2027,,,kale,,,,lost,slogs", "cause", "did you mean slugs"),
        ("Plot 1,a,2027,,,kale,,,,gone", "status", "must be one of planned, growing, done, lost"),
        ("Plot 1,a,2027,,,kale,,,,,,Red,clubrot", "resists", "did you mean clubroot"),
        ("Plot 1,a,2027,,,kale,,,,,,,,east", "x", "must be a number"),
        ("Plot 1,a,2027,,,kale,,,,,,,,,,wide", "length", "text with a unit"),
    ],
)
def test_a_fault_is_told_by_its_cell(row: str, column: str | None, said: str) -> None:
    good = "Plot 0,a,2027,,,kale\n"
    first, found, last = lines(HEAD + good + row + "\n" + good.replace("0", "2", 1))
    assert first["type"] == last["type"] == "report"
    assert (found["type"], found["line"], found["garden"]) == ("error", 3, "Plot 1")
    fault = next(one for one in found["errors"] if said in one["detail"])
    assert (fault["line"], fault.get("column")) == (3, column)


def test_every_fault_of_a_garden_is_told_at_once_in_the_order_of_the_sheet() -> None:
    rows = ("cabage,eight,,,,,,,1", "kale,,,,,,,,2,,,,more", "lekes,,,,,,,,2")
    found = line(HEAD + "".join(f"Plot 1,a,2027,,,{row}\n" for row in rows))
    told = [(one["line"], one.get("column")) for one in found["errors"]]
    assert told == sorted(told, key=lambda one: one[0])
    assert {(2, "crop"), (2, "count"), (3, None), (4, "crop"), (4, "x")} <= set(told)
    assert found["total"] == len(told)


def test_a_garden_of_which_no_row_can_be_read_has_the_faults_of_its_rows_alone() -> None:
    found = line(HEAD + 'Plot 1,a,2027,,,"kale\n')
    assert [one["line"] for one in found["errors"]] == [2]
    assert found["total"] == 1


def test_rows_that_disagree_about_a_bed_are_told() -> None:
    found = line(HEAD + "Plot 1,a,2026,,,kale,,,,,,,,,,300,\nPlot 1,a,2027,,,leeks,,,,,,,,,,200,\n")
    assert found["errors"] == [
        {"line": 3, "column": "length", "detail": "length is 200 here and 300 in line 2; they must agree"}
    ]


def test_a_sighting_in_a_bed_that_is_not_there_fails_its_garden() -> None:
    seen = read_sightings(io.BytesIO(b"garden,bed,date,of\nPlot 1,kilm,2025-07-01,clubroot\nPlot 1,kiln,July,club\n"))
    found = line(HEAD + "Plot 1,kiln,2027,,,kale\n", sightings=seen)
    told = {(one["sheet"], one["line"], one["column"]) for one in found["errors"]}
    assert told == {("sightings", 2, "bed"), ("sightings", 3, "date"), ("sightings", 3, "of")}


@pytest.mark.parametrize(
    ("text", "garden", "pointer", "said"),
    [
        ('{"beds": [', None, None, "not readable as JSON"),
        ('{"beds": [], "beds": []}', None, None, "stands twice"),
        ('{"garden": {"name": "Plot 1"}, "plantings": [{"bed": "a", "crop": "cabage", "season": "2027"}]}',
         "Plot 1", "/plantings/0/crop", "did you mean cabbage"),
        ('{"garden": [], "bed": 1}', None, "/garden", "must be a group"),
        ('{"garden": {"name": 7}}', None, "/garden/name", "must be text"),
        ('{}', None, "", "a plan needs beds, plantings or both"),
    ],
)  # fmt: skip
def test_a_plan_that_cannot_be_read_is_told_by_its_pointer(
    text: str, garden: str | None, pointer: str | None, said: str
) -> None:
    found = line(text, site=SITE)
    assert (found["type"], found["line"], found["garden"]) == ("error", 1, garden)
    fault = next(one for one in found["errors"] if said in one["detail"])
    assert fault.get("pointer") == pointer


def test_what_is_no_plan_does_not_stop_the_stream() -> None:
    found = lines(
        '{"beds": [{"id": "a"}]}\n[1]\n"x"\nnull\n\udcff\n{"beds": [{"id": "a"}]}'.encode(
            "utf-8", "surrogateescape"
        ).decode("utf-8", "ignore")
    )
    assert [one["type"] for one in found] == ["report", "error", "error", "error", "report"]
    assert all(one["errors"] for one in found[1:-1])


def test_a_garden_that_brings_the_engine_down_takes_no_other_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    check = rules.check

    def failing(plan: rules.Plan, *args: Any) -> rules.Report:
        if plan.garden.name == "Plot 1":
            raise ZeroDivisionError
        return check(plan, *args)

    monkeypatch.setattr(rules, "check", failing)
    one, two = lines(HEAD + "Plot 1,a,2027,,,kale\nPlot 2,a,2027,,,kale\n")
    assert one["type"] == "error"
    assert "fault of the program" in one["errors"][0]["detail"]
    assert two["type"] == "report"


# -- what all gardens share


def test_a_site_is_read_from_yaml() -> None:
    text = "garden: {latitude: 46.2, country: fr}\nbed: {kind: raised}\nx-club: Row\ncrops:\n"
    site = read_site(text.encode(), "yaml", KNOWLEDGE)
    assert site == {"garden": {"latitude": 46.2, "country": "fr"}, "bed": {"kind": "raised"}}


@pytest.mark.parametrize(
    ("text", "pointer", "line_", "said"),
    [
        ("garden: {latitdue: 46.2}\n", "/garden/latitdue", 1, "did you mean 'latitude'"),
        ("beds:\n  - {id: a}\n", "/beds", 2, "did you mean 'bed'"),
        ("garden:\n  name: Row\n", "/garden/name", 2, "unknown key 'name'"),
        ("bed:\n  id: a\n", "/bed/id", 2, "unknown key 'id'"),
        ("bed: {length: wide}\n", "/bed/length", 1, "text with a unit"),
        ("crops:\n  - {id: oca, family: Oxalis}\n", "/crops/0/family", 2, "is not a plant family"),
        ("crops:\n  - {id: kale, family: Brassicaceae}\n", "/crops/0/id", 2, "in the catalogue already"),
        ("judge: {from: 2027-05-01, to: 2027-04-01}\n", "/judge/to", 1, "lies before"),
        ("7\n", "", 1, "group of keys"),
    ],
)
def test_a_site_is_refused_by_place(text: str, pointer: str, line_: int, said: str) -> None:
    with pytest.raises(PlanRejected) as found:
        read_site(text.encode(), "yaml", KNOWLEDGE)
    fault = next(one for one in found.value.errors if said in one.detail)
    assert (fault.pointer, fault.line) == (pointer, line_)


def test_a_good_site_spoils_no_garden() -> None:
    site = good_site({**SITE, "as_of": "2026-11-20", "judge": {"season": "2027"}}, KNOWLEDGE)
    assert line(HEAD + "Plot 1,a,2027,,,oca\n", site=site, season=None)["report"]["judged"]["season"] == "2027"


def test_the_least_severity_cuts_the_list_and_not_the_verdict() -> None:
    text = HEAD + "Plot 1,a,2026,,,kale\nPlot 1,a,2027,,,cabbage\n"
    all_, some = line(text)["report"], line(text, severity="breach")["report"]
    assert some["verdict"] == all_["verdict"] == "breach"
    assert some["findings"] == [one for one in all_["findings"] if one["severity"] == "breach"]
