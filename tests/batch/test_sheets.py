"""Sheets as spreadsheets write them, good and bad: what becomes of every row, and where each fault stands."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.batch.columns import BED, PLANTING, PLOTS, VARIETY, SheetFault, SheetRejected
from service.batch.gardens import GardenRows, Gardens, GardenText, key_of, pack, read_sightings, unpack
from service.batch.records import LONGEST_LINE, LONGEST_ROW, MOST_LINES, lines
from service.schemas.plan import BedSchema, PlantingSchema, VarietySchema

HEAD = "garden,bed,season,crop\n"
ROW = "Plot 1,kiln,2027,kale\n"


def gardens(text: str | bytes) -> list[Any]:
    return list(Gardens(io.BytesIO(text.encode() if isinstance(text, str) else text)))


def refused(text: str | bytes) -> list[str]:
    with pytest.raises(SheetRejected) as found:
        gardens(text)
    return [fault.detail for fault in found.value.faults]


def faults(text: str | bytes) -> list[tuple[str, int, str | None, str]]:
    return [(item.name, *fault) for item in gardens(text) for fault in item.faults]


def test_the_columns_are_those_of_a_planting_and_its_variety() -> None:
    keys = set(PlantingSchema().fields) - {"bed", "variety"}
    assert set(PLANTING) == keys
    assert {"name" if column == "variety" else column for column in VARIETY} == set(VarietySchema().fields)
    assert set(BED) - {"x", "y"} <= set(BedSchema().fields)


@pytest.mark.parametrize(
    "text",
    [
        HEAD + ROW,
        "\ufeff" + HEAD + ROW,
        (HEAD + ROW).replace("\n", "\r\n"),
        (HEAD + ROW).replace(",", ";"),
        (HEAD + ROW).replace(",", "\t"),
        "\n\n" + HEAD + "\n" + ROW + ",,,\n\n",
        "Garden, BED ,Season,Crop\n" + ROW,
        "garden,bed,season,crop,,\n" + ROW.replace("\n", ",,\n"),
        (HEAD + ROW).rstrip("\n"),
        'garden,"bed",season,crop\n"Plot 1","kiln","2027","kale"\n',
        HEAD + " Plot 1 , kiln , 2027 , kale \n",
        "sep=;\r\n" + (HEAD + ROW).replace(",", ";"),
        '"sep=,"\n' + HEAD + ROW,
    ],
)
def test_a_sheet_is_read_however_a_spreadsheet_writes_it(text: str) -> None:
    (item,) = gardens(text)
    assert item.name == "Plot 1"
    assert item.rows == [{"bed": "kiln", "season": "2027", "crop": "kale"}]
    assert item.faults == []


def test_lines_count_as_an_editor_counts_them() -> None:
    text = (
        HEAD.replace("crop", "crop,x-note")
        + 'Plot 1,a,2027,kale,"two\nlines"\n\nPlot 1,b,2027,leeks,\nPlot 2,a,2027,kale,\n'
    )
    one, two = gardens(text)
    assert one.lines == [2, 5]
    assert (two.line, two.lines) == (6, [6])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", ["nothing to read"]),
        (" \n\n", ["nothing to read"]),
        ("garden,bed,seeson,crop\n", ["there is no column 'seeson' here; did you mean 'season'?", "'season or start'"]),
        ("garden,bed,season,crop,crop\n", ["the column 'crop' stands twice"]),
        ("garden,,season,crop\n", ["column 2 has no heading", "the column 'bed' is missing"]),
        (
            "garden,bed,season,crop,Notes\n",
            ["there is no column 'Notes' here", "the columns are garden, bed, id, crop, season"],
        ),
        (
            "Plot;Bed;Year;Crop\n",
            ["'Plot' here; did you mean 'garden'?", "'Year' here; did you mean 'season'?", "'garden' is", "'season or"],
        ),
        (
            "garden,bed,season,crop,r\u00e9colte\n".encode("latin-1"),
            ["heading of column 5 is not UTF-8"],
        ),
        (b"PK\x03\x04" + bytes(range(256)), ["this is a workbook"]),
        ("Tannery Row Plots 2027;;;\ngarden;bed;season;crop\n", ["the first line must be the heading"]),
        ("sep=;\n", ["nothing to read"]),
        ('[{"beds": []}]', ["a list in JSON"]),
        (
            "plot 1,kiln,2027,kale\n",
            ["the first line must be the heading, with the columns garden, bed, crop and season or start; got 'plot"],
        ),
        ("garden,bed,season,crop," + ",".join(f"x-{n}" for n in range(200)) + "\n", ["204 columns"]),
        ("garden,bed,season,crop," + "x" * 200_000 + "\n", ["longer than"]),
        ("garden,bed,season,crop\rPlot 1,kiln,2027,kale\r", ["lines end with CR alone"]),
        ((HEAD + ROW).encode("utf-16-le"), ["not UTF-8"]),
    ],
)
def test_a_heading_that_cannot_be_used_is_told_whole(text: str | bytes, said: list[str]) -> None:
    found = refused(text)
    assert len(found) == len(said)
    assert all(part in detail for part, detail in zip(said, found, strict=True))


@pytest.mark.parametrize(
    ("rows", "spoiled"),
    [
        # An unquoted comma, a garden left out, a name that comes back.
        (ROW + "Plot 2,a,2027,kale,with chard\n" + "Plot 3,a,2027,kale\n", [("Plot 2", 3, None, "more cells")]),
        (ROW + ",b,2027,kale\n", [("Plot 1", 3, "garden", "name is missing")]),
        (",b,2027,kale\n" + ROW, [("", 2, "garden", "name is missing")]),
        (
            ROW + "Plot 2,a,2027,kale\nplot  1,b,2027,leeks\n",
            [("plot  1", 4, "garden", "stands in line 2 already")],
        ),
        # Quotation marks: never closed, or inside a quoted cell.
        ('Plot 1,"kiln,2027,kale\nPlot 2,a,2027,kale\n', [("Plot 1", 2, None, "never closed")]),
        ('Plot 1,kiln,2027,"kale"s\nPlot 2,a,2027,kale\n', [("Plot 1", 2, None, "write it twice")]),
        ('"Plot 1,kiln,2027,kale\nPlot 2,a,2027,kale\n', [("", 2, None, "never closed"), ("", 2, "garden", "missing")]),
        ('Plot 1,"kiln,2027,kale\n' + "Plot 2,a,2027,kale\n" * 50, [("Plot 1", 2, None, "never closed")]),
        # Bytes of another encoding, and a line that no row has.
        ("Plot 1,kiln,2027,céleri\n".encode("latin-1"), [("Plot 1", 2, "crop", "not UTF-8")]),
        ("Plot 1,kiln,2027," + "k" * LONGEST_ROW + "\n" + ROW, [("", 2, None, "longer"), ("", 2, "garden", "missing")]),
    ],
)  # fmt: skip
def test_a_bad_row_spoils_its_garden_and_no_other(rows: str | bytes, spoiled: list[tuple[Any, ...]]) -> None:
    text = HEAD.encode() + (rows.encode() if isinstance(rows, str) else rows)
    found = faults(text)
    assert [one[:3] for one in found] == [one[:3] for one in spoiled]
    assert all(part[3] in one[3] for part, one in zip(spoiled, found, strict=True))
    bad = {one[0] for one in found}
    good = [item for item in gardens(text) if item.name not in bad]
    assert all(item.faults == [] and item.rows for item in good)
    named = {key_of(cell) for line in text.decode("latin-1").splitlines()[1:] if (cell := line.split(",")[0])}
    assert {key_of(item.name) for item in good} | {key_of(name) for name in bad if name} >= {
        name for name in named if not name.startswith('"')
    }


def test_a_row_that_no_reader_can_read_spoils_its_garden() -> None:
    one, after = gardens(HEAD + "Plot 1,kiln,2027,kale\rPlot 2,a,2027,kale\nPlot 3,a,2027,kale\n")
    assert (one.name, [fault[:2] for fault in one.faults]) == ("Plot 1", [(2, None)])
    assert "carriage return" in one.faults[0][2]
    assert (after.name, after.faults) == ("Plot 3", [])
    large = gardens(HEAD + 'Plot 1,"a' + ("k" * 60_000 + "\n") * 3 + '",2027,kale\n' + "Plot 3,a,2027,kale\n")
    assert large[0].faults[0][0] == 2
    assert "longer than any row" in large[0].faults[0][2]
    assert (large[-1].name, large[-1].faults) == ("Plot 3", [])


def test_an_open_quotation_mark_loses_no_later_row() -> None:
    rows = "".join(f"Plot {number},a,2027,kale\n" for number in range(2, 4 * MOST_LINES))
    found = gardens(HEAD + 'Plot 1,"kiln,2027,kale\n' + rows)
    assert [item.name for item in found] == [f"Plot {number}" for number in range(1, 4 * MOST_LINES)]
    assert [item.line for item in found] == list(range(2, 4 * MOST_LINES + 1))


def test_no_line_is_held_that_is_longer_than_a_plan() -> None:
    stream = io.BytesIO(b"x" * (LONGEST_LINE + 5) + b"\nnext\n")
    long, after = lines(stream)
    assert long == (1, None)
    assert after == (2, b"next\n")


def test_a_garden_has_no_more_rows_than_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.batch.gardens.MOST_PLANTINGS", 3)
    (item,) = gardens(HEAD + ROW * 9)
    assert len(item.rows) == 4
    assert [fault[0] for fault in item.faults] == [5]
    assert "at most 3 rows" in item.faults[0][2]


def test_a_service_reads_no_more_gardens_than_it_keeps_names_of() -> None:
    text = HEAD + "".join(f"Plot {number},a,2027,kale\n" for number in range(9))
    found = list(Gardens(io.BytesIO(text.encode()), 3))
    assert [item.name for item in found] == ["Plot 0", "Plot 1", "Plot 2", "Plot 3"]
    assert [bool(item.faults) for item in found] == [False, False, False, True]
    assert "at most 3 gardens here" in found[-1].faults[0][2]
    assert len(list(Gardens(io.BytesIO(text.encode()), 9))) == 9


def test_a_plan_a_line_is_told_by_its_first_mark() -> None:
    site = {"type": "site", "garden": {"latitude": 46.2}}
    stream = Gardens(io.BytesIO(b"\n".join([json.dumps(site).encode(), b"", b'{"beds": []}', b"[broken"])))
    assert stream.form == "ndjson"
    assert stream.site == {"garden": {"latitude": 46.2}}
    assert list(stream) == [GardenText(3, '{"beds": []}'), GardenText(4, "[broken")]


def test_a_plan_that_is_too_long_is_an_item_of_its_own() -> None:
    found = gardens(b'{"beds": []}\n{"x-note": "' + b"n" * LONGEST_LINE + b'"}\n{"beds": []}\n')
    assert found == [GardenText(1, '{"beds": []}'), GardenText(2, None), GardenText(3, '{"beds": []}')]


@pytest.mark.parametrize("text", [HEAD + ROW + ",x,,\n", '{"beds": []}\n'])
def test_an_item_can_be_kept_as_json(text: str) -> None:
    for item in gardens(text):
        kept = unpack(json.loads(json.dumps(pack(item))))
        assert type(kept) is type(item)
        assert pack(kept) == json.loads(json.dumps(pack(item)))


MARKS = st.text(st.sampled_from('a2,;\t"\r\n\0 \ufeff')).map(str.encode)


@given(st.sampled_from([b"", HEAD.encode()]), st.binary(max_size=400) | MARKS)
def test_any_bytes_are_read_or_refused(head: bytes, data: bytes) -> None:
    found: list[Any]
    try:
        found = list(Gardens(io.BytesIO(head + data)))
    except SheetRejected as rejected:
        found = rejected.faults
    assert all(isinstance(item, GardenRows | GardenText | SheetFault) for item in found)


CELL = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Zs", "Zl", "Zp")), min_size=1, max_size=8)


@given(st.lists(st.lists(CELL, min_size=4, max_size=4), max_size=12), st.sampled_from([",", ";", "\t"]))
def test_every_row_that_a_sheet_has_is_in_some_garden(rows: list[list[str]], delimiter: str) -> None:
    import csv

    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerows([["garden", "bed", "season", "crop"], *rows])
    found = gardens(out.getvalue())
    told = [(item.name, line, *row.values()) for item in found for line, row in zip(item.lines, item.rows, strict=True)]
    assert [one[2:] for one in told] == [tuple(cell.strip() for cell in row[1:]) for row in rows]
    assert [one[1] for one in told] == list(range(2, len(rows) + 2))
    assert [key_of(one[0]) for one in told] == [key_of(row[0]) for row in rows]


def test_sightings_are_found_by_garden() -> None:
    text = "garden;bed;date;of;level\nPlot 1;kiln;2025-07-01;clubroot;low\nPLOT  1;quay;2026-07-01;white rot;\n"
    seen = read_sightings(io.BytesIO(text.encode()))
    assert list(seen) == [key_of("Plot 1")]
    assert [row["line"] for row in seen["plot 1"]] == [2, 3]
    assert seen["plot 1"][0]["of"] == "clubroot"
    assert read_sightings(io.BytesIO(b"")) == {}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("garden,bed,date\n", "the column 'of' is missing"),
        ("garden,bed,date,of\n,kiln,2025-07-01,clubroot\n", "name is missing"),
        ('garden,bed,date,of\nPlot 1,"kiln,2025-07-01,clubroot\n', "never closed"),
        ("garden,bed,date,of\nPlot 1,kiln,2025-07-01,clubroot,x\n", "more cells"),
    ],
)
def test_a_sheet_of_sightings_is_refused_whole(text: str, said: str) -> None:
    with pytest.raises(SheetRejected) as found:
        read_sightings(io.BytesIO(text.encode()))
    assert any(said in fault.detail for fault in found.value.faults)


def test_no_column_is_unknown_to_the_heading() -> None:
    (item,) = gardens(",".join(PLOTS) + "\n" + ",".join("1" for _ in PLOTS) + "\n")
    assert set(item.rows[0]) == set(PLOTS) - {"garden"}
