"""Typed rows read to a plan, or to their faults."""

import pytest
from tiny_plans import TODAY, document, plan_of

from rules import PlanFaults, build_plan, load_knowledge

KNOWLEDGE = load_knowledge()
SOUTH = {"latitude": -37.8}


def faults(*rows, season=None, **parts):
    """The faults of a document as (path, words)."""
    with pytest.raises(PlanFaults) as caught:
        build_plan(document(*rows, **parts), KNOWLEDGE, as_of=TODAY, season=season)
    return [(fault.path, fault.detail) for fault in caught.value.faults]


def only(*rows, **parts):
    found = faults(*rows, **parts)
    assert len(found) == 1, found
    return found[0]


def one(*rows, **parts):
    (planting,) = plan_of(*rows, **parts).plantings
    return planting
