"""What a club's page shows of a stored garden."""

from __future__ import annotations

from typing import Any

from flask import Response

from service.board import board as whole_board
from service.encode import to_bytes
from service.exporting import plain
from service.resources.door import RecordBlueprint, reads
from service.resources.recorded import derived, plan_of, seen
from service.schemas.board import BoardSchema
from service.schemas.query import Query
from service.state import knowledge

board = RecordBlueprint("board", __name__, description="What a club's page shows of a stored garden.")


@board.route("/v1/gardens/<garden>/board")
@board.arguments(Query(), location="query")
@reads(board, "readBoard", BoardSchema, "The garden today.", faults=(409, 429))
def read(query: dict[str, Any], garden: str) -> Response:
    """Read a garden as a page shows it

    What the check found, in words and with cautions in full; for each bed what stands in it today and
    what comes next, the first day with room, and which plant families should wait. A publishable
    token will do.
    """
    there = seen(garden, "publishable_read")
    plan = plan_of(there)
    return derived(there, lambda: to_bytes(plain(whole_board(plan, knowledge()))))
