"""Rows in beds a metre or many apart, and what is told of their shared pests."""

from tiny_plans import grew, plan_of

from rules import check, load_knowledge

KNOWLEDGE = load_knowledge()
SPRING, AUTUMN = "2027-04-20", "2027-09-30"


GROUPED, SHARED = "hosts.relatives-grouped", "hosts.shared-pest"


CLOSE, SEEN_NEAR, SEEN_HERE = "hosts.near-last-bed", "hosts.pest-seen-nearby", "hosts.pest-seen-here"


def stands(bed, crop, start=SPRING, end=AUTUMN, **rest):
    return grew(bed, crop, start, end, id=rest.pop("id", f"{bed}-{crop}"), **rest)


def place(name, x, y=0, **rest):
    return {"id": name, "length": 300, "width": 100, "position": (float(x), float(y)), **rest}


ROW = [place(name, 4 * n) for n, name in enumerate("abcdef")]  # gaps of 1 m
FAR = [place(name, 0, 12 * n) for n, name in enumerate("abcdef")]


def report_of(*rows, **parts):
    return check(plan_of(*rows, judge="2027", **parts))


def found(rule, *rows, **parts):
    return [finding for finding in report_of(*rows, **parts).findings if finding.rule == rule]
