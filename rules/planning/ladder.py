"""The ladder of measures: what to do against the pests that are expected, least harm first."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rules.knowledge.facts import Control, Crop, Pest
from rules.knowledge.known import Knowledge
from rules.knowledge.pestshapes import STEPS
from rules.planning.care import MIDDLING, CropCare, Expected, Measure

_RUNGS = tuple(STEPS)
#: Told nowhere.
_NEVER = "not_recommended"
#: Kinds of measure that do the same work; any other kind stands for itself.
_ALIKE = {"exclude": "keep off", "remove": "keep off", "dust": "keep off"}
#: Kinds that are told only against a pest with a reason in this garden, not for what lives in any soil.
_FOR_CAUSE = ("spray", "dust")


def ladder(cares: Sequence[CropCare], knowledge: Knowledge) -> Iterable[Measure]:
    """Each control once, least harm first, for the pests of middling and high risk.

    Among measures of one kind the one that serves most pests comes first, and another is told
    only if it serves a pest that has none yet.  A barrier is told for every bird and beast that
    eats something here.
    """
    pests: dict[str, dict[str, Pest]] = {}
    crops: dict[str, dict[str, Crop]] = {}
    for care in cares:
        wanted = {one.pest.id: one for one in care.expected if one.risk >= MIDDLING}
        for pest in dict.fromkeys((*(one.pest for one in wanted.values()), *care.animals)):
            for control in knowledge.controls_of(pest.id):
                if _fits(control, wanted.get(pest.id)):
                    pests.setdefault(control.id, {})[pest.id] = pest
                    crops.setdefault(control.id, {})[care.crop.id] = care.crop
    found = [
        Measure(knowledge.controls[name], tuple(served.values()), tuple(crops[name].values()))
        for name, served in pests.items()
    ]
    served_by: dict[str, set[str]] = {}
    for measure in sorted(found, key=_least_harm_first):
        served_here = served_by.setdefault(_ALIKE.get(measure.control.kind, measure.control.kind), set())
        if not served_here.issuperset(pest.id for pest in measure.pests):
            served_here.update(pest.id for pest in measure.pests)
            yield measure


def _least_harm_first(measure: Measure) -> tuple[int, bool, int, str]:
    control = measure.control
    return _RUNGS.index(control.step), control.kind in _FOR_CAUSE, -len(measure.pests), control.id


def _fits(control: Control, expected: Expected | None) -> bool:
    """Whether a control is worth telling against a pest; None for an animal of low risk."""
    if control.step == _NEVER:
        return False
    if expected is None:
        return control.kind == "exclude"
    return expected.for_cause or control.kind not in _FOR_CAUSE
