"""The command at a terminal: encodings, colour, width, and what it loads."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys

import pytest
from command_line import ROOT, run

from service import terminal
from service.cli import main


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
