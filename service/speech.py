"""The short answer: a verdict and the worst findings in sentences that can be read aloud."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from rules.report import SEVERITIES, Finding, Report
from service.words import as_date, as_season, as_span, capital, tally

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan

#: The most characters of an answer: "under 600".
SPOKEN = 599
#: What a voice has no room to read out goes with the findings, in full, in every other form.
CAUTIONS = "Read the cautions in the full report first."
#: What a voice stumbles over, and what to say instead; in this order.
SPEAKABLE = (
    (re.compile(r"\b(\d{4})-(\d\d)-(\d\d)\b"), lambda m: _spoken_date(m)),
    (re.compile(r"(?<=\d)\s*(?:-|\u2013)\s*(?=\d)"), " to "),
    (re.compile(r"(?<=\d)\s*\u00b0\s*C\b"), " degrees Celsius"),
    (re.compile(r"(?<=\d)\s*\u00b0\s*F\b"), " degrees Fahrenheit"),
    (re.compile(r"(?<=\d)\s*L/h\b"), " litres an hour"),
    (re.compile(r"(?<=\d)\s*mm\b"), " millimetres"),
    (re.compile(r"(?<=\d)\s*cm\b"), " centimetres"),
    (re.compile(r"(?<=\d)\s*m\b"), " metres"),
    (re.compile(r"(?<=\d)\s*ft\b"), " feet"),
    (re.compile(r"\s*%"), " percent"),
    (re.compile(r"\s*&\s*"), " and "),
    (re.compile(r"\s*\+\s*"), " plus "),
    (re.compile(r"(?<=\w)/(?=\w)"), " or "),
    (re.compile(r"\s*(?:[;:(\[\u2013\u2014]|\s-\s|\)(?=\s*\w))\s*"), ", "),
    (re.compile(r"[^\w\s.,?!'\u2019-]|_"), " "),
    (re.compile(r"\s+"), " "),
    (re.compile(r"\s+(?=[.,?!])"), ""),
    (re.compile(r",+(?=[.,?!])"), ""),
)


def _spoken_date(found: re.Match[str]) -> str:
    try:
        return as_date(date(*(int(part) for part in found.groups())))
    except ValueError:
        return found.group()


def speakable(text: str) -> str:
    """The text without symbols: dates, ranges and units in words."""
    for pattern, said in SPEAKABLE:
        text = pattern.sub(said, text)
    return text.strip(" ,")


def sentence(text: str, most: int) -> str:
    """A speakable sentence of at most ``most`` characters, cut after a whole word."""
    said = capital(speakable(text)).rstrip(".,")
    if len(said) + 1 > most:
        said = said[: most - 1].rsplit(" ", 1)[0].rstrip(" .,")
    return said if said.endswith("?") else said + "."


def speak(report: Report, plan: Plan, knowledge: Knowledge) -> str:
    """The verdict and the three worst findings with their fix, in under 600 characters."""
    garden = sentence(plan.garden.name, 60).rstrip(".")
    season = as_season(report.judged_season) if report.judged_season else as_span(report.judged)
    worst = sorted(
        (one for one in report.findings if one.in_window and one.severity != "benefit"),
        key=lambda one: SEVERITIES.index(one.severity),
    )
    opening = f"{garden}, {speakable(season)}. " + _spoken_verdict(report, worst)
    parts = [(one.title, one.fix.text) for one in worst[:3]]
    closing = [CAUTIONS] if any(one.cautions for one in worst[:3]) else []
    # Fixes go first, from the least of the three up; then whole findings.
    for fixes in range(len(parts), 0, -1):
        tail = [
            sentence(title, 200) + (" " + sentence(fix, 300) if fix and at < fixes else "")
            for at, (title, fix) in enumerate(parts)
        ]
        said = " ".join([opening, *tail, *closing])
        if len(said) <= SPOKEN:
            return said
    if not parts:
        return opening[:SPOKEN]
    title, last = sentence(parts[0][0], 160), " ".join(["", *closing])
    room = SPOKEN - len(opening) - len(title) - len(last) - 2
    return f"{opening} {title} {sentence(parts[0][1], min(room, 200))}".rstrip(" .") + "." + last


def _spoken_verdict(report: Report, worst: Sequence[Finding]) -> str:
    if report.verdict == "clear":
        return "Nothing against the plan on record." + (f" {_counted(worst)}." if worst else "")
    if report.verdict == "unknown":
        if not report.not_checked:
            return "Nothing is planned then, so there was nothing to judge."
        return f"Nothing found, but this is not certain. {sentence(report.not_checked[0].why, 200)}"
    return f"{_counted(worst)}."


def _counted(findings: Sequence[Finding]) -> str:
    """ "2 findings break a rule and 1 is advice"."""
    number, _, rest = tally(findings).partition(" ")
    return f"{number} {'finding' if number == '1' else 'findings'} {rest}"
