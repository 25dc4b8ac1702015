"""Plantings as a sheet: what goes out comes in again, and a bad sheet leaves nothing behind."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from service.mapping import planting_rows
from service.plantingsheet import COLUMNS, import_plantings, plantings_csv
from service.reading import PlanRejected
from service.record import Record
from service.store.repository import Repository

HEAD = "bed,crop,season\r\n"


def sheet(contents, **options):
    return list(csv.DictReader(io.StringIO(plantings_csv(contents, **options))))


def plantings(contents):
    return [row for row, _ in planting_rows(contents)]


def faults(writing, text):
    body = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(PlanRejected) as found, writing() as record:
        import_plantings(record, body)
    return [(error.line, error.column, error.pointer, error.detail) for error in found.value.errors]


def test_a_sheet_has_the_plantings_as_they_stand(writing):
    with writing() as record:
        record.log({"did": "lost", "planting": "kale", "date": date(2027, 5, 20), "cause": "slugs"})
        record.log({"did": "resown", "planting": "kale", "date": date(2027, 5, 24)})
        first, second = sheet(record.contents())
    assert list(first) == list(COLUMNS)
    assert (first["id"], first["status"], first["cause"], first["end"]) == ("kale.lost1", "lost", "slugs", "2027-05-20")
    assert (second["id"], second["status"], second["start"], second["replaces"]) == (
        *("kale", "growing", "2027-05-24", "kale.lost1"),
    )


def test_a_sheet_is_added_with_beds_by_id_or_name(writing):
    text = "Bed;Crop;Season;First harvest;Spacing;Part;Variety;Resists\nquay;Leeks;2027;;12,5;0-0.5;Früher – Riese;\n"
    with writing() as record:
        record.change_bed("kiln", {"name": "Kiln bed"})
        added = import_plantings(record, b"\xef\xbb\xbf" + text.encode() + b"KILN BED;peas;2027-spring;;;;;\n")
        assert [planting.id for planting in added] == ["quay.leek.2027", "kiln.pea.2027-spring"]
        told = {row["id"]: row for row in plantings(record.contents())}
    assert told["quay.leek.2027"] == {
        **{"id": "quay.leek.2027", "bed": "quay", "crop": "Leeks", "season": "2027", "spacing": 12.5},
        **{"part": (0.0, 0.5), "variety": {"name": "Früher – Riese"}},
    }
    assert told["kiln.pea.2027-spring"]["bed"] == "kiln"
    assert next(iter(told)) == "kale"


def test_rows_may_name_each_other_in_any_order(writing):
    text = "id,bed,crop,start,replaces\nb,quay,peas,2027-04-20,a\na,quay,peas,2027-04-01,\n"
    with writing() as record:
        assert [planting.id for planting in import_plantings(record, text.encode())] == ["b", "a"]
    with writing() as record:
        assert [row.get("replaces") for row in plantings(record.contents())] == [None, "a", None]


def test_every_bad_row_is_named_and_none_is_taken(writing):
    text = (
        "id,bed,crop,season,start,end,count\n"
        "p1,quay,cabage,2027,,,\n"
        "kale,kilm,kale,2027,,,lots\n"
        "p2,quay,peas,,2027-02-30,,\n"
        "p2,quay,peas,2027,,,\n"
        "p3,quay,leeks,,,,\n"
        "p4,quay,leeks,2027,,,,4\n"
        "p5,quay,beans,,2027-05-01,2027-04-01,\n"
    )
    found = faults(writing, text)
    # What needs the whole garden (a crop's name, two dates) is looked at in the rows that can be read.
    assert [(line, column, pointer) for line, column, pointer, _ in found] == [
        *((2, 3, "/crop"), (3, 1, "/id"), (3, 2, "/bed"), (3, 7, "/count"), (4, 5, "/start"), (5, 1, "/id")),
        *((6, 4, "/season"), (7, 1, ""), (8, 6, "/end")),
    ]
    details = [detail for *_, detail in found]
    assert "cabbage" in details[0]
    assert "is on record" in details[1]
    assert details[2] == "no bed is called 'kilm'; did you mean 'kiln'?"
    assert "exists" in details[4]
    assert "line 4" in details[5]
    assert "more cells than headings" in details[7]
    with writing() as record:
        assert [row["id"] for row in plantings(record.contents())] == ["kale"]


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (b"", "nothing to read"),
        (b"bed,crop,season\n", "no rows"),
        (b"bed,corp,season\nquay,peas,2027\n", "did you mean 'crop'?"),
        (b"garden,bed,crop,season\nTannery,quay,peas,2027\n", "no column 'garden'"),
        (b"bed,crop\nquay,peas\n", "'season or start' is missing"),
        (b"\xfa\xfe\x00b", "not UTF-8"),
        (b"bed,crop,season\nquay,p\xffas,2027\n", "not UTF-8"),
        (b'bed,crop,season\nquay,"peas,2027\nquay,leeks,2027\n', "never closed"),
    ],
)
def test_what_is_no_sheet_is_refused(writing, body, said):
    assert said in " ".join(detail for *_, detail in faults(writing, body))


def test_cells_that_a_spreadsheet_would_run_are_defused_or_kept(writing):
    with writing() as record:
        record.change_planting("kale", {"variety": {"name": "=cmd()"}})
        contents = record.contents()
    assert sheet(contents)[0]["variety"] == "'=cmd()"
    assert sheet(contents, defuse=False)[0]["variety"] == "=cmd()"


# -- out and in

DAYS = st.dates(date(2020, 1, 1), date(2030, 12, 31))
NAMES = st.one_of(
    st.sampled_from(["'=x", "''-", "=1+1", "@", 'Früher, "später"', "a;b", "Ⅻ – ok", "'", "-3"]),
    st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20),
)
SHARES = st.integers(0, 98).flatmap(
    lambda low: st.tuples(st.just(low / 99), st.integers(low + 1, 99).map(lambda n: n / 99))
)


@st.composite
def rows(draw):
    row = {"bed": draw(st.sampled_from(["kiln", "quay"])), "crop": draw(st.sampled_from(["kale", "Peas", "leek"]))}
    if draw(st.booleans()):
        row["season"] = draw(st.sampled_from(["2026", "2027-spring"]))
    else:
        row["start"] = draw(DAYS)
        if draw(st.booleans()):
            row["end"] = row["start"] + timedelta(days=draw(st.integers(0, 200)))
    variety = {"name": draw(NAMES)} if draw(st.booleans()) else {}
    if draw(st.booleans()):
        variety |= {"resists": draw(st.lists(st.sampled_from(["clubroot", "white rot"]), min_size=1, unique=True))}
    if draw(st.booleans()):
        variety["parthenocarpic"] = draw(st.booleans())
    optional = {
        "variety": st.just(variety) if variety else st.none(),
        "part": SHARES,
        "count": st.integers(1, 1000),
        "spacing": st.floats(1, 500),
        "method": st.sampled_from(["sow", "transplant", "set", "volunteer"]),
        "status": st.sampled_from(["planned", "done"]),
    }
    return row | {
        key: value for key, made in optional.items() if draw(st.booleans()) and (value := draw(made)) is not None
    }


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(rows(), min_size=1, max_size=6), st.booleans())
def test_a_sheet_brings_the_same_plantings_into_a_garden_with_the_same_beds(writing, garden_id, store, given_, defuse):
    with writing() as record:
        before = record.repository.contents(garden_id)
        for row in before.plantings[1:]:
            record.repository.remove_planting(garden_id, row.id)
        for row in given_:
            try:
                record.add_planting(row)
            except PlanRejected:  # such as done before it began
                continue
        contents = record.contents()
        other = record.repository.add_garden(contents.garden.club_id, {"latitude": 46.2}, now=record.now)
        for bed in contents.beds:
            record.repository.add_bed(other.id, {"id": bed.id})
        again = Record(record.repository, other.id, record.knowledge, today=record.today, now=record.now)
        import_plantings(again, plantings_csv(contents, defuse=defuse).encode())
        assert plantings(again.contents()) == plantings(contents)
        assert not Repository(record.repository.session).contents(other.id).journal
