"""What the report tells of the order of crops in a bed."""

from __future__ import annotations

PEAS_FIRST = "sequence.brassicas-after-legumes"
COVER, HUNGRY, ROOTS = "sequence.cover-between-crops", "sequence.heavy-after-heavy", "sequence.root-after-root"
RYE, GRASS = "sequence.small-seeds-soon-after-rye", "sequence.roots-soon-after-grass"


def order(report):
    """The findings about order: (rule, plantings)."""
    return [(f.rule, f.plantings) for f in report.findings if f.rule.startswith("sequence.")]


def rules_in(report):
    return [rule for rule, _ in order(report)]


def finding(report, rule):
    (found,) = [f for f in report.findings if f.rule == rule]
    return found
