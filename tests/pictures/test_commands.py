"""``breakcrop map`` and ``breakcrop timeline`` as their user meets them."""

from __future__ import annotations

from drawn import SVG, parsed

from service.cli import main


def test_pictures_go_to_standard_output_or_to_a_file(capfdbinary, tmp_path):
    file = tmp_path / "map.svg"
    assert main(["map", "demo", "--day", "2027-07-01", "--out", str(file)]) == 0
    assert capfdbinary.readouterr().out == b""
    assert main(["map", "demo", "--day", "2027-07-01"]) == 0
    assert capfdbinary.readouterr().out == file.read_bytes()
    assert main(["timeline", "demo", "--years", "3"]) == 0
    title = parsed(capfdbinary.readouterr().out).find(f"{SVG}title").text
    assert title == "Tannery Row Plots: timeline of the beds, 2026 to 2028"


def test_a_season_that_is_asked_for_is_shown_at_its_middle(capfdbinary):
    assert main(["map", "demo", "--season", "2026"]) == 0
    assert b"map of the beds on 20 November 2026" in capfdbinary.readouterr().out
    assert main(["map", "demo", "--season", "2027"]) == 0
    assert b"map of the beds on 2 July 2027" in capfdbinary.readouterr().out


def test_what_is_wrong_is_told(capfd, tmp_path):
    assert main(["map", "demo", "--day", "20 April"]) == 64
    assert "--day: write a day that exists as YYYY-MM-DD" in capfd.readouterr().err
    assert main(["timeline", "demo", "--years", "21"]) == 64
    assert main(["timeline", "demo", "--season", "someday"]) == 64
    assert main(["map", str(tmp_path / "none.yaml")]) == 66
    assert main(["map", "demo", "--out", str(tmp_path / "no" / "map.svg")]) == 74
    assert "No such file or directory" in capfd.readouterr().err
