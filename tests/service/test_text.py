"""The report in words, from reports built by hand: every line fits, everything is said once."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass, field, replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.knowledge.facts import Caution, Crop, Disease, Family, Source
from rules.model import Bed, Garden, Plan, Planting, Window
from rules.report import BedOutlook, Closure, Finding, Fix, Free, Grounds, NotChecked, Report
from service.speech import speakable
from service.tables import blocks, report_csv
from service.text import report_text, speak
from service.words import as_date, as_list, as_month, as_season

YEAR = Window(date(2027, 1, 1), date(2027, 12, 31))
FAMILIES = {
    "Brassicaceae": "cabbage family",
    "Amaryllidaceae": "onion family",
    "Solanaceae": "nightshade family",
    "Fabaceae": "pea family",
    "Cucurbitaceae": "cucumber family",
    "Apiaceae": "carrot family",
    "Amaranthaceae": "beet family",
    "Asteraceae": "daisy family",
    "Convolvulaceae": "morning glory family",
    "Poaceae": "grass family",
}


@dataclass
class Known:
    """Only what the text needs of the knowledge."""

    families: dict[str, Family] = field(
        default_factory=lambda: {
            key: Family(key, name, None, 1, 2, None, None, None, {}) for key, name in FAMILIES.items()
        }
    )
    crops: dict[str, Crop] = field(
        default_factory=lambda: {
            "leek": Crop("leek", "leek", "leeks", "Amaryllidaceae", "vegetable",
                         families=("Amaryllidaceae",)),
            "cabbage": Crop("cabbage", "cabbage", "cabbages", "Brassicaceae", "vegetable",
                            families=("Brassicaceae",)),
        }
    )  # fmt: skip
    groups: dict[str, Crop] = field(default_factory=dict)
    diseases: dict[str, Disease] = field(default_factory=dict)
    sources: dict[str, Source] = field(
        default_factory=lambda: {
            "iowa": Source("iowa", "Iowa State University Extension", "Rotation", None, None, None),
            "iowa_2": Source("iowa_2", "Iowa State University Extension", "Another page", None, None, None),
            "rhs": Source("rhs", "Royal Horticultural Society", "Advice", None, None, None),
        }
    )
    cautions: dict[str, Caution] = field(
        default_factory=lambda: {
            "label": Caution("label", "Use a product only as its label says.", "the product label", ("iowa",)),
            "net": Caution("net", "Look a net over daily.", "the wildlife agency", ("iowa",)),
        }
    )


KNOWN = Known()


def a_finding(number: int = 1, **changes: object) -> Finding:
    values = {
        "id": f"f{number}",
        "rule": "rotation.family-too-soon",
        "severity": "breach",
        "beds": ("kiln",),
        "plantings": ("p1",),
        "title": "Cabbage returns to Kiln bed too soon after kale",
        "why": "What lives on the cabbage family in the soil needs two years without it to starve.",
        "because": {"ended": date(2025, 10, 31), "least": 2},
        "fix": Fix("Put it in Quay bed, or wait until November 2027."),
        "points": 0,
        "effect": "none",
        "evidence": Grounds("guidance", ("iowa", "iowa_2", "judgement"), ("rhs",)),
    } | changes
    return Finding(**values)  # type: ignore[arg-type]


def a_plan() -> Plan:
    cabbage, leek = KNOWN.crops["cabbage"], KNOWN.crops["leek"]
    return Plan(
        as_of=date(2026, 11, 20),
        judge=YEAR,
        judged_season="2027",
        garden=Garden(name="Tannery Row Plots"),
        beds=(
            Bed("sluice", "Sluice bed"),
            Bed("kiln", "Kiln bed"),
            Bed("quay", "Quay bed"),
            Bed("vat", "Vat house"),
            Bed("bark", "Bark tub"),
            Bed("old", "Old kiln bed", end=date(2025, 1, 31)),
        ),
        plantings=(
            Planting("p1", "kiln", cabbage, date(2027, 4, 20), date(2027, 9, 30)),
            Planting("p2", "quay", leek, date(2027, 6, 1), date(2027, 12, 1)),
            Planting("p3", "sluice", leek, date(2027, 6, 1), date(2027, 12, 1)),
            Planting("p4", "vat", cabbage, date(2027, 6, 1), date(2027, 12, 1)),
        ),
    )


def a_report(*findings: Finding, **changes: object) -> Report:
    free = Free(date(2027, 11, 1), date(2028, 11, 1))
    values = {
        "rules_version": "2026.1",
        "rules_digest": "abc",
        "overlay": None,
        "as_of": date(2026, 11, 20),
        "judged": YEAR,
        "judged_season": "2027",
        "verdict": findings[0].severity if findings else "clear",
        "score": {},
        "findings": findings,
        "not_checked": (NotChecked("space.overcrowded", "bed vat has no width", 2, ("vat",)),),
        "beds": (
            BedOutlook("sluice", 2023, (), dict.fromkeys(FAMILIES, "open"), ()),
            BedOutlook("kiln", 2023, (), dict.fromkeys(FAMILIES, "open") | {"Brassicaceae": free}, ()),
            BedOutlook("quay", 2023, (), dict.fromkeys(FAMILIES, "open") | {"Amaryllidaceae": "never"},
                       (Closure(("leek", "sea_leek"), None, "allium_white_rot"),
                        Closure(("cabbage",), date(2030, 9, 1), "clubroot"))),
            BedOutlook("vat", 2025, (2024,), dict.fromkeys(FAMILIES, "unknown") | {"Poaceae": "open"}, ()),
        ),
        "seasons_read": {"2027-spring": Window(date(2027, 3, 1), date(2027, 5, 31))},
        "notes": ("No latitude is given, so seasons are read as in the north.",),
    } | changes  # fmt: skip
    return Report(**values)  # type: ignore[arg-type]


def text_of(report: Report, **options: object) -> str:
    return report_text(report, a_plan(), KNOWN, **options)  # type: ignore[arg-type]


def flat(text: str) -> str:
    return " ".join(text.split())


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
