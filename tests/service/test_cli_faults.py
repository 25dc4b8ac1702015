"""breakcrop check on bad days: faults with their places, full disks, readers who leave."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from command_line import HEAD, ROOT

from service import cli, planfile
from service.cli import main


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
