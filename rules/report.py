"""The answer: findings in one total order, what was not checked, and each bed's outlook.

Equal plans give equal reports; ``rules.report`` knows nothing of JSON or text.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal, NamedTuple

from rules.model import Window

Severity = Literal["breach", "caution", "advice", "benefit"]
Verdict = Literal["breach", "caution", "unknown", "clear"]
SEVERITIES: tuple[Severity, ...] = ("breach", "caution", "advice", "benefit")

#: A value inside ``Finding.because``: evidence that a reader can recompute.
Evidence = str | int | float | bool | date | None | tuple[str, ...]


class Action(NamedTuple):
    """One change to the plan: move, shift, drop, cover or swap a planting; ``mesh`` of a cover in mm."""

    op: Literal["move", "shift", "drop", "cover", "swap"]
    planting: str
    bed: str | None = None
    start: date | None = None
    with_planting: str | None = None
    mesh: float | None = None


class Fix(NamedTuple):
    """What to do: a sentence, and the changes that make it true (none where none helps)."""

    text: str
    actions: tuple[Action, ...] = ()


#: What a finding's points count towards.
Effect = Literal["pest", "yield", "none"]


def counts_for(rule: str, effect: Effect) -> str:
    """The part of the score that a rule's points count for: what follows what is kept apart from its effect."""
    return "sequence" if rule.startswith("sequence.") else effect


class Grounds(NamedTuple):
    """How strong the evidence is and where it stands."""

    grade: Literal["trial", "guidance", "practice"]
    sources: tuple[str, ...]
    contested_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to know about the judged window."""

    id: str
    rule: str
    severity: Severity
    beds: tuple[str, ...]
    plantings: tuple[str, ...]
    title: str
    why: str
    because: Mapping[str, Evidence]
    fix: Fix
    points: int
    effect: Effect
    evidence: Grounds
    cautions: tuple[str, ...] = ()
    in_window: bool = True


@dataclass(frozen=True, slots=True)
class NotChecked:
    """A check that could not be made, and how often; skipped is not clean."""

    rule: str
    why: str
    count: int
    beds: tuple[str, ...] = ()


class Free(NamedTuple):
    """From which day a family may return: after the least and after the better break."""

    least: date
    better: date


#: "open": no reason on record against it; "never": a disease closes the ground;
#: "unknown": years that matter are not on record.
Outlook = Free | Literal["open", "never", "unknown"]


class Closure(NamedTuple):
    """Crops that a disease keeps out of a bed, and until when (None = never again)."""

    crops: tuple[str, ...]
    until: date | None
    because: str


class BedOutlook(NamedTuple):
    """What is on record for a bed before the judged window and what that leaves free."""

    bed: str
    known_from: int | None
    years_missing: tuple[int, ...]
    free_from: Mapping[str, Outlook]
    closed_to: tuple[Closure, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """The whole answer for one plan."""

    rules_version: str
    rules_digest: str
    overlay: str | None
    as_of: date
    judged: Window
    judged_season: str | None
    verdict: Verdict
    score: Mapping[str, int]
    findings: tuple[Finding, ...]
    not_checked: tuple[NotChecked, ...]
    beds: tuple[BedOutlook, ...]
    seasons_read: Mapping[str, Window] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def at_least(self, severity: Severity) -> Report:
        """The report with only findings of a severity or graver; verdict and score stay those of all."""
        keep = SEVERITIES[: SEVERITIES.index(severity) + 1]
        return replace(self, findings=tuple(f for f in self.findings if f.severity in keep))
