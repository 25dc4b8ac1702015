"""The command line at its own door: status, words on both streams, and bad days."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from rules import report
from service import cli, planfile, reportout, serving, terminal
from service.cli import main
from service.planfile import DEMO

ROOT = Path(__file__).parents[2]
HEAD = "as_of: 2026-11-20\njudge: {season: 2027}\ngarden: {name: Row, latitude: 46.2}\n"
ROW = "  - {bed: a, crop: %s, start: %s, end: %s}\n"
#: A plan for each verdict.
PLANS = {
    "clear": ROW % ("peas", "2025-04-01", "2025-07-01")
    + ROW % ("carrots", "2026-04-01", "2026-09-01")
    + ROW % ("lettuce", "2027-04-01", "2027-06-01"),
    "caution": ROW % ("cucumber", "2025-05-10", "2025-09-20")
    + ROW % ("carrots", "2026-04-01", "2026-09-01")
    + ROW % ("cucumber", "2027-05-15", "2027-09-20"),
    "breach": ROW % ("kale", "2026-04-01", "2026-10-01") + ROW % ("cabbage", "2027-04-01", "2027-09-01"),
    "unknown": ROW % ("cabbage", "2027-04-01", "2027-09-01"),
}
STATUS = {"clear": 0, "caution": 1, "breach": 2, "unknown": 3}


def a_plan(tmp_path: Path, verdict: str, name: str = "plan.yaml") -> str:
    path = tmp_path / name
    path.write_text(HEAD + "beds: [{id: a, name: Bed A}]\nplantings:\n" + PLANS[verdict])
    return str(path)


def run(*arguments: str, stdin: bytes | None = None, **env: str) -> subprocess.CompletedProcess[bytes]:
    """The command in a process of its own."""
    clean = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "COLUMNS")}
    return subprocess.run(
        [sys.executable, "-m", "service.cli", *arguments],
        input=stdin,
        capture_output=True,
        cwd=ROOT,
        env=clean | env,
        timeout=60,
        check=False,
    )


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


def test_every_fault_of_a_yaml_plan_is_told_with_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bad.yaml"
    path.write_text(
        HEAD + "beds: [{id: a}]\nplantings:\n"
        "  - {bed: a, crop: cabage, season: 2027}\n"
        "  - {bed: b, crop: peas, season: 2027}\n"
    )
    assert main(["check", str(path)]) == 65
    shown = capsys.readouterr()
    lines = shown.err.splitlines()
    assert shown.out == ""
    assert re.match(re.escape(f"{path}:6:") + r"\d+: /plantings/0/crop: .*cabage.*cabbage", lines[0])
    assert re.match(re.escape(f"{path}:7:") + r"\d+: /plantings/1/bed: ", lines[1])
    assert lines[2:] == ["2 things to mend"]


def test_faults_of_a_json_plan_have_file_and_pointer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bad.json"
    path.write_text(json.dumps({"plantings": [{"bed": "a", "crop": "cabage", "season": "2027"}]}))
    assert main(["check", str(path)]) == 65
    lines = capsys.readouterr().err.splitlines()
    assert lines[0].startswith(f"{path}: /plantings/0/crop: ")
    assert lines[-1] == "1 thing to mend"


@pytest.mark.parametrize(
    ("name", "body"),
    [("p.yaml", b"a: [1"), ("p.json", b"{"), ("p.yaml", b"\xff\xfe\x00"), ("p.yaml", b"a: &x 1\nb: *x\n"),
     ("p.json", b"[" * 100_000)],
)  # fmt: skip
def test_what_cannot_be_read_is_65_with_the_name_of_the_file(
    name: str, body: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    path.write_bytes(body)
    assert main(["check", str(path)]) == 65
    assert capsys.readouterr().err.startswith(f"{path}:")


def test_a_missing_file_is_66_and_wrong_use_is_64(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "no-such-file.yaml"]) == 66
    assert "no-such-file.yaml: No such file" in capsys.readouterr().err
    for wrong in (
        ["check"],
        ["chek", "demo"],
        ["check", "demo", "--format", "xml"],
        ["serve", "--port", "0"],
    ):
        assert main(wrong) == 64
        assert capsys.readouterr().err


def test_a_failure_of_ours_is_70_and_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(_: object) -> None:
        raise RuntimeError("boom")

    monkeypatch.setattr(planfile, "load_knowledge", broken)
    assert main(["check", "demo"]) == 70
    error = capsys.readouterr().err
    assert "RuntimeError: boom" in error
    assert "Traceback" not in error
    monkeypatch.setenv(cli.TRACE, "1")
    assert main(["check", "demo"]) == 70
    assert "Traceback" in capsys.readouterr().err


def test_a_full_disk_is_74() -> None:
    with open("/dev/full", "wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "service.cli", "check", "demo"], stdout=full, stderr=subprocess.PIPE,
            cwd=ROOT, timeout=60, check=False,
        )  # fmt: skip
    assert done.returncode == 74
    assert done.stderr.decode().startswith("cannot write the output: ")


def test_a_reader_who_leaves_early_makes_no_noise() -> None:
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        [sys.executable, "-m", "service.cli", "check", "demo"], stdout=write, stderr=subprocess.PIPE,
        cwd=ROOT, timeout=60, check=False,
    )  # fmt: skip
    os.close(write)
    assert done.stderr == b""
    assert done.returncode == 2


def test_an_output_that_knows_only_ascii_still_gets_the_report(monkeypatch: pytest.MonkeyPatch) -> None:
    written = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(written, encoding="ascii"))
    assert main(["check", "demo"]) == 2
    assert b"Tannery Row Plots" in written.getvalue()
    terminal.put("caf\xe9\n")
    assert written.getvalue().endswith(b"caf?\n")


@pytest.mark.parametrize(
    ("env", "on_terminal", "wanted"),
    [
        ({}, True, True),
        ({"NO_COLOR": ""}, True, True),
        ({"NO_COLOR": "1"}, True, False),
        ({"TERM": "dumb"}, True, False),
        ({}, False, False),
    ],
)
def test_colour_is_a_matter_of_the_terminal_and_of_its_user(
    env: dict[str, str], on_terminal: bool, wanted: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    for name, value in ({"TERM": "xterm"} | env).items():
        monkeypatch.setenv(name, value)
    stream = io.TextIOWrapper(io.BytesIO())
    monkeypatch.setattr(stream, "isatty", lambda: on_terminal)
    monkeypatch.setattr(sys, "stdout", stream)
    assert main(["check", "demo"]) == 2
    assert (b"\x1b[" in stream.buffer.getvalue()) is wanted  # type: ignore[attr-defined]


def test_a_real_terminal_gets_colour_and_its_own_width() -> None:
    clean = {key: value for key, value in os.environ.items() if key != "NO_COLOR"}
    ours, theirs = os.openpty()
    process = subprocess.Popen(
        [sys.executable, "-m", "service.cli", "check", "demo"], stdout=theirs, stderr=theirs, cwd=ROOT,
        env=clean | {"TERM": "xterm", "COLUMNS": "60"},
    )  # fmt: skip
    os.close(theirs)
    seen = b""
    try:
        while block := os.read(ours, 65536):
            seen += block
    except OSError:  # how a terminal says that its other end is closed
        pass
    os.close(ours)
    assert process.wait(60) == 2
    assert b"\x1b[" in seen
    plain = re.sub(r"\x1b\[[0-9;]*m", "", seen.decode())
    assert max(map(len, plain.splitlines())) <= 60


def test_check_imports_no_web_framework_and_no_database() -> None:
    code = (
        "import sys\nfrom service.cli import main\nstatus = main(['check', 'demo'])\n"
        "heavy = {'flask', 'flask_smorest', 'werkzeug', 'sqlalchemy', 'schemathesis', 'environs'}\n"
        "print(sorted(heavy & set(sys.modules)), status, file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, cwd=ROOT, timeout=60, check=False)
    assert done.stderr.decode().strip() == "[] 2"


def test_the_same_plan_gives_the_same_bytes(capsys: pytest.CaptureFixture[str]) -> None:
    seed = "2" if os.environ.get("PYTHONHASHSEED") == "1" else "1"  # other than that of this process
    other = run("check", "demo", "--format", "json", PYTHONHASHSEED=seed)
    assert main(["check", "demo", "--format", "json"]) == 2
    assert capsys.readouterr().out.encode() == other.stdout
    assert json.loads(other.stdout)["format"] == 1


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
