"""What was done to the soil of each bed, the ground that it took over from earlier beds included."""

from __future__ import annotations

from rules.checks.context import Context
from rules.model import Amendment


def amendments(context: Context) -> dict[str, list[Amendment]]:
    """Amendments by bed, oldest first; what lies before the last new soil is gone with the old."""
    done: dict[str, list[Amendment]] = {}
    for amendment in context.plan.amendments:
        done.setdefault(amendment.bed, []).append(amendment)
    if not done:
        return {}
    found: dict[str, list[Amendment]] = {}
    for bed in context.plan.beds:
        here = _of(context, bed.id, done)
        fresh = context.grounds[bed.id].fresh_from
        kept = [a for a in here if fresh is None or a.date >= fresh]
        if kept:
            found[bed.id] = sorted(kept, key=lambda a: (a.date, a.kind, a.bed))
    return found


def _of(context: Context, bed_id: str, done: dict[str, list[Amendment]]) -> list[Amendment]:
    bed = context.beds[bed_id]
    here = list(done.get(bed_id, ()))
    for replaced in bed.replaces:
        until = replaced.end or bed.start
        here += [
            a
            for a in _of(context, replaced.bed, done)
            if (until is None or a.date <= until) and (replaced.start is None or a.date >= replaced.start)
        ]
    return list(dict.fromkeys(here))
