"""The season before: what stood and what was seen in it, and what the rotation says of what follows.

A season is a growing year.  What is set in autumn to stand over winter meets the pests of the
spring after.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from rules.checks import cross_break, family_break, family_repeat
from rules.checks.context import Context
from rules.graphs.stays import is_host
from rules.model import Planting
from rules.report import SEVERITIES, Severity
from rules.seasons import growing_year, growing_year_window

#: A crop set so many days or fewer before a growing year ends, to stand into the next, meets that one's spring.
_HALF_YEAR_DAYS = 184


class Target(NamedTuple):
    """A planting of the judged window and the growing year in whose spring it meets what wintered."""

    planting: Planting
    spring: int


def targets(context: Context) -> dict[str, list[Target]]:
    """By bed, what of the judged window can be a host."""
    found: dict[str, list[Target]] = {}
    for p in context.judged:
        if is_host(p):
            found.setdefault(p.bed, []).append(Target(p, _spring(context, p)))
    return found


def _spring(context: Context, planting: Planting) -> int:
    year = growing_year(planting.start, context.latitude)
    following = growing_year_window(year + 1, context.latitude).start
    over_winter = planting.end >= following and (following - planting.start).days <= _HALF_YEAR_DAYS
    return year + 1 if over_winter else year


def stood_before(context: Context, bed: str, spring: int) -> list[Planting]:
    """What ended in a bed in the season before a spring, or stood into it."""
    known = context.once(_known)
    if (bed, spring) not in known:
        begins, year_of = growing_year_window(spring, context.latitude).start, context.year_of
        known[bed, spring] = [
            p for p in context.own[bed] if p.start < begins and year_of(p.end) >= spring - 1 and is_host(p)
        ]
    return known[bed, spring]


def _known(context: Context) -> dict[tuple[str, int], list[Planting]]:
    return {}


def seen_before(context: Context, target: Target, days: Iterable[date]) -> list[date]:
    """The days of sightings in the season before a planting's spring, and before it was set."""
    return [
        day for day in days if growing_year(day, context.latitude) == target.spring - 1 and day < target.planting.start
    ]


def seen_by_bed(context: Context) -> dict[str, dict[str, list[date]]]:
    """The days on which pests were seen, or took a crop, by bed and pest, since the bed's last new soil."""
    pests = context.knowledge.pests
    events = [(s.bed, s.of, s.date) for s in context.plan.sightings if s.of in pests]
    events += [
        (p.bed, p.cause, p.end) for p in context.plan.plantings if p.status == "lost" and p.cause and p.cause in pests
    ]
    found: dict[str, dict[str, list[date]]] = {}
    for bed, name, day in sorted(events):
        fresh = context.grounds[bed].fresh_from
        if fresh is None or day >= fresh:
            found.setdefault(bed, {}).setdefault(name, []).append(day)
    return found


def _rotation(context: Context) -> dict[str, int]:
    """The gravest that the rotation says of each planting, as its place in ``SEVERITIES``."""
    checks = (
        ("family-break", family_break.check),
        ("family-repeat", family_repeat.check_repeat),
        ("cross-break", cross_break.check),
    )
    found: dict[str, int] = {}
    for kind, check in checks:
        for rule in context.knowledge.by_kind.get(kind, ()):
            rank = SEVERITIES.index(rule.severity)
            for hit in context.hits(check, rule):
                for p in hit.plantings:
                    found[p.id] = min(rank, found.get(p.id, rank))
    return found


def told(context: Context, planting: Planting, severity: Severity) -> bool:
    """True where the rotation says something of a planting that is as grave or graver."""
    rank = SEVERITIES.index(severity)
    return context.once(_rotation).get(planting.id, len(SEVERITIES)) <= rank
