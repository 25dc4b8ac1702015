"""``breakcrop batch`` at its own door: the coordinator's way from a sheet to a printed page, and bad days."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import re
import subprocess
import sys
from pathlib import Path

import pytest
from plots import Sheets, sheets

ROOT = Path(__file__).parents[2]
SITE = """\
garden: {latitude: 46.2, country: FR, last_spring_frost: 05-04, first_autumn_frost: 10-02}
bed: {kind: ground, length: 3 m, width: 120}
"""
HEAD = "garden,bed,season,crop\n"
CLEAR = "Plot 1,a,2024,peas\nPlot 1,a,2025,leeks\nPlot 1,a,2026,carrots\nPlot 1,a,2027,lettuce\n"
BREACH = "Plot 2,a,2026,kale\nPlot 2,a,2027,cabbage\n"
CAUTION = (
    "Plot 3,a,2023,peas\nPlot 3,a,2024,leeks\nPlot 3,a,2025,cucumber\nPlot 3,a,2026,carrots\nPlot 3,a,2027,cucumber\n"
)
UNKNOWN = "Plot 4,a,2027,cabbage\n"
BAD = "Plot 5,a,2027,cabage\n"


def run(*arguments: str, stdin: bytes | None = None, cwd: Path = ROOT) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "service.cli", "batch", *arguments],
        input=stdin,
        capture_output=True,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "80"},
        timeout=120,
        check=False,
    )


@pytest.fixture
def club(tmp_path: Path, request: pytest.FixtureRequest) -> tuple[Path, Sheets]:
    """A folder with plots (150 if not said) as a spreadsheet writes them: semicolons, CRLF, a byte order mark."""
    made = sheets(getattr(request, "param", 150), delimiter=";")
    (tmp_path / "plots.csv").write_text(made.plots, encoding="utf-8-sig", newline="")
    (tmp_path / "seen.csv").write_text(made.sightings, encoding="utf-8", newline="")
    (tmp_path / "site.yaml").write_text(SITE)
    return tmp_path, made


@pytest.mark.parametrize("club", [500], indirect=True)
def test_the_way_of_a_coordinator(club: tuple[Path, Sheets]) -> None:
    folder, made = club
    options = ("--season", "2027", "--site", "site.yaml", "--sightings", "seen.csv", "--out", "report.csv", "--summary")
    done = run("plots.csv", *options, cwd=folder)
    assert done.returncode == 65  # plots with mistakes
    assert done.stderr == b""  # no progress in a pipe
    page = done.stdout.decode()
    assert max(map(len, page.splitlines())) <= 80
    rows = list(csv.DictReader(io.StringIO((folder / "report.csv").read_bytes().decode("utf-8-sig"), newline="")))
    gardens = list(dict.fromkeys(line.split(";")[0] for line in made.plots.splitlines()[1:]))

    # Every plot is answered once, in the order of the sheet, and every mistake is told in words that help.
    answered = list(dict.fromkeys(row["garden"] for row in rows if row["type"] in ("verdict", "error")))
    assert answered == gardens
    errors: dict[str, str] = {}
    for row in rows:
        if row["type"] == "error":
            errors[row["garden"]] = errors.get(row["garden"], "") + row["title"]
    assert errors.keys() == made.mistakes.keys()
    assert len(errors) == 25
    for garden, said in made.mistakes.items():
        assert said in errors[garden], garden

    # The page counts what the report says.
    verdicts = [row["verdict"] for row in rows if row["type"] == "verdict"]
    for verdict in ("breach", "caution", "unknown", "clear"):
        assert re.search(rf"^ *{verdicts.count(verdict)} {verdict}:", page, re.MULTILINE), verdict
    assert re.search(rf"^ *{len(errors)} not checked:", page, re.MULTILINE)
    flat = " ".join(page.split())
    for garden in errors:
        # One mistake stands once, with all the lines that have it.
        assert re.search(rf"Line \d+(, \w+)?, {garden}: |Lines [^:]*\d \({garden}\)[^:]*: ", flat), garden
    ill = {
        line.split(";")[0] for line in made.sightings.splitlines()[1:] if "aphid" not in line and "blight" not in line
    }
    told = page[page.index("Plots that had a disease") : page.index("Without records")]
    assert set(re.findall(r"^(Plot \d+):", told, re.MULTILINE)) == ill != set()
    for name in ill:
        at = gardens.index(name)
        assert f"Next in the sheet: {gardens[at - 1]} and {gardens[at + 1]}." in told

    # The mistakes mended, the same sheet ends by its worst verdict.
    lines = made.plots.splitlines(keepends=True)
    (folder / "mended.csv").write_text("".join(line for line in lines if line.split(";")[0] not in errors), newline="")
    assert run("mended.csv", *options, cwd=folder).returncode == 2


@pytest.mark.parametrize(
    ("rows", "status"),
    [
        (CLEAR, 0),
        (CLEAR + CAUTION, 1),
        (CLEAR + CAUTION + UNKNOWN, 1),
        (UNKNOWN + BREACH + CLEAR, 2),
        (UNKNOWN + CLEAR, 3),
        (BREACH + BAD + CLEAR, 65),
        ("", 3),
    ],
)
def test_the_exit_status_is_the_worst_verdict(rows: str, status: int) -> None:
    done = run("-", "--season", "2027", stdin=(HEAD + rows).encode())
    assert (done.returncode, done.stderr) == (status, b"")
    assert done.stdout.endswith(b",complete,\r\n")


def test_processes_change_no_byte(club: tuple[Path, Sheets]) -> None:
    folder, _ = club
    alone, two = (
        run("plots.csv", "--season", "2027", "--format", "ndjson", "--jobs", jobs, cwd=folder).stdout for jobs in "12"
    )
    assert alone == two
    assert json.loads(alone.splitlines()[-1])["complete"] is True


@pytest.mark.parametrize(
    ("options", "sheet", "status", "said"),
    [
        ((), HEAD + CLEAR, 64, "--season 2027"),
        (("--season", "spring"), HEAD, 64, "'spring' is not a season"),
        (("--season", "2027", "--jobs", "0"), HEAD, 64, "--jobs"),
        (("--season", "2027", "--site", "none.yaml"), HEAD, 66, "none.yaml: No such file"),
        (("--season", "2027", "--sightings", "-"), HEAD, 64, "only one of the files"),
        (("--season", "2027"), "", 65, "standard input:1: there is nothing to read"),
        (("--season", "2027"), "garden,bed,season,corp\n", 65, "standard input:1: there is no column 'corp'"),
        (("--season", "2027", "--out", "no/such/folder.csv"), HEAD, 74, "no/such/folder.csv: No such file"),
        (("--season", "2027", "--site", "bad.yaml"), HEAD, 65, "bad.yaml:1:20: /garden/latitdue: unknown key"),
        (("--season", "2027", "--sightings", "bad.csv"), HEAD, 65, "bad.csv:1: the column 'of' is missing"),
    ],
)
def test_what_stops_the_whole_batch(
    tmp_path: Path, options: tuple[str, ...], sheet: str, status: int, said: str
) -> None:
    (tmp_path / "bad.yaml").write_text("garden: {latitdue: 46}\n")
    (tmp_path / "bad.csv").write_text("garden,bed,date\n")
    done = run("-", *options, stdin=sheet.encode(), cwd=tmp_path)
    assert (done.returncode, done.stdout) == (status, b"")
    assert said in done.stderr.decode()


def test_a_site_in_the_stream_and_beside_it_is_refused(tmp_path: Path) -> None:
    (tmp_path / "site.yaml").write_text(SITE)
    site = '{"type": "site", "garden": {"latitude": 46.2}}\n'
    plan = '{"plantings": [{"bed": "a", "crop": "kale", "season": "2027"}]}\n'
    assert run("-", stdin=(site + plan).encode()).returncode == 3
    done = run("-", "--site", "site.yaml", stdin=(site + plan).encode(), cwd=tmp_path)
    assert done.returncode == 64
    assert b"give it once" in done.stderr


@pytest.mark.parametrize(
    ("name", "first"),
    [("r.csv", b"\xef\xbb\xbfline,type"), ("r.ndjson", b'{"type"'), ("r.txt", b"\xef\xbb\xbfline,type")],
)
def test_the_form_follows_the_name_else_what_came_in(tmp_path: Path, name: str, first: bytes) -> None:
    done = run("-", "--season", "2027", "--out", name, stdin=(HEAD + CLEAR).encode(), cwd=tmp_path)
    assert (done.returncode, done.stdout) == (0, b"")
    assert (tmp_path / name).read_bytes().startswith(first)
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_nothing_is_written_over_what_is_read(tmp_path: Path) -> None:
    sheet = tmp_path / "plots.csv"
    sheet.write_text(HEAD + CLEAR)
    done = run("plots.csv", "--season", "2027", "--out", "./plots.csv", cwd=tmp_path)
    assert done.returncode == 64
    assert sheet.read_text() == HEAD + CLEAR


def test_a_report_keeps_its_old_self_until_the_new_one_is_whole(tmp_path: Path) -> None:
    (tmp_path / "report.csv").write_text("old")
    assert run("-", "--season", "2027", "--out", "report.csv", stdin=b"garden\n", cwd=tmp_path).returncode == 65
    assert (tmp_path / "report.csv").read_text() == "old"
    assert (
        run("-", "--season", "2027", "--out", "report.csv", stdin=(HEAD + CLEAR).encode(), cwd=tmp_path).returncode == 0
    )
    assert (tmp_path / "report.csv").read_text("utf-8-sig").startswith("line,type")


def test_a_full_disk_is_told() -> None:
    done = run("-", "--season", "2027", "--out", "/dev/full", stdin=(HEAD + CLEAR).encode())
    assert done.returncode == 74
    assert b"/dev/full: No space left" in done.stderr


def test_a_reader_who_goes_away_ends_it_well(club: tuple[Path, Sheets]) -> None:
    folder, _ = club
    command = [sys.executable, "-m", "service.cli", "batch", "plots.csv", "--season", "2027", "--jobs", "2"]
    process = subprocess.Popen(
        command, cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stderr is not None
    assert process.stdout.read(10) == b"line,type,"
    process.stdout.close()
    with process.stderr as errors:
        assert errors.read() == b""
    assert process.wait(timeout=60) in (0, 1, 2, 3, 65)


def test_a_terminal_sees_how_far_it_is(club: tuple[Path, Sheets]) -> None:
    folder, _ = club
    mine, theirs = pty.openpty()
    command = [sys.executable, "-m", "service.cli", "batch", "plots.csv", "--season", "2027", "--out", "r.csv"]
    process = subprocess.Popen(
        command, cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL, stderr=theirs
    )
    os.close(theirs)
    seen = io.BytesIO()
    while True:
        try:
            data = os.read(mine, 1024)
        except OSError:  # the other end is closed
            break
        if not data:
            break
        seen.write(data)
    os.close(mine)
    assert process.wait(timeout=60) == 65
    steps = re.findall(r"([\d,]+) gardens checked, (\d+) % read", seen.getvalue().decode())
    assert steps
    assert [int(count.replace(",", "")) for count, _ in steps] == sorted(int(c.replace(",", "")) for c, _ in steps)
    assert all(0 <= int(part) <= 100 for _, part in steps)


def test_a_batch_needs_neither_flask_nor_a_database() -> None:
    script = "import sys; from service.cli import main; main(); print(*sorted(sys.modules), file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", script, "batch", "-", "--season", "2027", "--summary"],
        input=(HEAD + BREACH).encode(),
        capture_output=True,
        cwd=ROOT,
        timeout=60,
        check=True,
    )
    loaded = set(done.stderr.decode().split())
    assert "service.batch.run" in loaded
    assert not loaded & {"flask", "werkzeug", "sqlalchemy"}
