"""Overlays, crops, rules, serve and the other commands."""

from __future__ import annotations

import os
import re
import socket
from pathlib import Path
from typing import Any

import pytest
import yaml
from command_line import a_plan

from rules import report
from service import reportout, serving, terminal
from service.cli import main


def test_a_club_overlay_changes_the_verdict_and_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    club = tmp_path / "club.yaml"
    club.write_text("overlay: our club\nfamilies:\n  Cucurbitaceae: {least: 1, better: 1}\n")
    plan = a_plan(tmp_path, "caution")
    assert main(["check", plan]) == 1
    capsys.readouterr()
    assert main(["check", plan, "--rules", str(club)]) == 0
    assert "changed by our club" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("overlay: our club\nfamilies:\n  Brasicaceae: {least: 1, better: 1}\n", ":3:"),
        ("overlay: our club\noverlay: twice\n", ":2:"),
        ("overlay: our club\nfamilys: {}\n", ":2:"),
    ],
)
def test_a_faulty_overlay_is_65_with_its_place(
    text: str, place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    club = tmp_path / "club.yaml"
    club.write_text(text)
    assert main(["check", "demo", "--rules", str(club)]) == 65
    assert f"{club}{place}" in capsys.readouterr().err
    assert main(["rules", "lint", str(club)]) == 65
    assert f"{club}{place}" in capsys.readouterr().err


def test_crops_lists_by_family_and_fits_the_page(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["crops"]) == 0
    out = capsys.readouterr().out
    assert "cabbage family (Brassicaceae):" in out
    assert "words for several crops:" in out
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("Courgettes", "Cucurbitaceae"),
        ("swede", "cabbage family"),
        ("SWEET potato", "Convolvulaceae"),
        ("onions", "stands for:"),
    ],
)
def test_a_crop_is_found_by_any_of_its_names(word: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["crops", *word.split()]) == 0
    out = capsys.readouterr().out
    assert said in out
    assert "break:" in out
    assert "better" in out


def test_an_unknown_crop_gives_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["crops", "cabage"]) == 65
    assert "cabbage" in capsys.readouterr().err


def test_rules_are_listed_and_explained(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "list"]) == 0
    out = capsys.readouterr().out
    assert "rotation.family-too-soon" in out
    assert max(map(len, out.splitlines())) <= 80
    assert main(["rules", "explain", "rotation.family-too-soon"]) == 0
    out = capsys.readouterr().out
    assert "rotation.family-too-soon" in out
    assert all(len(line) <= 80 or "://" in line for line in out.splitlines())
    assert main(["rules", "explain", "rotation.family-to-soon"]) == 65
    assert "rotation.family-too-soon" in capsys.readouterr().err


def test_lint_passes_our_own_rules_and_places_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "lint"]) == 0
    assert re.search(r"\d+ files? in order", capsys.readouterr().out)
    bad = tmp_path / "bad.yaml"
    bad.write_text("rules:\n  rotation.family-too-soon:\n    severity: grave\n")
    assert main(["rules", "lint", str(bad)]) == 65
    error = capsys.readouterr().err
    assert f"{bad}:3:" in error
    assert "to mend" in error
    assert main(["rules", "lint", str(tmp_path / "none.yaml")]) == 66


@pytest.mark.parametrize(("option", "worker"), [((), serving.WORKER), (("--no-worker",), None)])
def test_serve_runs_gunicorn_and_the_worker_with_the_options_as_settings(
    monkeypatch: pytest.MonkeyPatch, option: tuple[str, ...], worker: tuple[str, ...] | None
) -> None:
    called: list[Any] = []
    monkeypatch.setattr(serving, "supervise", lambda worker: called.append(worker) or 7)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    for name in ("HOST", "PORT", "WORKERS"):
        # Registered, so that what the command sets is taken back after the test.
        monkeypatch.setenv(f"BREAKCROP_{name}", "1")
    assert main(["serve", "--host", "127.0.0.1", "--port", port, "--workers", "3", *option]) == 7
    assert called == [worker]
    assert [os.environ[f"BREAKCROP_{name}"] for name in ("HOST", "PORT", "WORKERS")] == ["127.0.0.1", port, "3"]


def test_serve_refuses_bad_settings_before_it_starts(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(serving, "supervise", lambda **_: pytest.fail("started"))
    monkeypatch.setenv("BREAKCROP_TIMEOUT", "soon")
    assert main(["serve"]) == 64
    assert "BREAKCROP_TIMEOUT" in capsys.readouterr().err


def test_openapi_prints_the_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["openapi"]) == 0
    assert "/v1/checks" in yaml.safe_load(capsys.readouterr().out)["paths"]


def test_version_and_help_are_no_errors(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("breakcrop ")
    assert main(["--help"]) == 0
    assert "check" in capsys.readouterr().out


def test_text_that_is_not_utf_8_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "club.yaml"
    path.write_bytes(b"overlay: a\nrules: \xff\n")
    with pytest.raises(terminal.Stop) as stopped:
        terminal.read_text(str(path))
    assert (stopped.value.status, stopped.value.message) == (65, f"{path}:2: not UTF-8 text")


def test_the_severities_offered_are_those_of_the_report() -> None:
    assert reportout.SEVERITIES == report.SEVERITIES


PAIR = """
  interplant.{name}:
    severity: benefit
    points: 1
    effect: pest
    options:
      a: {{crops: [borage]}}
      b: {b}
      acts: a_on_b
      about: pest_reduction
    title: "{{a}} beside {{b}} in {{bed}}: fewer thrips"
    why: The club counted them for three summers.
    fix: Alternate the rows.
    evidence: {{grade: practice, sources: [common practice]}}
"""


def test_lint_names_a_pair_of_an_overlay_that_can_never_speak(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    club, own = tmp_path / "club.yaml", PAIR.format(name="borage-among-okra", b="{crops: [okra]}")
    club.write_text("overlay: Mill Lane\npairs:" + own, encoding="utf-8")
    assert main(["rules", "lint", str(club)]) == 0
    assert capsys.readouterr().out == "1 file in order\n"
    wide = PAIR.format(name="borage-among-mallows", b="{families: [Malvaceae], except: [cotton, hollyhock, roselle]}")
    club.write_text("overlay: Mill Lane\npairs:" + own + wide, encoding="utf-8")
    assert main(["rules", "lint", str(club)]) == 65
    told = capsys.readouterr().err
    assert "'interplant.borage-among-mallows' can never speak" in told
    assert "'interplant.borage-among-mallows' is not heard on its own examples" in told
