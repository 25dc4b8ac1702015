"""Judge what grows where: facts, rules and the reasoning over them.

The public names of the package; everything else may change.
"""

from rules.checks.runner import check
from rules.knowledge.known import Knowledge
from rules.knowledge.library import load_knowledge
from rules.knowledge.shapes import KnowledgeError
from rules.model import Plan
from rules.pairing.answer import PairAnswer, pairs
from rules.planning.land_ratio import LandRatio, land_equivalent_ratio
from rules.reading import PlanFaults, build_plan
from rules.report import Finding, Report

__all__ = [
    "Finding",
    "Knowledge",
    "KnowledgeError",
    "LandRatio",
    "PairAnswer",
    "Plan",
    "PlanFaults",
    "Report",
    "build_plan",
    "check",
    "land_equivalent_ratio",
    "load_knowledge",
    "pairs",
]
