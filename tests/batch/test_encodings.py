"""Sheets as spreadsheets on Windows save and read them: UTF-16 comes in, a marked UTF-8 file goes out."""

import csv
import io
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from service.batch.gardens import Gardens, read_sightings
from service.batch.records import LONGEST_LINE, lines

HEAD = "Garden\tBed\tSeason\tCrop\tx-member\r\n"
ROWS = 'Café 1\tNørre bed\t2027\tleek\t"Zoë, ""Z"" 🌱"\r\n漢 2\tkiln\t2027\tkale\t\r\n'
CODERS = ("utf-16", "utf-16-be", "utf-8", "utf-8-sig")


def coded(text, coder):
    """UTF-16 of either order always with its mark, since nothing else tells the order."""
    return text.encode(coder) if coder != "utf-16-be" else b"\xfe\xff" + text.encode(coder)


def run(*arguments, stdin=b"", cwd=None):
    command = [sys.executable, "-m", "service.cli", "batch", *arguments]
    return subprocess.run(command, input=stdin, capture_output=True, cwd=cwd, timeout=120)


@pytest.mark.parametrize("coder", CODERS)
def test_every_coding_gives_the_same_gardens(coder):
    found = list(Gardens(io.BytesIO(coded(HEAD + ROWS, coder))))
    assert [(one.name, one.line, one.faults) for one in found] == [("Café 1", 2, []), ("漢 2", 3, [])]
    assert found[0].rows == [{"bed": "Nørre bed", "season": "2027", "crop": "leek"}]


@pytest.mark.parametrize("coder", CODERS)
def test_sightings_and_plans_are_read_in_every_coding(coder):
    seen = read_sightings(io.BytesIO(coded("garden,bed,date,of\nCafé 1,kiln,2026-07-01,clubroot\n", coder)))
    assert seen["café 1"][0]["of"] == "clubroot"
    plans = Gardens(io.BytesIO(coded('{"garden": {"name": "Café"}}\n', coder)))
    assert (plans.form, [one.text for one in plans]) == ("ndjson", ['{"garden": {"name": "Café"}}'])


class Drops(io.BytesIO):
    """A stream that gives a few bytes at a time."""

    def read(self, size=-1):
        return super().read(min(size, 3) if size > 0 else size)


def test_no_sign_is_cut_where_a_piece_ends():
    text = "🌱é漢" * 5_000
    whole = [line.data.decode() for line in lines(Drops(f"{text}\n{text}".encode("utf-16")))]
    assert whole == [f"{text}\n", text]


def test_a_line_of_utf16_is_bounded_too():
    stream = io.BytesIO(("a" * (LONGEST_LINE + 1) + "\nb\n").encode("utf-16"))
    assert [(line.number, line.data) for line in lines(stream)] == [(1, None), (2, b"b\n")]


@pytest.mark.parametrize(
    "broken", [ROWS.encode("utf-16-le")[:-5], "A\tb\t2027\tk\ud800le\t\n".encode("utf-16-le", "surrogatepass")]
)
def test_what_is_no_text_in_utf16_is_told(broken):
    found = list(Gardens(io.BytesIO((HEAD).encode("utf-16") + broken)))
    said = [detail for one in found for _, _, detail in one.faults]
    assert len(said) == 1
    assert "not UTF-8 text" in said[0] or "never closed" in said[0]


def test_a_report_in_a_file_has_a_mark_and_is_read_back(tmp_path: Path):
    done = run("-", "--season", "2027", "--out", "report.csv", stdin=(HEAD + ROWS).encode("utf-16"), cwd=tmp_path)
    assert (done.returncode, done.stderr) == (3, b""), done
    written = (tmp_path / "report.csv").read_bytes()
    assert written.count(b"\xef\xbb\xbf") == 1
    rows = list(csv.DictReader(io.StringIO(written.decode("utf-8-sig"), newline="")))
    assert [row["garden"] for row in rows if row["type"] == "verdict"] == ["Café 1", "漢 2"]
    # Our own reader takes the mark off again.
    assert next(lines(io.BytesIO(written))).data.startswith(b"line,type")


def test_what_goes_through_a_pipe_has_no_mark(tmp_path: Path):
    sheet = (HEAD + ROWS).encode()
    assert run("-", "--season", "2027", stdin=sheet).stdout.startswith(b"line,type")
    pipe, told = tmp_path / "pipe.csv", []
    os.mkfifo(pipe)
    reader = threading.Thread(target=lambda: told.append(pipe.read_bytes()))
    reader.start()
    assert run("-", "--season", "2027", "--out", str(pipe), stdin=sheet).returncode == 3
    reader.join(60)
    assert told[0].startswith(b"line,type")
