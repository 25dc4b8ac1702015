"""Beds in words: when they are free again, and what was not checked."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

from made_report import KNOWN, Known, a_finding, a_plan, a_report, flat, text_of

from rules.model import Bed, Garden
from rules.report import BedOutlook, Closure, Fix, Free
from service.tables import blocks
from service.text import report_text


def test_beds_without_findings_get_one_line_each_and_gone_beds_none() -> None:
    lines = text_of(a_report(a_finding())).splitlines()
    assert "Sluice bed: Nothing against it on record." in lines
    assert "Vat house: Nothing found, but not enough is on record to be sure; see Not checked." in flat(
        "\n".join(lines)
    )
    assert "Bark tub: Nothing is planned here." in lines
    assert not any("Old kiln bed" in line for line in lines)


def test_free_again_gives_both_months_and_lists_what_is_open_everywhere_in_a_line() -> None:
    plain = a_report(beds=a_report().beds[:3])
    lines = text_of(plain).splitlines()
    row = next(at for at, line in enumerate(lines) if line.startswith("Kiln bed "))
    assert lines[row].split() == ["Kiln", "bed", "least", "Nov", "2027", "open"]
    assert lines[row + 1].split() == ["better", "Nov", "2028"]
    assert next(line for line in lines if line.startswith("Quay bed ")).split() == [
        "Quay",
        "bed",
        "open",
        "never",
    ]
    assert "Open in every bed: beet, carrot, cucumber, daisy, grass, morning glory," in "\n".join(lines)


def test_free_again_calls_open_what_is_past_before_the_judged_season() -> None:
    half, whole = Free(date(2026, 11, 1), date(2027, 11, 1)), Free(date(2025, 11, 1), date(2026, 11, 1))
    report = a_report(beds=(BedOutlook("kiln", 2023, (), {"Poaceae": half, "Fabaceae": whole}, ()),))
    lines = text_of(report).splitlines()
    row = next(at for at, line in enumerate(lines) if line.startswith("Kiln bed "))
    assert lines[row].split() == ["Kiln", "bed", "least", "open", "open"]
    assert lines[row + 1].split() == ["better", "Nov", "2027"]


def test_free_again_says_standing_where_a_perennial_has_no_end() -> None:
    never_cleared = Free(date(2201, 1, 1), date(2202, 1, 1))
    text = text_of(a_report(beds=(BedOutlook("kiln", 2023, (), {"Asteraceae": never_cleared}, ()),)))
    assert "2201" not in text
    assert "standing" in text
    assert "with no date of clearing" in flat(text)


def test_closures_say_never_or_until_with_the_disease_and_plain_crop_names() -> None:
    text = flat(text_of(a_report()))
    assert "Quay bed: because of allium white rot no leeks and sea leek ever again." in text
    assert "Quay bed: because of clubroot no cabbages until September 2030." in text


def test_a_closure_of_a_whole_family_is_said_in_one_word() -> None:
    radish = replace(KNOWN.crops["cabbage"], id="radish", name="radish", plural="radishes")
    known = Known(crops=KNOWN.crops | {"radish": radish})
    shut = Closure(("cabbage", "leek", "radish"), date(2030, 9, 1), "clubroot")
    report = a_report(beds=(BedOutlook("quay", 2023, (), {}, (shut,)),))
    text = flat(report_text(report, a_plan(), known))  # type: ignore[arg-type]
    assert "no crop of the cabbage family and leeks until September 2030." in text


def test_skipped_checks_seasons_and_notes_are_told() -> None:
    text = flat(text_of(a_report()))
    assert "Bed vat has no width (space.overcrowded, 2 times)." in text
    assert "2027-spring 1 March 2027 to 31 May 2027" in text
    assert "No latitude is given" in text


def test_no_line_is_wider_than_asked_even_with_long_names() -> None:
    long = a_finding(title="Cabbage " * 40, beds=("kiln", "quay"), fix=Fix("x" * 300))
    for width in (40, 60, 80, 200):
        lines = text_of(a_report(long), width=width).splitlines()
        assert max(map(len, lines)) <= min(80, width)


def test_colour_only_paints_and_never_changes_the_words() -> None:
    report = a_report(a_finding())
    painted = text_of(report, colour=True)
    assert "\x1b[31;1mBreach:\x1b[0m" in painted
    assert re.sub(r"\x1b\[[0-9;]*m", "", painted) == text_of(report)
    assert "\x1b" not in text_of(report)


def test_control_characters_in_names_cannot_reach_the_terminal() -> None:
    plan = replace(a_plan(), garden=Garden(name="Row\x1b[2J\x07"), beds=(Bed("kiln", "Kiln\x1b]0;x"),))
    assert "\x1b" not in report_text(a_report(a_finding()), plan, KNOWN)  # type: ignore[arg-type]


def test_earlier_findings_are_marked_and_not_counted() -> None:
    text = flat(text_of(a_report(a_finding(), a_finding(2, in_window=False, title="An old fault"))))
    assert "Breach, in an earlier season: An old fault" in text
    assert "Findings: 1 breaks a rule Rules" in text


def test_blocks_rotate_and_keep_the_first_columns() -> None:
    header = ["bed", *(f"family {n}" for n in range(12))]
    made = blocks(header, [["kiln", *["Nov 2027"] * 12]], width=40, keep=1)
    assert len(made) == 4
    assert all(block[0].startswith("bed ") and len(line) <= 40 for block in made for line in block)
    assert " ".join(block[0] for block in made).count("family") == 12
