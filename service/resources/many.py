"""Bodies with many gardens: taken in whole, then opened, with what all gardens share found good."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Mapping
from typing import IO, Any

from flask import request
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge

from service.batch.columns import SheetFault, SheetRejected
from service.batch.gardens import Form, Gardens
from service.batch.judge import Shared
from service.batch.site import good_site
from service.errors import Problem
from service.faults import refused, sentence
from service.negotiate import CSV, NDJSON
from service.reading import PlanRejected
from service.resources.checks import today
from service.schemas.batch import SHARED
from service.state import current, knowledge

MB = 1024 * 1024
TYPES: Mapping[Form, str] = {"csv": CSV, "ndjson": NDJSON}
#: Names of gardens are kept while a sheet is read, to notice one that comes back.
MOST_GARDENS = 100_000


def spooled() -> IO[bytes]:
    """The whole body in a file of the system: a client that reads nothing until it has sent all would wait for ever."""
    most = current().config.batch_mb
    request.max_content_length = most * MB
    body = tempfile.TemporaryFile()  # noqa: SIM115
    try:
        for piece in _pieces():
            body.write(piece)
    except RequestEntityTooLarge:
        body.close()
        raise Problem("too-large", f"A batch may have {most} MB here. Send fewer gardens at a time.") from None
    except BaseException:
        body.close()
        raise
    body.seek(0)
    return body


def _pieces() -> Iterator[bytes]:
    try:
        while piece := request.stream.read(64 * 1024):
            yield piece
    except HTTPException:
        raise
    except Exception as error:  # broken chunks: each server raises an exception of its own
        raise Problem("bad-request", "The body ended early. Send it again.", {"Connection": "close"}) from error


def opened(body: IO[bytes], query: Mapping[str, Any], *, judged: bool = True) -> tuple[Gardens, Shared]:
    """The gardens in a body, not read yet, and what they share; ``judged`` ones need to know for which season."""
    try:
        gardens = Gardens(body, MOST_GARDENS)
        if request.mimetype != TYPES[gardens.form]:
            meant = "plans, a line each" if gardens.form == "ndjson" else "a sheet"
            raise SheetRejected([SheetFault(1, f"this is {meant}; send it as {TYPES[gardens.form]}")])
        site = _site(query, gardens.site)
        site = good_site(site, knowledge()) if site is not None else None
    except SheetRejected as rejected:
        errors = [{"in": "body", "line": fault.line, "detail": fault.detail} for fault in rejected.faults]
        raise Problem("sheet-rejected", sentence(errors[0]["detail"]), errors=errors, total=len(errors)) from None
    except PlanRejected as rejected:
        problem = refused(rejected, "sheet-rejected")
        for fault in problem.members["errors"] if gardens.site is None else ():
            fault |= {"in": "query", "parameter": fault.pop("pointer").removeprefix("/garden/")}
        raise problem from None
    if judged and gardens.form == "csv" and "season" not in query:
        said = "Say which season to judge, as in season=2027."
        raise Problem("sheet-rejected", said, errors=[{"in": "query", "parameter": "season", "detail": said}])
    day = today(((site or {}).get("garden") or {}).get("time_zone"))
    return gardens, Shared(day, query.get("season"), site, severity=query.get("severity", "benefit"))


def _site(query: Mapping[str, Any], told: dict[str, Any] | None) -> dict[str, Any] | None:
    """What all gardens share, from the address or from the stream's first line."""
    garden = {key: query[key] for key in SHARED if key in query}
    if garden and told is not None:
        said = "What all gardens share stands in the address and in the first line. Give it once."
        raise Problem("sheet-rejected", said, errors=[{"in": "query", "parameter": next(iter(garden)), "detail": said}])
    return {"garden": garden} if garden else told
