"""Reports built by hand, and their text."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from rules.knowledge.facts import Caution, Crop, Disease, Family, Source
from rules.model import Bed, Garden, Plan, Planting, Window
from rules.report import BedOutlook, Closure, Finding, Fix, Free, Grounds, NotChecked, Report
from service.text import report_text

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
