"""Judge what grows where: facts, rules and the reasoning over them.

The public names of the package; everything else may change.
"""

from rules.checks.runner import check
from rules.knowledge.known import Knowledge
from rules.knowledge.library import load_knowledge
from rules.knowledge.shapes import KnowledgeError
from rules.model import Plan
from rules.reading import PlanFaults, build_plan
from rules.report import Finding, Report

__all__ = [
    "Finding",
    "Knowledge",
    "KnowledgeError",
    "Plan",
    "PlanFaults",
    "Report",
    "build_plan",
    "check",
    "load_knowledge",
]
