"""Rows judged for a year, and what the outlook says of a bed."""

from tiny_plans import grew, plan_of

from rules import check

SOON, SHORT = "rotation.family-too-soon", "rotation.break-cut-short"
HOST = "disease.host-too-soon"
FILLED = [grew("a", "fallow", str(year)) for year in range(2022, 2027)]


def judged(*rows, year="2027", how=None, **parts):
    return check(plan_of(*rows, judge=year, **parts), **(how or {}))


def seen(bed, day, of="clubroot"):
    return {"bed": bed, "date": day, "of": of}


def outlook(report, bed="a"):
    return next(found for found in report.beds if found.bed == bed)
