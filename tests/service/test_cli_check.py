"""breakcrop check: its verdict as exit status, in every form."""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from pathlib import Path

import pytest
import yaml
from command_line import PLANS, a_plan, run

from service import terminal
from service.cli import main
from service.planfile import DEMO

STATUS = {"clear": 0, "caution": 1, "breach": 2, "unknown": 3}


@pytest.mark.parametrize("verdict", list(PLANS))
def test_the_exit_status_is_the_verdict_in_every_format(
    verdict: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = a_plan(tmp_path, verdict)
    for form in ("text", "json", "csv"):
        assert main(["check", path, "--format", form]) == STATUS[verdict]
        assert capsys.readouterr().err == ""
    main(["check", path, "--format", "json"])
    assert json.loads(capsys.readouterr().out)["verdict"] == verdict


def test_the_demo_tells_every_bed_and_fits_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "demo"]) == 2
    shown = capsys.readouterr()
    assert shown.err == ""
    assert max(map(len, shown.out.splitlines())) <= 80
    assert "\x1b" not in shown.out
    beds = yaml.safe_load(DEMO.read_text())["beds"]
    assert len(beds) == 7
    for bed in beds:
        if "until" not in bed:
            assert bed["name"] in shown.out
    for word in (
        "Breach:",
        "Caution:",
        "Advice:",
        "Benefit:",
        "Free again",
        "Closed because of disease",
        "ever again",
    ):
        assert word in shown.out
    assert "Sluice bed: Nothing against it on record." in shown.out


def test_the_right_bed_of_the_demo_was_right_in_all_years(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "demo", "--history", "--format", "json"])
    report = json.loads(capsys.readouterr().out)
    assert report["findings"]
    here = [finding for finding in report["findings"] if "sluice" in finding["beds"]]
    assert {finding["severity"] for finding in here} <= {"benefit"}


def test_the_demo_has_every_kind_of_finding_and_a_gap(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "demo", "--format", "json"])
    report = json.loads(capsys.readouterr().out)
    known = terminal.load_knowledge().rules
    found = {finding["rule"] for finding in report["findings"]}
    # Of the pests that walk from one bed to the next, the one that rotation helps against does not live in France.
    # The only ban on an active ingredient that we have read is British.
    abroad = {"hosts-next-season", "treatment-ban"}
    assert not terminal.load_knowledge().pests["carrot_weevil"].lives_in("FR")
    assert {known[rule].kind for rule in found} == {rule.kind for rule in known.values()} - abroad
    assert {finding["severity"] for finding in report["findings"]} == {
        "breach",
        "caution",
        "advice",
        "benefit",
    }
    vat = next(bed for bed in report["beds"] if bed["bed"] == "vat")
    assert vat["years_missing"] == [2024]
    assert "unknown" in vat["free_from"].values()


def test_csv_has_one_row_a_finding(capsys: pytest.CaptureFixture[str]) -> None:
    main(["check", "demo", "--format", "json"])
    findings = json.loads(capsys.readouterr().out)["findings"]
    main(["check", "demo", "--format", "csv"])
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [row["title"] for row in rows] == [finding["title"] for finding in findings]
    assert {row["garden"] for row in rows} == {"Tannery Row Plots"}


def test_severity_shortens_the_list_and_leaves_the_verdict(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "demo", "--severity", "breach"]) == 2
    text = capsys.readouterr().out
    assert "Breach:" in text
    assert "Advice:" not in text
    assert re.search(r"Hidden: +\d+ of lesser severity not shown", text)
    assert main(["check", "demo", "--severity", "breach", "--format", "json"]) == 2
    assert {one["severity"] for one in json.loads(capsys.readouterr().out)["findings"]} == {"breach"}


def test_season_judges_another_window(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = a_plan(tmp_path, "breach")
    assert main(["check", path, "--season", "2026"]) in (0, 3)
    assert "season 2026" in capsys.readouterr().out
    assert main(["check", path, "--season", "soon"]) == 64
    assert "not a season" in capsys.readouterr().err


def test_standard_input_is_read_as_what_it_looks_like(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(a_plan(tmp_path, "breach")).read_text()
    piped = run("check", "-", "--format", "json", stdin=text.encode())
    assert piped.returncode == 2
    for body, more, status in (
        (text.encode(), (), 2),
        (b"\n " + json.dumps(_plain(text)).encode(), (), 2),
        (text.encode(), ("--kind", "json"), 65),
    ):
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(body)))
        assert main(["check", "-", "--format", "json", *more]) == status
        assert capsys.readouterr().out.encode() == (piped.stdout if status == 2 else b"")


def _plain(text: str) -> object:
    from rules.knowledge.yamlfile import load

    return load(text).value
