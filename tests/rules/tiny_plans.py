"""Short ways to write plans for the tests of ``rules``: rows as a schema would hand them over."""

from datetime import date

from rules import build_plan, load_knowledge

TODAY = date(2026, 11, 20)
_ROW_DATES = ("start", "end", "first_harvest", "date", "from", "until", "open_by_day_from", "to")


def typed(row):
    """A row with its date words made dates and its part a pair."""
    made = dict(row)
    for key in _ROW_DATES:
        if isinstance(made.get(key), str):
            made[key] = date.fromisoformat(made[key])
    if "part" in made:
        made["part"] = tuple(float(edge) for edge in made["part"])
    if "replaces" in made and not isinstance(made["replaces"], str):
        made["replaces"] = [typed(older) for older in made["replaces"]]
    return made


def grew(bed, crop, when, end=None, **rest):
    """A planting row; ``when`` is a season word or the day it was set."""
    row = {"bed": bed, "crop": crop, ("start" if when.count("-") == 2 else "season"): when, **rest}
    return row if end is None else {**row, "end": end}


def document(*plantings, **parts):
    """A typed plan document; other parts are lists of rows or the garden."""
    made = {"plantings": [typed(row) for row in plantings]}
    for key, value in parts.items():
        if key == "beds":
            made[key] = [{"id": bed} if isinstance(bed, str) else typed(bed) for bed in value]
        elif isinstance(value, list | tuple):
            made[key] = [typed(row) for row in value]
        else:
            made[key] = typed(value)
    return made


def plan_of(*plantings, judge=None, as_of=TODAY, knowledge=None, **parts):
    """A plan; ``judge`` is a season word (the latest growing year where None)."""
    return build_plan(document(*plantings, **parts), knowledge or load_knowledge(), as_of=as_of, season=judge)


def told(report):
    """The findings of a report in short: (rule, plantings)."""
    return [(finding.rule, finding.plantings) for finding in report.findings]


def grave(report):
    """Breaches and cautions of a report as a set of (rule, planting)."""
    return {(f.rule, p) for f in report.findings if f.severity in ("breach", "caution") for p in f.plantings}
