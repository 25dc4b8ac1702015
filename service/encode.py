"""From a Report to plain values and to bytes, in the order that the report format gives.

Written by hand because it runs once for each answer: a schema dump of the same report takes
many times as long.  ``service.schemas.report`` documents the same shape, and a test holds
the two together.  Nothing here knows of HTTP.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date
from typing import Any

from rules.model import Window
from rules.report import Action, BedOutlook, Closure, Finding, Free, Outlook, Report

try:
    import orjson
except ImportError:  # the extra "fast" is not installed
    orjson = None  # type: ignore[assignment]

FORMAT = 1


def report_dict(report: Report) -> dict[str, Any]:
    """The report as plain values, keys in the order of the format."""
    return {
        "format": FORMAT,
        "rules": {
            "version": report.rules_version,
            "digest": report.rules_digest,
            "overlay": report.overlay,
        },
        "as_of": report.as_of.isoformat(),
        "judged": {**_window(report.judged), "season": report.judged_season},
        "seasons_read": {word: _window(window) for word, window in report.seasons_read.items()},
        "verdict": report.verdict,
        "score": dict(report.score),
        "findings": [_finding(one) for one in report.findings],
        "not_checked": [
            {"rule": one.rule, "why": one.why, "count": one.count, "beds": list(one.beds)} for one in report.not_checked
        ],
        "beds": [_bed(bed) for bed in report.beds],
        "notes": list(report.notes),
    }


def to_bytes(value: Any) -> bytes:
    """A plain value as compact JSON in UTF-8, keys in their own order."""
    if orjson is not None:
        return orjson.dumps(value)
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def _window(window: Window) -> dict[str, str]:
    return {"from": window.start.isoformat(), "to": window.end.isoformat()}


def _finding(one: Finding) -> dict[str, Any]:
    evidence = one.evidence
    return {
        "id": one.id,
        "rule": one.rule,
        "severity": one.severity,
        "beds": list(one.beds),
        "plantings": list(one.plantings),
        "title": one.title,
        "why": one.why,
        "because": _because(one.because),
        "fix": {"text": one.fix.text, "actions": [_action(action) for action in one.fix.actions]},
        "points": one.points,
        "effect": one.effect,
        "evidence": {
            "grade": evidence.grade,
            "sources": list(evidence.sources),
            "contested_by": list(evidence.contested_by),
        },
        "cautions": list(one.cautions),
    }


def _because(because: Mapping[str, Any]) -> dict[str, Any]:
    plain: dict[str, Any] = {}
    for key, value in because.items():
        if isinstance(value, date):
            plain[key] = value.isoformat()
        else:
            plain[key] = list(value) if isinstance(value, tuple) else value
    return plain


def _action(action: Action) -> dict[str, Any]:
    plain: dict[str, Any] = {"op": action.op, "planting": action.planting}
    if action.bed is not None:
        plain["bed"] = action.bed
    if action.start is not None:
        plain["start"] = action.start.isoformat()
    if action.with_planting is not None:
        plain["with"] = action.with_planting
    if action.mesh is not None:
        plain["mesh"] = action.mesh
    return plain


def _bed(bed: BedOutlook) -> dict[str, Any]:
    return {
        "bed": bed.bed,
        "known_from": bed.known_from,
        "years_missing": list(bed.years_missing),
        "free_from": {family: _outlook(outlook) for family, outlook in bed.free_from.items()},
        "closed_to": [_closure(closure) for closure in bed.closed_to],
    }


def _outlook(outlook: Outlook) -> str | dict[str, str]:
    if isinstance(outlook, Free):
        return {"least": outlook.least.isoformat(), "better": outlook.better.isoformat()}
    return outlook


def _closure(closure: Closure) -> dict[str, Any]:
    until = None if closure.until is None else closure.until.isoformat()
    return {"crops": list(closure.crops), "until": until, "because": closure.because}
