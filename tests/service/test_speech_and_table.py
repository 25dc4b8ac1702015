"""The report spoken, and as rows of a table."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_report import KNOWN, a_finding, a_plan, a_report, flat, text_of

from rules.model import Garden
from rules.report import BedOutlook, Closure, Fix
from service.speech import speakable
from service.tables import report_csv
from service.text import speak


def test_speak_tells_verdict_and_the_three_worst_with_their_fix() -> None:
    findings = [a_finding(n, title=f"Fault {word}", fix=Fix(f"Mend {word}.")) for n, word in
                enumerate(["one", "two", "three", "four"])]  # fmt: skip
    findings[0] = replace(findings[0], severity="advice")
    said = speak(a_report(*findings), a_plan(), KNOWN)  # type: ignore[arg-type]
    assert said == (
        "Tannery Row Plots, season 2027. 3 findings break a rule and 1 is advice. "
        "Fault two. Mend two. Fault three. Mend three. Fault four. Mend four."
    )


def test_speak_on_a_clear_and_on_an_unknown_plan() -> None:
    clear = speak(a_report(), a_plan(), KNOWN)  # type: ignore[arg-type]
    assert clear == "Tannery Row Plots, season 2027. Nothing against the plan on record."
    unknown = speak(a_report(verdict="unknown"), a_plan(), KNOWN)  # type: ignore[arg-type]
    assert unknown == ("Tannery Row Plots, season 2027. Nothing found, but this is not certain. Bed vat has no width.")


def test_an_unknown_verdict_gives_its_own_reason_where_nothing_is_planned() -> None:
    report = a_report(verdict="unknown", not_checked=())
    assert "Verdict:  unknown - nothing is planned, so there was nothing to judge" in text_of(report)
    said = speak(report, a_plan(), KNOWN)  # type: ignore[arg-type]
    assert said == "Tannery Row Plots, season 2027. Nothing is planned then, so there was nothing to judge."


def test_a_voice_points_to_the_cautions_that_it_has_no_room_for() -> None:
    with_caution = a_report(a_finding(cautions=("lime_handling",)))
    said = speak(with_caution, a_plan(), KNOWN)  # type: ignore[arg-type]
    assert said.endswith("Read the cautions in the full report first.")
    assert "cautions" not in speak(a_report(a_finding()), a_plan(), KNOWN)  # type: ignore[arg-type]


def test_a_closure_by_a_standing_host_names_no_year() -> None:
    shut = Closure(("cabbage",), date(2208, 1, 1), "clubroot")
    report = a_report(beds=(BedOutlook("quay", 2023, (), {}, (shut,)),))
    assert "no cabbages while its host stands there." in flat(text_of(report))


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("wait until 2027-11-01", "wait until 1 November 2027"),
        ("30 cm apart & 2 m long", "30 centimetres apart and 2 metres long"),
        ("3-4 years (or more)", "3 to 4 years, or more"),
        ("half-hardy kale/cabbage", "half-hardy kale or cabbage"),
        ("10 °C; 50%", "10 degrees Celsius, 50 percent"),
        ("0.8 mm mesh", "0.8 millimetres mesh"),
    ],
)
def test_speakable_has_words_instead_of_symbols(written: str, said: str) -> None:
    assert speakable(written) == said


texts = st.text(max_size=700)


@given(garden=texts, title=texts, fix=texts, number=st.integers(0, 5),
       verdict=st.sampled_from(["breach", "caution", "unknown", "clear"]))  # fmt: skip
def test_speak_is_always_short_and_without_symbols(
    garden: str, title: str, fix: str, number: int, verdict: str
) -> None:
    plan = replace(a_plan(), garden=Garden(name=garden))
    report = a_report(*(a_finding(n, title=title, fix=Fix(fix)) for n in range(number)), verdict=verdict)
    said = speak(report, plan, KNOWN)  # type: ignore[arg-type]
    assert 0 < len(said) < 600
    assert not set(said) & set("<>{}[]()*_#=|/\\&%;:\n\t\x1b")


def test_csv_has_one_row_a_finding_and_defuses_formulas() -> None:
    risky = a_finding(title="=1+1", beds=("kiln", "quay"), fix=Fix("@sum"))
    plan = replace(a_plan(), garden=Garden(name="-Row"))
    text = report_csv(a_report(risky, a_finding(2)), plan, KNOWN)  # type: ignore[arg-type]
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["title"] for row in rows] == ["'=1+1", "Cabbage returns to Kiln bed too soon after kale"]
    assert rows[0]["garden"] == "'-Row"
    assert rows[0]["fix"] == "'@sum"
    assert rows[0]["beds"] == "kiln; quay"
    assert rows[0]["sources"] == "Iowa State University Extension; our own judgement"
    assert text.endswith("\r\n")
