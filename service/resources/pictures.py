"""Pictures of a stored garden: the map of its beds and their timeline."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Response

import rules
from service.hooks import policy
from service.negotiate import SVG
from service.openapi_doc import describe, problems
from service.pictures import map_svg, style_source, timeline_svg
from service.pictures.asked import map_day
from service.resources.door import ALWAYS, SECURITY, RecordBlueprint
from service.resources.planning import refuse
from service.resources.recorded import Seen, derived, plan_of, seen
from service.schemas.pictures import MapQuery, TimelineQuery
from service.state import knowledge

pictures = RecordBlueprint("pictures", __name__, description="Pictures of a stored garden.")

_PICTURE = pictures.alt_response(
    200, schema={"type": "string"}, content_type=SVG, description="The picture.", success=True
)
_DOCUMENTED = describe(_PICTURE, *problems(pictures, *sorted({304, 400, 409, 422, 429, *ALWAYS})))


@pictures.route("/v1/gardens/<garden>/map.svg")
@pictures.arguments(MapQuery(), location="query")
@pictures.doc(operationId="drawMap", security=SECURITY)
@_DOCUMENTED
def draw_map(query: dict[str, Any], garden: str) -> Response:
    """Draw a garden's beds

    To scale, with what stands in them on a day; families by pattern, letters and colour, findings
    marked. Title and description tell the same in words.
    """
    there, season = seen(garden, "publishable_read"), query.get("season")

    def drawn() -> str:
        plan = plan_of(there, season)
        day, faults = map_day(plan, query.get("day"), season)
        refuse(faults)
        return map_svg(plan, rules.check(plan, knowledge()), knowledge(), day=day)

    return _drawn(there, drawn)


@pictures.route("/v1/gardens/<garden>/timeline.svg")
@pictures.arguments(TimelineQuery(), location="query")
@pictures.doc(operationId="drawTimeline", security=SECURITY)
@_DOCUMENTED
def draw_timeline(query: dict[str, Any], garden: str) -> Response:
    """Draw a garden's years

    What stood and will stand in each bed, years without a record, and when a family may return.
    """
    there = seen(garden, "publishable_read")

    def drawn() -> str:
        plan = plan_of(there, query.get("season"))
        return timeline_svg(plan, rules.check(plan, knowledge()), knowledge(), years=query["years"])

    return _drawn(there, drawn)


def _drawn(there: Seen, draw: Callable[[], str]) -> Response:
    """A picture, which may use the one style sheet that is inside it."""
    response = derived(there, lambda: draw().encode(), SVG)
    response.headers["Content-Security-Policy"] = policy(style_src=style_source())
    return response
