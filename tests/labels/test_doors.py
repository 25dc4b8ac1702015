"""Labels, the board and the sheet of plantings over HTTP, and the pages that show them."""

from __future__ import annotations

import sys
from datetime import date

import pypdfium2
import pytest
import zxingcpp
from club import World, make_world

from service.planfile import DEMO
from service.resources import recorded, writing

TODAY = date(2027, 7, 1)


@pytest.fixture(autouse=True)
def _one_day(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (recorded, writing):
        monkeypatch.setattr(module, "today", lambda zone: TODAY)


@pytest.fixture(scope="module")
def world() -> World:
    world = make_world(cors_origins=("https://club.example",))
    path, headers = f"/v1/gardens/{world.ours.garden}/import", world.ours.headers("garden_write")
    made = world.client.post(path, data=DEMO.read_bytes(), headers={**headers, "Content-Type": "application/yaml"})
    assert made.status_code == 201
    return world


def get(world: World, path: str, scope: str = "garden_read", **more: str):
    return world.client.get(f"/v1/gardens/{world.ours.garden}/{path}", headers=world.ours.headers(scope, **more))


# -- labels


def test_labels_are_a_page_that_may_use_its_own_style_sheet(world: World) -> None:
    answer = get(world, "labels?bed=kiln,vat&sheet=a4-14&from=3")
    assert answer.content_type == "text/html; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "style-src 'sha256-" in answer.headers["Content-Security-Policy"]
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert f"http://localhost/gardens/{world.ours.garden}/plantings/cabbages" in answer.text


def test_codes_carry_the_key_that_asked_if_it_can_only_read_what_a_page_shows(world: World) -> None:
    for scope in ("publishable_read", "garden_read", "club_admin"):
        answer = get(world, "labels?format=pdf&planting=cabbages", scope)
        assert answer.content_type == "application/pdf"
        document = pypdfium2.PdfDocument(answer.data)
        (code,) = zxingcpp.read_barcodes(document[0].render(scale=200 / 72).to_pil())
        document.close()
        key = f"#{world.ours.secrets[scope]}" if scope == "publishable_read" else ""
        assert code.text == f"http://localhost/gardens/{world.ours.garden}/plantings/cabbages{key}"


def test_what_is_wrong_with_a_wish_for_labels_is_told_at_once(world: World) -> None:
    answer = get(world, "labels?bed=kilm&planting=cabages&from=25")
    assert answer.status_code == 422
    told = {fault["parameter"]: fault["detail"] for fault in answer.json["errors"]}
    assert told.keys() == {"bed", "planting", "from"}
    assert "kiln" in told["bed"]
    assert get(world, "labels?sheet=a5").status_code == 400
    assert get(world, "labels?bed=old-kiln").status_code == 409


def test_without_its_library_pdf_is_answered_with_501(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "reportlab.pdfgen.canvas", None)
    answer = get(world, "labels?format=pdf")
    assert answer.status_code == 501
    assert "breakcrop[pdf]" in answer.json["detail"]


# -- the board


def test_the_board_says_what_stands_what_comes_and_when_there_is_room(world: World) -> None:
    board = get(world, "board", "publishable_read").json
    beds = {bed["bed"]: bed for bed in board["beds"]}
    assert "old-kiln" not in beds  # its time is over
    kiln = beds["kiln"]
    assert [(one["crop"], one["end"], one["assumed_end"]) for one in kiln["standing"]] == [
        ("Cabbages", "2027-09-30", False)
    ]
    assert kiln["free_from"] == "2027-10-01"
    assert {"family": "cabbage family", "least": "2029-10-01", "better": "2030-10-01"} in kiln["breaks"]
    assert {"family": "onion family", "least": None, "better": None} in beds["quay"]["breaks"]
    artichokes = next(one for one in beds["lime"]["standing"] if one["crop"] == "Globe artichokes")
    assert artichokes["end"] is None
    assert board["as_of"] == "2027-07-01"


def test_the_board_tells_the_findings_of_the_check_in_words(world: World) -> None:
    board, check = get(world, "board").json, get(world, "check").json
    assert board["verdict"] == check["verdict"] == "breach"
    assert [(one["severity"], one["plantings"]) for one in board["findings"]] == [
        (one["severity"], one["plantings"]) for one in check["findings"]
    ]
    assert board["skipped"] == sum(one["count"] for one in check["not_checked"]) > 0
    for short, full in zip(board["findings"], check["findings"], strict=True):
        assert len(short["cautions"]) == len(full["cautions"])
        assert all(" " in caution and "_" not in caution for caution in short["cautions"])


def test_the_board_is_answered_with_304_until_something_is_written(world: World) -> None:
    first = get(world, "board", "publishable_read")
    tag = first.headers["ETag"]
    assert get(world, "board", "publishable_read", **{"If-None-Match": tag}).status_code == 304
    row = {"bed": "quay", "did": "watered"}
    path = f"/v1/gardens/{world.ours.garden}/journal"
    assert world.client.post(path, json=row, headers=world.ours.headers("garden_write")).status_code == 201
    assert get(world, "board", "publishable_read", **{"If-None-Match": tag}).status_code == 200


# -- the sheet


def test_a_sheet_goes_out_and_comes_in_over_http(world: World) -> None:
    out = get(world, "plantings.csv")
    assert out.content_type == "text/csv; charset=utf-8"
    assert out.headers["Content-Disposition"] == 'attachment; filename="tannery-row-plots.csv"'
    admin, second = world.ours.headers("club_admin"), world.ours.second
    for bed in get(world, "beds").json["items"]:
        world.client.post(f"/v1/gardens/{second}/beds", json={"id": bed["id"]}, headers=admin)
    world.client.post(f"/v1/gardens/{second}/crops", json={"id": "oca", "family": "Oxalidaceae"}, headers=admin)
    path, csv = f"/v1/gardens/{second}/plantings.csv", {**admin, "Content-Type": "text/csv", "Idempotency-Key": "once"}
    answer = world.client.post(path, data=out.data, headers=csv)
    assert answer.status_code == 201, answer.text
    assert answer.json["added"] == len(answer.json["plantings"]) > 30
    assert world.client.post(path, data=out.data, headers=csv).json == answer.json  # not added twice
    assert world.client.get(path, headers=admin).data == out.data


def test_a_bad_sheet_is_refused_by_line_and_column(world: World) -> None:
    path = f"/v1/gardens/{world.ours.garden}/plantings.csv"
    headers = world.ours.headers("garden_write")
    before = get(world, "plantings.csv").data
    body = "bed,crop,season\nkilm,kale,2027\nquay,kale,soon\nquay,peas,2027\n"
    answer = world.client.post(path, data=body, headers={**headers, "Content-Type": "text/csv"})
    assert answer.status_code == 422
    places = [(fault["line"], fault["column"], fault["pointer"]) for fault in answer.json["errors"]]
    assert places == [(2, 1, "/bed"), (3, 3, "/season")]
    assert answer.json["total"] == 2
    assert get(world, "plantings.csv").data == before
    assert world.client.post(path, json=[], headers=headers).status_code == 415


# -- pages


def test_pages_may_run_our_script_and_only_the_frame_may_be_framed_by_listed_sites(world: World) -> None:
    whole, record, frame = (world.client.get(path) for path in ("/gardens/x", "/gardens/x/plantings/y", "/embed/x"))
    for answer in (whole, record, frame):
        rules = dict(part.split(" ", 1) for part in answer.headers["Content-Security-Policy"].split("; "))
        assert rules["script-src"] == rules["connect-src"] == "'self'"
        assert "<script>" not in answer.text
        sites = "https://club.example" if answer is frame else "'none'"
        assert rules["frame-ancestors"] == sites
    assert "X-Frame-Options" not in frame.headers  # it knows no list, and would overrule ours
    assert world.client.get("/docs").headers["X-Frame-Options"] == "DENY"
    nobody = make_world()
    assert "frame-ancestors 'none'" in nobody.client.get("/embed/x").headers["Content-Security-Policy"]


def test_the_script_is_shared_with_the_sites_that_are_listed(world: World) -> None:
    path = "/static/breakcrop-garden.js"
    answer = world.client.get(path, headers={"Origin": "https://club.example"})
    assert answer.headers["Access-Control-Allow-Origin"] == "https://club.example"
    assert answer.content_type.startswith("text/javascript")
    stranger = world.client.get(path, headers={"Origin": "https://other.example"})
    assert "Access-Control-Allow-Origin" not in stranger.headers
    answer.close()
    stranger.close()
