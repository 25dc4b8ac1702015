"""The report in words, from reports built by hand: every line fits, everything is said once."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from made_report import a_finding, a_report, flat, text_of

from rules.report import Fix, Grounds
from service.words import as_date, as_list, as_month, as_season


def test_dates_lists_and_seasons_read_as_spoken_english() -> None:
    assert as_date(date(2027, 11, 1)) == "1 November 2027"
    assert as_month(date(2027, 11, 1)) == "November 2027"
    assert as_list(["a", "b", "c"]) == "a, b and c"
    assert (as_list(["a"]), as_list([])) == ("a", "")
    assert (as_season("2027-spring"), as_season("2027")) == ("spring 2027", "season 2027")


def test_head_names_garden_window_verdict_and_rule_set() -> None:
    text = flat(text_of(a_report(a_finding())))
    assert "Tannery Row Plots" in text
    assert "season 2027, 1 January 2027 to 31 December 2027, seen from 20 November 2026" in text
    assert "breach - something planned breaks a rule" in text
    assert "rule set 2026.1" in text
    assert "changed by club.yaml" in flat(text_of(a_report(overlay="club.yaml")))


def test_the_same_why_and_fix_are_told_once_and_then_pointed_to() -> None:
    text = flat(
        text_of(a_report(a_finding(1), a_finding(2, beds=("quay",), title="Leeks return to Quay bed too soon")))
    )
    assert text.count("What lives on the cabbage family") == 1
    assert "Breach: Leeks return to Quay bed too soon Why, fix: as above, under Kiln bed." in text
    other = a_finding(2, beds=("quay",), fix=Fix("Wait."))
    assert text_of(a_report(a_finding(1), other)).count("Why, fix:") == 0


def test_other_beds_are_told_unless_the_title_names_them_all() -> None:
    named = a_finding(beds=("kiln", "quay"), title="Leeks in Kiln bed and Quay bed")
    assert "also:" not in text_of(a_report(named))
    assert "also: Quay bed." in text_of(a_report(replace(named, title="Leeks in Kiln bed")))


def test_a_caution_is_told_in_full_once_and_then_by_its_number() -> None:
    report = a_report(
        a_finding(1, cautions=("net",)),
        a_finding(2, cautions=("label", "net")),
        a_finding(3, beds=("quay",), cautions=("net", "label")),
        a_finding(4, beds=("vat",)),
    )
    said = [part.split(" Vat house")[0] for part in flat(text_of(report)).split("Caution: ")[1:]]
    net, label = "Look a net over daily. Defer to: the wildlife agency.", "Use a product only as its label says. Defer"
    assert said[0].startswith(f"[1] {net}")
    assert said[1].startswith(f"[2] {label}")
    assert said[2].startswith("[1] as above.")
    assert said[3].startswith("[1] and [2] as above.")
    assert len(said) == 4


def test_a_finding_shows_severity_title_why_fix_and_honest_evidence() -> None:
    text = flat(text_of(a_report(a_finding(cautions=("label",)))))
    assert "Breach: Cabbage returns to Kiln bed too soon after kale" in text
    assert "Why: What lives on the cabbage family" in text
    assert "Fix: Put it in Quay bed, or wait until November 2027." in text
    assert (
        "Evidence: Published guidance: Iowa State University Extension. In part: our own judgement. "
        "Contested by Royal Horticultural Society." in text
    )
    assert "Caution: Use a product only as its label says. Defer to: the product label." in text


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        (("memory",), "Published guidance: known from memory, no page was read for it."),
        (("rhs", "memory"), "In part: known from memory, no page was read for it."),
        (("common practice",), "common practice without a published source."),
    ],
)
def test_what_was_not_read_is_not_dressed_up_as_a_publication(keys: tuple[str, ...], said: str) -> None:
    assert said in flat(text_of(a_report(a_finding(evidence=Grounds("guidance", keys)))))


def test_practice_is_told_as_no_trial() -> None:
    text = flat(text_of(a_report(a_finding(evidence=Grounds("practice", ("rhs",))))))
    assert "growers' practice, not measured in trials: Royal Horticultural Society" in text.replace(
        "Growers", "growers"
    )


def test_a_finding_of_two_beds_stands_once_under_the_first_in_plan_order() -> None:
    text = text_of(a_report(a_finding(beds=("quay", "kiln"))))
    assert text.count("too soon after kale") == 1
    assert "Kiln bed\n--------\nBreach:" in text
    assert "also: Quay bed." in text
    assert "Quay bed: Nothing" not in text
