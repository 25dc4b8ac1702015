"""Long work: many gardens sent once, worked through in the background, read out when it is over."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import cache
from typing import IO, Any, NamedTuple
from urllib.parse import urlencode

from flask import Response, request
from sqlalchemy.orm import Session

from service.access import Caller, club_for
from service.batch.gardens import pack as packed_garden
from service.batch.run import chunks
from service.encode import to_bytes
from service.errors import Problem
from service.jobs import jobs as rows
from service.jobs.kinds import KINDS, function
from service.jobs.packing import pack, unpack
from service.negotiate import CSV, JSON, NDJSON, body_type
from service.openapi_doc import describe, problems
from service.resources.batch import BODY
from service.resources.door import ALWAYS, KEY, SECURITY, RecordBlueprint, reads
from service.resources.many import opened, spooled
from service.resources.recorded import PRIVATE
from service.resources.writing import answer, write_once
from service.schemas.batch import BatchErrorSchema, BatchReportSchema, BatchSummarySchema
from service.schemas.jobs import (
    JobQuery,
    JobSchema,
    JobsQuery,
    ProposalLineSchema,
    ProposalsSummarySchema,
    ResultsQuery,
    options_of,
    shared_of,
)
from service.schemas.knowledge import page_of
from service.schemas.query import Query
from service.state import current, store
from service.store.clock import moment
from service.store.errors import NotFound
from service.store.jobtables import Job
from service.store.once import Answer

jobs = RecordBlueprint("jobs", __name__, description="Long work over many gardens.")

#: Seconds after which it is worth asking again.
AGAIN = {"Retry-After": "2"}
#: The same where a job must be over first.
LATER = {"Retry-After": "60"}
_LINE = {"oneOf": [BatchReportSchema, ProposalLineSchema, BatchErrorSchema, BatchSummarySchema, ProposalsSummarySchema]}
_TOLD = {"Location": {"schema": {"type": "string"}, "description": "where it is told how far the job is"}}
_BEGUN = "The job is written down, and will be done."


@jobs.route("/v1/jobs", methods=["POST"], parameters=[KEY])
@jobs.arguments(JobQuery(), location="query")
@jobs.doc(operationId="beginJob", security=SECURITY, requestBody=BODY)
@describe(
    jobs.alt_response(202, schema=JobSchema, description=_BEGUN, headers=_TOLD, success=True),
    *problems(jobs, *sorted({400, 409, 413, 415, 422, 429, *ALWAYS} - {404})),
)
def begin(query: dict[str, Any]) -> Response:
    """Begin a job

    Takes many gardens as a batch does (for proposals, plans with their wishes) and works on them in the background.
    The answer says where to look; with the same `Idempotency-Key` it is the same job. Needs a club admin's token.
    """
    asked = club_for("club_admin")
    body_type((CSV, NDJSON))
    with spooled() as body:
        sent, digest = _read(body, query), _digest(body)
    response = write_once(asked, lambda session: _begun(session, asked, sent), digest)
    _call_workers()
    return response


@jobs.route("/v1/jobs")
@jobs.arguments(JobsQuery(), location="query")
@reads(jobs, "listJobs", page_of(JobSchema), "One page of jobs, the newest first.")
def every(query: dict[str, Any]) -> Response:
    """List jobs

    All jobs of the club that are not forgotten yet. Needs a club admin's token.
    """
    asked, most = club_for("club_admin"), query["limit"]
    with _forgotten_or_never(), store().read() as session:
        found = rows.page(session, asked.club_id, after=query.get("cursor"), most=most + 1)
    following = None
    if len(found) > most:
        on = urlencode({**query, "cursor": found[most - 1].id})
        following = f"{request.script_root}/v1/jobs?{on}"
    return _page({"items": [_told(job) for job in found[:most]], "next": following})


@jobs.route("/v1/jobs/<job>")
@jobs.arguments(Query(), location="query")
@jobs.doc(operationId="readJob", security=SECURITY)
@describe(
    jobs.alt_response(200, schema=JobSchema, description="The job.", success=True),
    *problems(jobs, *sorted({400, *ALWAYS})),
)
def read(query: dict[str, Any], job: str) -> Response:
    """See how far a job is

    While it goes on, `Retry-After` says when to ask again.
    """
    asked = club_for("club_admin")
    with _forgotten_or_never(), store().read() as session:
        return _answered(_told(rows.find(session, job, asked.club_id)))


@jobs.route("/v1/jobs/<job>", methods=["DELETE"])
@jobs.arguments(Query(), location="query")
@jobs.doc(operationId="cancelJob", security=SECURITY)
@describe(
    jobs.alt_response(200, schema=JobSchema, description="The job as it is now.", success=True),
    *problems(jobs, *sorted({400, *ALWAYS})),
)
def cancel(query: dict[str, Any], job: str) -> Response:
    """Cancel a job

    What is answered by then can still be read. A job that is over stays as it is, so this may be sent twice.
    """
    asked = club_for("club_admin")
    with _forgotten_or_never(), store().write() as session:
        return _answered(_told(rows.cancel(session, job, asked.club_id, now=moment(session))))


@jobs.route("/v1/jobs/<job>/results")
@jobs.arguments(ResultsQuery(), location="query")
@jobs.doc(operationId="readResults", security=SECURITY)
@describe(
    jobs.alt_response(200, schema=_LINE, content_type=NDJSON, description="One line a garden.", success=True),
    *problems(jobs, *sorted({400, 409, *ALWAYS})),
)
def results(query: dict[str, Any], job: str) -> Response:
    """Read the results of a job

    One line a garden, in the order in which they came; the last line is the summary. Results without
    a summary were cut short; `from` goes on where they ended. Of a cancelled job only what was answered, and its
    summary says `complete: false`. With `Accept-Encoding: gzip` they come packed, which is about a tenth.
    """
    asked = club_for("club_admin")
    with _forgotten_or_never(), store().read() as session:
        found = rows.find(session, job, asked.club_id)
    if found.state == "open":
        said = f"The job goes on: {found.answered} of {found.gardens} gardens are answered."
        raise Problem("job-goes-on", said, AGAIN)
    lines: Iterable[bytes] = _lines(found, store(), query["first"] - 1)
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no", "Vary": "Accept-Encoding"}
    if request.accept_encodings.best_match(["gzip", "identity"]) == "gzip":
        lines, headers["Content-Encoding"] = _gzipped(lines), "gzip"
    return Response(lines, headers=headers, content_type=f"{NDJSON}; charset=utf-8")


@contextmanager
def _forgotten_or_never() -> Iterator[None]:
    """Within the block, a job that is not there gets the sentence that also explains one that was there."""
    try:
        yield
    except NotFound as error:
        days = current().config.results_kept_days
        kept = "a day" if days == 1 else f"{days} days"
        raise Problem("not-on-record", f"{error.detail} A job is forgotten {kept} after it is over.") from None


class _Sent(NamedTuple):
    """The kind of a job, what its gardens share, and they themselves in chunks."""

    kind: str
    shared: bytes
    parts: list[rows.Packed]


def _read(body: IO[bytes], query: dict[str, Any]) -> _Sent:
    kind = KINDS[query["kind"]]
    gardens, shared = opened(body, shared_of(query), judged=kind.name == "batch")
    parts = [
        rows.Packed(len(chunk), pack([packed_garden(item) for item in chunk]))
        for chunk in chunks(gardens, gardens=kind.most)
    ]
    if not parts:
        raise Problem("sheet-rejected", "There are no gardens in it.", errors=[], total=0)
    common = shared.pack()
    if kind.name == "proposals":
        common = {"batch": common, "options": options_of(query)}
    return _Sent(kind.name, pack(common), parts)


def _begun(session: Session, asked: Caller, sent: _Sent) -> Answer:
    most = current().config.jobs_open
    who = {"club_id": asked.club_id, "token_id": asked.token_id}
    try:
        job = rows.begin(session, *sent, **who, now=moment(session), most_open=most)
    except rows.Full:
        said = f"Your club has {most} {'job' if most == 1 else 'jobs'} open, the most here. "
        raise Problem("too-many-jobs", f"{said}Wait until one is done, or cancel one.", LATER) from None
    return answer(_told(job), 202, location=f"/v1/jobs/{job.id}")


def _digest(body: IO[bytes]) -> bytes:
    body.seek(0)
    return hashlib.file_digest(body, "sha256").digest()  # type: ignore[arg-type]


def _told(job: Job) -> dict[str, Any]:
    """A job as it is told."""
    kept = timedelta(days=current().config.results_kept_days)
    over = job.finished_at
    return {
        "id": job.id,
        "kind": job.kind,
        "state": rows.state(job),
        "gardens": job.gardens,
        "answered": job.answered,
        "failed": job.failed,
        "rules": job.rules or None,
        "restarts": job.restarts,
        "created": job.created_at.isoformat(),
        "finished": over and over.isoformat(),
        "kept_until": over and (over + kept).isoformat(),
        "results": over and f"{request.script_root}/v1/jobs/{job.id}/results",
    }


def _answered(told: dict[str, Any]) -> Response:
    headers = {"Cache-Control": "no-store", **({} if told["finished"] else AGAIN)}
    return Response(to_bytes(told), headers=headers, content_type="application/json")


def _page(values: dict[str, Any]) -> Response:
    body = to_bytes(values)
    tag = hashlib.sha256(body).hexdigest()[:32]
    known = request.if_none_match.contains_weak(tag)
    response = Response(status=304) if known else Response(body, content_type=JSON)
    response.set_etag(tag)
    response.headers.update({"Cache-Control": PRIVATE, "Vary": "Authorization"})
    if values["next"] and not known:
        response.headers["Link"] = f'<{values["next"]}>; rel="next"'
    return response


def _lines(job: Job, record: Any, skipped: int) -> Iterator[bytes]:
    """The answered gardens but the first ``skipped``, then what all come to; nothing is added up that is not there."""
    closing = function(KINDS[job.kind].closing)(unpack(job.shared))
    sent = 0
    for part in rows.results(record, job.id):
        lines = part.splitlines(keepends=True)
        for line in lines:
            closing.add(json.loads(line))
        wanted = lines[max(0, skipped - sent) :]
        sent += len(lines)
        if wanted:
            yield b"".join(wanted)
    if sent == job.answered:  # fewer: it was forgotten while it was read
        yield to_bytes({**closing.line(), "complete": job.state == "done"}) + b"\n"


def _gzipped(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Pieces as one gzip stream (RFC 1952), a packed piece as soon as there is one."""
    packer = zlib.compressobj(wbits=16 + zlib.MAX_WBITS)
    for piece in pieces:
        if packed := packer.compress(piece):
            yield packed
    yield packer.flush()


def _call_workers() -> None:
    """Wake the workers of other machines, where there are any."""
    broker = current().config.broker_url
    if broker is not None:
        from service.jobs.cluster import call

        call(_messenger(broker))


@cache
def _messenger(broker: str) -> Any:
    from service.jobs.cluster import messenger

    return messenger(broker)
