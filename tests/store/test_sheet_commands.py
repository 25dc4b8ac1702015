"""``record import-sheet`` and ``record export-sheet``: the code of the HTTP door, from the command line."""

from __future__ import annotations

import codecs
import io
from pathlib import Path

import pytest

from service.cli import main
from service.terminal import BAD_INPUT, BAD_OUTPUT, NO_INPUT

SHEET = "bed,crop,season\nKiln bed,kale,2028\nquay,beans,2028\n"


@pytest.fixture
def run(tmp_path, monkeypatch, capfd):
    """``run(*words, sent=b"")``: exit status, standard output and standard error of a ``breakcrop record`` command."""
    monkeypatch.setenv("BREAKCROP_DATABASE_URL", f"sqlite:///{tmp_path}/record.db")
    monkeypatch.chdir(tmp_path)

    def command(*words, sent=b""):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(sent)))
        status = main(["record", *words])
        told = capfd.readouterr()
        return status, told.out, told.err

    assert command("new", "demo")[0] == 0
    return command


def sheet(run):
    return run("export-sheet", "-")[1]


def test_a_dry_run_says_what_would_be_added_and_adds_nothing(run):
    before = sheet(run)
    status, out, _ = run("import-sheet", "-", "--dry-run", sent=SHEET.encode())
    assert status == 0
    assert "Quay bed  beans  2028  quay.bean.2028" in out
    assert out.endswith("2 plantings would be added to Tannery Row Plots.\n")
    assert sheet(run) == before


@pytest.mark.parametrize("from_file", [True, False])
def test_a_sheet_is_added_from_a_file_or_standard_input(run, from_file):
    Path("in.csv").write_text(SHEET)
    given = ("in.csv", b"") if from_file else ("-", SHEET.encode())
    assert run("import-sheet", given[0], sent=given[1]) == (0, "2 plantings are added to Tannery Row Plots.\n", "")
    assert "quay.bean.2028" in sheet(run)


@pytest.mark.parametrize("dry", [(), ("--dry-run",)])
def test_every_bad_row_is_named_and_nothing_is_taken(run, dry):
    before = sheet(run)
    bad = f"{SHEET}Kilm bed,kale,2028\nquay,beens,soon\n"
    status, out, err = run("import-sheet", "-", *dry, sent=bad.encode())
    assert (status, out) == (BAD_INPUT, "")
    assert "standard input:4:1: /bed: no bed is called 'Kilm bed'; did you mean 'Kiln bed'?" in err
    assert "standard input:5:3: /season:" in err
    assert sheet(run) == before


def test_a_file_for_spreadsheets_begins_with_a_mark_and_a_stream_never_does(run):
    assert run("import-sheet", "-", sent="bed,crop,season,variety\nquay,kale,2028,Fougère\n".encode())[0] == 0
    assert run("export-sheet", "out.csv")[0] == 0
    written = Path("out.csv").read_bytes()
    assert written.startswith(codecs.BOM_UTF8)
    assert written.removeprefix(codecs.BOM_UTF8) == sheet(run).encode()
    assert "Fougère" in written.decode("utf-8-sig")
    assert run("export-sheet", "out.csv")[0] == BAD_OUTPUT  # it is there already
    Path("marked.csv").write_bytes(codecs.BOM_UTF8 + b"bed,crop,season\nquay,peas,2029\n")
    assert run("import-sheet", "marked.csv")[1] == "1 planting is added to Tannery Row Plots.\n"


def test_a_sheet_that_is_not_there_is_told(run):
    assert run("import-sheet", "none.csv")[0] == NO_INPUT
