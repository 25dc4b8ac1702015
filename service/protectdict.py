"""The protection plan and the tasks as plain values; ``service.schemas.planning`` documents the same shape."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rules.knowledge.known import Knowledge
from rules.model import Plan, Window
from rules.planning.care import CropCare, Guard, Measure, Protection, Wait
from rules.planning.tasks import Task


def protect_dict(found: Protection, knowledge: Knowledge) -> dict[str, Any]:
    """The protection plan, crops in order of their first day, measures with the least harm first."""
    return {
        "from": found.window.start.isoformat(),
        "to": found.window.end.isoformat(),
        "crops": [_care(care) for care in found.crops],
        "ladder": [_measure(measure) for measure in found.ladder],
        "waits": [_wait(wait) for wait in found.waits],
        "cautions": [
            {"id": key, "text": knowledge.cautions[key].text, "defer_to": knowledge.cautions[key].defer_to}
            for key in found.cautions
        ],
    }


def tasks_dict(found: Iterable[Task], window: Window, plan: Plan) -> dict[str, Any]:
    """The tasks of a span of days."""
    return {
        "garden": plan.garden.name,
        "from": window.start.isoformat(),
        "to": window.end.isoformat(),
        "tasks": [
            {
                "key": task.key,
                "kind": task.kind,
                "day": task.day.isoformat(),
                "every_days": task.every,
                "until": task.until.isoformat() if task.until else None,
                "title": task.title,
                "note": task.note,
            }
            for task in found
        ],
    }


def _care(care: CropCare) -> dict[str, Any]:
    return {
        "crop": care.crop.id,
        "name": care.crop.plural,
        "plantings": [p.id for p in care.plantings],
        "beds": list(dict.fromkeys(p.bed for p in care.plantings)),
        "expected": [
            {
                "pest": one.pest.id,
                "name": one.pest.name,
                "risk": one.level,
                "reasons": list(one.reasons),
                "any_soil": one.any_soil,
                "season": one.pest.season,
                "stage": one.pest.susceptible_stage,
            }
            for one in care.expected
        ],
        "animals": [pest.id for pest in care.animals],
        "cover": _guard(care.guard) if care.guard is not None else None,
        "thresholds": [
            {
                "id": threshold.id,
                "pests": sorted(threshold.pests),
                "stage": threshold.stage,
                "for": threshold.grower,
                "views": [{"at": view.at, "sources": list(view.sources)} for view in threshold.views],
            }
            for threshold in care.thresholds
        ],
    }


def _guard(guard: Guard) -> dict[str, Any]:
    return {
        "planned": [{"bed": cover.bed, "kind": cover.kind, "from": cover.start.isoformat()} for cover in guard.planned],
        "kept_out": [pest.id for pest in guard.kept_out],
        "mesh_mm": guard.mesh_mm,
        "pests": [pest.id for pest in guard.pests],
        "on": guard.on.isoformat() if guard.on else None,
        "open_from": guard.open_from.isoformat() if guard.open_from else None,
        "open_known": guard.flower_known,
        "trap": [pest.id for pest in guard.trap],
        "trap_beds": list(guard.trap_beds),
    }


def _measure(measure: Measure) -> dict[str, Any]:
    control = measure.control
    return {
        "control": control.id,
        "name": control.name,
        "step": control.step,
        "kind": control.kind,
        "pests": [pest.id for pest in measure.pests],
        "crops": [crop.id for crop in measure.crops],
        "when": control.when,
        "how": control.how,
        "reapply": control.reapply,
        "before_harvest": control.before_harvest,
        "conditions": list(control.conditions),
        "weak": control.weak_text,
        "mind": dict(control.mind),
        "grade": control.grade,
        "evidence": control.evidence,
        "sources": list(control.sources.get("evidence", ())),
        "cautions": list(control.cautions),
    }


def _wait(wait: Wait) -> dict[str, Any]:
    return {
        "bed": wait.treatment.bed,
        "plantings": [p.id for p in wait.plantings],
        "active": wait.treatment.active,
        "date": wait.treatment.date.isoformat(),
        "until": wait.until.isoformat() if wait.until else None,
    }
