"""The whole answer: the same bytes however the work is cut up, the summary, the two forms."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import textwrap
from concurrent.futures.process import BrokenProcessPool
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plots import sheets

import rules
from service.batch.answer import Answer
from service.batch.gardens import GardenRows, Gardens, read_sightings
from service.batch.judge import Shared
from service.batch.lines import HEADER
from service.batch.run import MOST_GARDENS, MOST_ROWS, Work, chunks, in_order
from service.batch.summarytext import summary_text
from service.jobs.batching import Closing

ROOT = Path(__file__).parents[2]
TODAY = date(2026, 11, 20)
KNOWLEDGE = rules.load_knowledge()
HEAD = "garden,bed,season,crop,x,y,length,width\n"
PLOTS = sheets(60)
WORK = {form: Work(Shared(TODAY, "2027"), form) for form in ("csv", "ndjson")}


def answer(text: str, form: Any = "ndjson", sightings: str = "", **shared: Any) -> Answer:
    seen = read_sightings(io.BytesIO(sightings.encode()))
    work = Work(Shared(TODAY, **{"season": "2027", "sightings": seen, **shared}), form)
    return Answer(Gardens(io.BytesIO(text.encode())), work, KNOWLEDGE)


def told(text: str, **options: Any) -> list[dict[str, Any]]:
    return [json.loads(line) for line in b"".join(answer(text, **options)).splitlines()]


def summary(text: str, **options: Any) -> dict[str, Any]:
    return told(text, **options)[-1]


# -- cut up and shared out


@settings(max_examples=12, deadline=None)
@given(st.integers(1, 40), st.integers(1, 900), st.sampled_from(["csv", "ndjson"]))
def test_any_chunks_give_the_same_bytes(gardens: int, rows: int, form: Any) -> None:
    items = list(Gardens(io.BytesIO(PLOTS.plots.encode())))
    whole = WORK[form].chunk(items, KNOWLEDGE)
    parts = [WORK[form].chunk(chunk, KNOWLEDGE) for chunk in chunks(items, gardens, rows)]
    assert b"".join(part.data for part in parts) == whole.data
    assert [brief for part in parts for brief in part.briefs] == whole.briefs


@pytest.mark.parametrize(("processes", "gardens"), [(2, 1), (2, 7), (3, 4), (5, 25)])
def test_any_number_of_processes_gives_the_same_bytes(processes: int, gardens: int) -> None:
    items = list(Gardens(io.BytesIO(PLOTS.plots.encode())))
    alone = list(in_order(WORK["ndjson"], chunks(items, gardens), 1, KNOWLEDGE))
    assert list(in_order(WORK["ndjson"], chunks(items, gardens), processes, KNOWLEDGE)) == alone


def test_no_more_is_read_than_the_processes_need() -> None:
    taken = 0

    def source() -> Any:
        nonlocal taken
        for chunk in chunks(Gardens(io.BytesIO(PLOTS.plots.encode())), 2):
            taken += 1
            yield chunk

    results = in_order(WORK["ndjson"], source(), 2, KNOWLEDGE)
    for count, _ in enumerate(results, 1):
        assert taken <= count + 2 * 2
    assert taken == len(list(chunks(Gardens(io.BytesIO(PLOTS.plots.encode())), 2)))


def test_chunks_are_bounded_by_gardens_and_by_rows() -> None:
    small = [GardenRows(1, "a", [{}], [1], [])] * 250
    large = [GardenRows(1, "a", [{}] * 900, [1] * 900, [])] * 5
    assert [len(chunk) for chunk in chunks(small)] == [MOST_GARDENS, MOST_GARDENS, 50]
    assert all(sum(len(item.rows) for item in chunk) < MOST_ROWS + 900 for chunk in chunks(large))
    assert sum(map(len, chunks(large))) == 5


def test_a_killed_process_is_told_and_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Work, "chunk", lambda *_: os.kill(os.getpid(), signal.SIGKILL))
    items = list(Gardens(io.BytesIO(PLOTS.plots.encode())))
    with pytest.raises(BrokenProcessPool):
        list(in_order(WORK["ndjson"], chunks(items, 5), 2, KNOWLEDGE))


def test_processes_end_when_their_parent_is_killed(tmp_path: Path) -> None:
    script = textwrap.dedent("""
        import io, itertools, os, signal, sys, datetime
        import rules
        from service.batch.gardens import GardenRows
        from service.batch.judge import Shared
        from service.batch.run import Work, in_order
        row = {"bed": "a", "season": "2027", "crop": "kale"}
        chunk = [GardenRows(2, "Plot 1", [row], [2], [])]
        work = Work(Shared(datetime.date(2026, 11, 20), "2027"), "csv")
        for count, _ in enumerate(in_order(work, itertools.repeat(chunk), 2, rules.load_knowledge())):
            if count == 5:
                os.kill(os.getpid(), signal.SIGKILL)
    """)
    read, write = os.pipe()
    done = subprocess.Popen([sys.executable, "-c", script], cwd=ROOT, pass_fds=[write], stderr=subprocess.DEVNULL)
    os.close(write)
    assert done.wait(timeout=60) == -signal.SIGKILL
    # Every process of the batch holds the other end; it reads as closed when the last of them is gone.
    assert os.read(read, 1) == b""
    os.close(read)


# -- forms


def test_csv_has_a_row_for_each_verdict_finding_and_fault() -> None:
    lines = told(PLOTS.plots, sightings=PLOTS.sightings)
    rows = list(csv.DictReader(io.StringIO(b"".join(answer(PLOTS.plots, "csv", PLOTS.sightings)).decode())))
    assert list(rows[0]) == list(HEADER)
    by_type = {
        kind: [row for row in rows if row["type"] == kind] for kind in ("verdict", "finding", "error", "summary")
    }
    assert sum(map(len, by_type.values())) == len(rows)
    reports = [line for line in lines if line["type"] == "report"]
    assert [(row["line"], row["garden"], row["verdict"]) for row in by_type["verdict"]] == [
        (str(line["line"]), line["garden"], line["report"]["verdict"]) for line in reports
    ]
    assert [(row["rule"], row["title"]) for row in by_type["finding"]] == [
        (one["rule"], one["title"]) for line in reports for one in line["report"]["findings"]
    ]
    faults = [fault for line in lines if line["type"] == "error" for fault in line["errors"]]
    assert [(row["line"], row["column"]) for row in by_type["error"]] == [
        (str(fault["line"]), fault.get("column", "")) for fault in faults
    ]
    assert rows[-1] is by_type["summary"][0]
    assert rows[-1]["fix"] == "complete"


def test_no_cell_of_a_report_can_run() -> None:
    text = HEAD.replace("crop", "crop") + '"=1+1",a,2026,kale\n"=1+1",a,2027,cabbage\n@plot,a,2027,"-cabage"\n'
    rows = list(csv.reader(io.StringIO(b"".join(answer(text, "csv")).decode())))
    assert {"'=1+1", "'@plot"} <= {cell for row in rows for cell in row}
    assert not [cell for row in rows for cell in row if cell.startswith(("=", "+", "-", "@", "\t", "\r"))]


def test_lines_stand_in_the_order_of_the_sheet() -> None:
    lines = told(PLOTS.plots)
    assert [line["line"] for line in lines[:-1]] == sorted(line["line"] for line in lines[:-1])
    assert lines[-1]["type"] == "summary"
    assert lines[-1]["complete"] is True


# -- the summary


def test_the_summary_counts_what_the_lines_say() -> None:
    *lines, last = told(PLOTS.plots, sightings=PLOTS.sightings)
    reports = [line for line in lines if line["type"] == "report"]
    assert last["gardens"] == len(lines)
    assert last["failed"] == len(PLOTS.mistakes) == len(lines) - len(reports)
    for verdict, count in last["verdicts"].items():
        assert count == sum(line["report"]["verdict"] == verdict for line in reports)
    broken = {
        rule: [line["garden"] for line in reports if rule in {one["rule"] for one in line["report"]["findings"]}]
        for rule in {
            one["rule"] for line in reports for one in line["report"]["findings"] if one["severity"] == "breach"
        }
    }
    assert {one["rule"]: one["names"] for one in last["breaches"]} == broken
    assert [one["gardens"] for one in last["breaches"]] == sorted(map(len, broken.values()), reverse=True)
    bare = [line["garden"] for line in reports if all(bed["known_from"] is None for bed in line["report"]["beds"])]
    assert last["no_records"] == {"gardens": len(bare), "names": bare}
    assert {(one["garden"], one["line"]) for one in last["failures"]} == {
        (line["garden"], line["errors"][0]["line"]) for line in lines if line["type"] == "error"
    }


def test_families_without_a_free_bed_are_those_of_every_bed() -> None:
    rows = "A,a,2026,kale\nA,b,2026,cabbage\nA,a,2027,leeks\nB,a,2026,kale\nB,b,2026,leeks\nB,b,2027,peas\n"
    found = {one["family"]: one["names"] for one in summary(HEAD + rows)["no_free_bed"]}
    assert found == {"Brassicaceae": ["A"]}


def test_a_family_that_waits_into_the_autumn_has_no_free_bed_but_one_till_spring_has() -> None:
    text = "garden,bed,start,end,crop\nA,a,{0},{1},kale\nA,a,2027-05-01,,leeks\n"
    autumn = summary(text.format("2025-06-01", "2025-10-31"))["no_free_bed"]
    spring = summary(text.format("2024-07-01", "2025-03-31"))["no_free_bed"]
    assert [one["family"] for one in autumn] == ["Brassicaceae"]
    assert spring == []


def test_gardens_without_plan_are_told_apart_from_those_without_record() -> None:
    found = summary(HEAD + "A,a,2026,kale\nB,a,2027,kale\n")
    assert found["nothing_planned"] == {"gardens": 1, "names": ["A"]}
    assert found["no_records"] == {"gardens": 1, "names": ["B"]}
    assert found["verdicts"]["unknown"] == 2


SEEN = "garden,bed,date,of\nB,a,2025-07-01,clubroot\n"


def test_neighbours_are_those_of_the_sheet_where_places_are_not_known() -> None:
    rows = "".join(f"{name},a,2027,leeks\n" for name in "ABCD")
    (ill,) = summary(HEAD + rows, sightings=SEEN)["diseases"]["plots"]
    assert (ill["garden"], ill["neighbours"], ill["by"]) == ("B", ["A", "C"], "sheet")
    (first,) = summary(HEAD + rows, sightings=SEEN.replace("B,", "A,"))["diseases"]["plots"]
    assert first["neighbours"] == ["B"]


def test_a_failed_garden_is_a_neighbour_too() -> None:
    rows = "A,a,2027,lekes\nB,a,2027,leeks\nC,a,2027,lekes\n"
    (ill,) = summary(HEAD + rows, sightings=SEEN)["diseases"]["plots"]
    assert ill["neighbours"] == ["A", "C"]


def test_neighbours_are_those_within_five_metres_where_places_are_known() -> None:
    # B lies from 10 to 13 m; D ends 4 m before it, C begins 6 m after it, and A, next in the sheet, lies far off.
    places = {"A": 90, "B": 10, "C": 19, "D": 3}
    rows = "".join(f"{name},a,2027,leeks,{x},0,300,120\n" for name, x in places.items())
    (ill,) = summary(HEAD + rows, sightings=SEEN, site={"garden": {"site": "row"}})["diseases"]["plots"]
    assert (ill["neighbours"], ill["by"]) == (["D"], "position")
    # Gardens of no site share no ground plan.
    (ill,) = summary(HEAD + rows, sightings=SEEN)["diseases"]["plots"]
    assert (ill["neighbours"], ill["by"]) == (["A", "C"], "sheet")


def test_a_crop_that_a_disease_took_counts_as_seen() -> None:
    head = "garden,bed,start,end,crop,status,cause\n"
    text = head + "A,a,2025-05-01,2025-08-01,cabbage,lost,clubroot\nA,a,2027-05-01,,leeks\n"
    (ill,) = summary(text)["diseases"]["plots"]
    assert ill["seen"] == [{"of": "clubroot", "beds": ["a"], "where": "a", "last": "2025-08-01"}]


def test_a_sighting_in_an_unknown_garden_is_told_with_the_nearest_name() -> None:
    seen = "garden,bed,date,of\nPlot 01,a,2025-07-01,clubroot\nAllmend,a,2025-07-01,clubroot\n"
    *_, one, other, last = told(HEAD + "Plot 1,a,2027,leeks\n", sightings=seen)
    assert one["garden"] == "Plot 01"
    assert "did you mean 'Plot 1'" in one["errors"][0]["detail"]
    assert "did you mean" not in other["errors"][0]["detail"]
    assert (last["gardens"], last["failed"], last["strays"]) == (1, 0, 2)


def test_days_are_read_as_spreadsheets_write_them_where_they_mean_one_day() -> None:
    written = ("2027-04-20", "20.04.2027", "20.4.2027", "2027/4/20", "2027-04-20 00:00:00")
    plots = "".join(f"Plot {number},a,,{day},leeks\n" for number, day in enumerate(written))
    seen = "garden,bed,date,of\nPlot 0,a,01.07.2025,clubroot\n"
    *lines, last = told("garden,bed,season,start,crop\n" + plots + "Plot 9,a,2027.0,,leeks\n", sightings=seen)
    assert [line["type"] for line in lines] == ["report"] * 6
    assert {json.dumps(line["report"]["findings"]) for line in lines[1:5]} == {
        json.dumps(lines[1]["report"]["findings"]).replace("Plot 1", f"Plot {number}") for number in range(1, 5)
    }
    assert last["diseases"]["plots"][0]["seen"][0]["last"] == "2025-07-01"


@pytest.mark.parametrize(
    ("cells", "hint"),
    [
        (",20/04/2027", "did you mean 2027-04-20?"),
        (",04/05/2027", "did you mean 2027-05-04 or 2027-04-05?"),
        (",31/02/2027", "got '31/02/2027'"),
        (",20/04/27", "got '20/04/27'"),
        ("2026/27,", "did you mean 2026 or 2027?"),
        ("Spring 2027,", "did you mean 2027-spring?"),
        ("2027 fall,", "did you mean 2027-autumn?"),
        ("spring 2027 autumn,", "got 'spring 2027 autumn'"),
    ],
)
def test_a_day_or_season_in_other_words_is_told_with_what_it_may_mean(cells: str, hint: str) -> None:
    first = told(f"garden,bed,season,start,crop\nPlot 1,a,{cells},leeks\n")[0]
    assert first["errors"][0]["detail"].endswith(hint)


def test_rows_that_stand_apart_are_told_that_the_sheet_must_be_sorted() -> None:
    rows = "".join(f"Plot {number},a,{year},leeks\n" for year in (2026, 2027) for number in (1, 2))
    lines = told(HEAD.replace(",x,y,length,width", "") + rows)
    assert [line["type"] for line in lines] == ["report", "report", "error", "error", "summary"]
    assert lines[2]["errors"] == [{
        "line": 4, "column": "garden",
        "detail": "the garden stands in line 2 already and was judged without this row; sort the sheet by garden",
    }]  # fmt: skip


def test_the_summary_says_when_and_by_which_rules() -> None:
    first, last = told(HEAD + "Plot 1,a,2027,leeks\n")
    assert (last["as_of"], last["rules"]) == ("2026-11-20", [first["report"]["rules"]])
    assert summary(HEAD + "Plot 1,a,2027,leeks\n", site={"as_of": "2027-02-01"})["as_of"] == "2027-02-01"
    page = summary_text(last, KNOWLEDGE)
    assert f"Checked as of 20 November 2026 by rules {first['report']['rules']['version']}." in page


def test_a_job_that_went_on_under_newer_rules_says_so() -> None:
    line = told(HEAD + "Plot 1,a,2027,leeks\n")[0]
    rules = line["report"]["rules"]
    newer = {**line, "report": {**line["report"], "rules": {**rules, "digest": "newer"}}}
    closing = Closing(Shared(TODAY, "2027").pack())
    for one in (line, newer, line, newer):
        closing.add(one)
    assert closing.line()["rules"] == [rules, {**rules, "digest": "newer"}]


def test_lists_of_names_say_their_first_words_once() -> None:
    rows = "".join(f"{name},a,2027,leeks\n" for name in ("Plot 1", "Plot 2", "Row 2 Plot 3b", "Row 2 Plot 4", "Kiln"))
    page = summary_text(summary(HEAD.replace(",x,y,length,width", "") + rows), KNOWLEDGE)
    assert "Plot 1, 2, Row 2 Plot 3b, 4 and Kiln." in " ".join(page.split())
    rows = "".join(f"{name},a,2027,leeks\n" for name in ("Plot 1", "Plot 2", "3", "Plot 4"))
    page = summary_text(summary(HEAD.replace(",x,y,length,width", "") + rows), KNOWLEDGE)
    assert "Plot 1, Plot 2, 3 and Plot 4." in " ".join(page.split()), "a garden called 3 is not plot 3"


def test_long_lists_of_names_are_cut_and_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.batch.summary.MOST_TOLD", 3)
    rows = "".join(f"Plot {number},a,2027,{'lekes' if number % 2 else 'leeks'}\n" for number in range(20))
    seen = "garden,bed,date,of\n" + "".join(f"Plot {number},a,2025-07-01,white rot\n" for number in range(20))
    found = summary(HEAD + rows, sightings=seen)
    assert (found["no_records"]["gardens"], len(found["no_records"]["names"])) == (10, 3)
    assert (found["failed"], len(found["failures"])) == (10, 3)
    assert (found["diseases"]["gardens"], len(found["diseases"]["plots"])) == (10, 3)
    page = summary_text(found, KNOWLEDGE)
    assert "and 7 more" in page


def test_the_page_keeps_to_its_width_and_breaks_no_name() -> None:
    plots = sheets(200, seed=4)
    found = summary(plots.plots, sightings=plots.sightings)
    for width in (40, 80):
        page = summary_text(found, KNOWLEDGE, width=width)
        assert max(map(len, page.splitlines())) <= width
        assert not [line for line in page.splitlines() if line.endswith(" Plot")]
        assert "\u00a0" not in page
    assert "\x1b" not in page


def test_a_name_cannot_steer_the_terminal() -> None:
    found = summary(HEAD + "Pl\u202eot\u009b1,a,2027,leeks\nPlot\u001b[31m2,a,2027,leeks\n")
    page = summary_text(found, KNOWLEDGE)
    assert all(mark.isprintable() or mark == "\n" for mark in page)
