"""Small tables: aligned columns for a terminal, and a report as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan
    from rules.report import Report

GAP = "  "
CSV_HEADER = (
    "garden",
    "verdict",
    "severity",
    "rule",
    "beds",
    "plantings",
    "title",
    "fix",
    "sources",
)
#: A spreadsheet runs a cell that begins so as a formula.
RISKY = ("=", "+", "-", "@", "\t", "\r")


def _row_lines(cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    """The printed lines of one row; a cell may hold several lines."""
    split = [cell.split("\n") for cell in cells]
    height = max(len(lines) for lines in split)
    out = []
    for at in range(height):
        parts = (lines[at] if at < len(lines) else "" for lines in split)
        out.append(GAP.join(part.ljust(wide) for part, wide in zip(parts, widths, strict=True)).rstrip())
    return out


def columns(header: Sequence[str], rows: Sequence[Sequence[str]], *, rule: bool = True) -> list[str]:
    """Lines of one table with left-aligned columns, under a ruled header."""
    widths = [max(len(line) for row in (header, *rows) for line in row[at].split("\n")) for at in range(len(header))]
    lines = _row_lines(header, widths)
    if rule:
        lines.append(GAP.join("-" * wide for wide in widths))
    for row in rows:
        lines.extend(_row_lines(row, widths))
    return lines


def blocks(header: Sequence[str], rows: Sequence[Sequence[str]], *, width: int, keep: int) -> list[list[str]]:
    """The table cut into blocks of at most ``width`` characters.

    Each block repeats the first ``keep`` columns; a block holds at least one other column,
    so only a cell that is itself too wide can pass ``width``.
    """
    if not rows or len(header) <= keep:
        return []
    widths = [max(len(line) for row in (header, *rows) for line in row[at].split("\n")) for at in range(len(header))]
    fixed = sum(widths[:keep]) + len(GAP) * (keep - 1)
    groups: list[list[int]] = []
    room = 0
    for at in range(keep, len(header)):
        need = len(GAP) + widths[at]
        if not groups or need > room:
            groups.append([])
            room = width - fixed
        groups[-1].append(at)
        room -= need
    out = []
    for group in groups:
        picked = [*range(keep), *group]
        out.append(columns([header[at] for at in picked], [[row[at] for at in picked] for row in rows]))
    return out


def defused(cell: str) -> str:
    """The cell with an apostrophe before anything that a spreadsheet would run."""
    return "'" + cell if cell.startswith(RISKY) else cell


def report_csv(report: Report, plan: Plan, knowledge: Knowledge) -> str:
    """The report as CSV (RFC 4180), one row a finding; lists are joined by "; "."""
    from service.words import publishers

    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_HEADER)
    for finding in report.findings:
        row = (
            plan.garden.name,
            report.verdict,
            finding.severity,
            finding.rule,
            "; ".join(finding.beds),
            "; ".join(finding.plantings),
            finding.title,
            finding.fix.text,
            "; ".join(publishers(finding.evidence.sources, knowledge)),
        )
        writer.writerow([defused(cell) for cell in row])
    return out.getvalue()
