"""What a job takes beside its gardens, how it is told, and the lines of its results."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.jobs.kinds import KINDS
from service.schemas.batch import SHARED, BatchQuery, rule_sets
from service.schemas.proposal import ProposalQuery, ProposalSchema
from service.schemas.query import MAX_PAGE, Pattern, Query, TextNumber
from service.schemas.report import Closed, text, whole

JOB_STATES = ("waiting", "running", "done", "cancelled")
#: Seconds that the search for one garden's proposal may take.
MOST_SECONDS = 300
_BATCH = ("season", "severity")
_PROPOSALS = ("since", "years", "seconds", "alternatives")


def _borrowed(name: str, kind: str, schema: Any) -> fields.Field:
    """A parameter as another route has it, without a default: so one that has no business here is seen."""
    field: fields.Field = schema().fields[name]
    about = {**field.metadata, "description": f"For kind={kind}: {field.metadata['description']}"}
    options = {"validate": field.validators, "metadata": about}
    return type(field)(**options, **({"data_key": field.data_key} if field.data_key != name else {}))


class JobQuery(BatchQuery):
    """Parameters of a new job."""

    class Meta(BatchQuery.Meta):
        """The results have one form."""

        exclude = ("format",)

    kind = fields.String(
        required=True,
        validate=validate.OneOf(list(KINDS)),
        error_messages={"required": f"Say what is wanted: {' or '.join(f'kind={kind}' for kind in KINDS)}."},
        metadata={
            "description": "`batch`: check every garden; `proposals`: propose a plan for every garden.",
            "example": "batch",
        },
    )
    season = _borrowed("season", "batch", BatchQuery)
    severity = _borrowed("severity", "batch", BatchQuery)
    since = _borrowed("since", "proposals", ProposalQuery)
    years = _borrowed("years", "proposals", ProposalQuery)
    seconds = TextNumber(
        validate=validate.Range(0, MOST_SECONDS),
        metadata={
            "description": "For kind=proposals: how long to search for each garden at most, 10 if not given; "
            "0 for the quick answer alone."
        },
    )
    alternatives = _borrowed("alternatives", "proposals", ProposalQuery)

    @validates_schema
    def fitting(self, asked: dict[str, Any], **_: Any) -> None:
        """Refuse what has no business with the kind."""
        other = _PROPOSALS if asked.get("kind") == "batch" else _BATCH
        names = {name: self.fields[name].data_key or name for name in other if name in asked}
        if names and "kind" in asked:
            raise ValidationError({said: [f"It says nothing with kind={asked['kind']}."] for said in names.values()})


class JobsQuery(Query):
    """Parameters of the list of jobs."""

    limit = TextNumber(
        load_default=50, validate=validate.Range(1, MAX_PAGE), metadata={"description": "How many at most."}
    )
    cursor = fields.String(
        validate=Pattern(r"^[a-z0-9]{1,16}$", error="This is no cursor; follow next of the answer before."),
        metadata={"description": "Where to go on, as `next` of the answer before gave it."},
    )


class ResultsQuery(Query):
    """Parameters of a job's results."""

    first = TextNumber(
        data_key="from",
        load_default=1,
        validate=validate.Range(1, 1_000_000_000),
        metadata={
            "description": "The first line wanted, from 1: a client that was cut off after 300 whole lines goes on "
            "with `from=301`. The summary is always that of all lines."
        },
    )


def options_of(query: dict[str, Any]) -> dict[str, Any]:
    """What is asked of each proposal, under the names of ``service.proposing.question.Options``."""
    names = {"since": "first", **{name: name for name in _PROPOSALS[1:]}}
    return {names[name]: query[name] for name in _PROPOSALS if name in query}


def shared_of(query: dict[str, Any]) -> dict[str, Any]:
    """What is said of all gardens, as a batch would say it."""
    return {name: query[name] for name in (*SHARED, *_BATCH) if name in query}


def _moment(about: str) -> Any:
    return fields.AwareDateTime(required=True, allow_none=True, metadata={"description": about})


class JobSchema(Closed):
    """A job: how far it is, and where its results are."""

    id = text("its id")
    kind = text("what is done", validate=validate.OneOf(list(KINDS)))
    state = text("what it is doing", validate=validate.OneOf(JOB_STATES))
    gardens = whole("how many gardens it has")
    answered = whole("how many of them are answered, failed ones included")
    failed = whole("how many could not be answered; their lines say why")
    rules = fields.String(
        required=True,
        allow_none=True,
        metadata={"description": "the rule set that all of its answers are by; null until somebody begins"},
    )
    restarts = whole("how often it was begun again, because the service got another rule set while it went on")
    created = _moment("when it was sent")
    finished = _moment("when it was done or cancelled")
    kept_until = _moment("when it and its results are forgotten; null while it goes on")
    results = fields.String(
        required=True, allow_none=True, metadata={"description": "where its results are; null while it goes on"}
    )


class ProposalLineSchema(Closed):
    """The line of a garden that a plan was proposed for."""

    type = text("what the line is", validate=validate.OneOf(["proposal"]))
    line = whole("the line of its first row, or of its plan, from 1")
    garden = fields.String(required=True, allow_none=True, metadata={"description": "its name, where it has one"})
    proposal = fields.Nested(ProposalSchema, required=True)


class StoppedSchema(Closed):
    """How the searches ended."""

    optimal = whole("gardens whose plan was proven to be the best")
    time = whole("gardens whose search ran out of time; the gap is stated")
    quick = whole("gardens with the quick answer alone")


class ProposalsSummarySchema(Closed):
    """The last line of proposals; results without it were cut short."""

    type = text("what the line is", validate=validate.OneOf(["summary"]))
    complete = fields.Boolean(required=True, metadata={"description": "false for a job that was cancelled"})
    rules = rule_sets()
    gardens = whole("how many gardens are in the lines before")
    failed = whole("how many of them could not be planned")
    stopped = fields.Nested(StoppedSchema, required=True)
    not_all_placed = whole("gardens in which something that is wanted found no place")
