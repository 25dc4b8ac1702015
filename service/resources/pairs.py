"""Two crops side by side: what they do to each other, without a plan."""

from __future__ import annotations

from typing import Any, NoReturn

from flask import Request, Response
from flask_smorest import Blueprint
from marshmallow import Schema, ValidationError

import rules
from service.caching import cached
from service.encode import to_bytes
from service.errors import Problem
from service.negotiate import JSON, TEXT, answer_type
from service.openapi_doc import HEADERS, describe, problems
from service.pairentries import NoCrop, find_crop, pair_entry
from service.pairtext import pair_text
from service.schemas.pairs import PairSchema
from service.schemas.query import PairQuery, QueryParser
from service.state import knowledge

SIDES = ("a", "b")


class PairParser(QueryParser):
    """Tells of a name that is no crop also where the other name is missing."""

    def handle_error(self, error: ValidationError, req: Request, schema: Schema, **rest: Any) -> NoReturn:
        """Raise the problem that names every parameter with its fault, unknown names included."""
        try:
            super().handle_error(error, req, schema, **rest)
        except Problem as problem:
            told = {fault["parameter"] for fault in problem.members["errors"]}
            faults = _faults({side: req.args[side] for side in SIDES if side in req.args and side not in told})
            errors = [*problem.members["errors"], *(fault for fault, _ in faults)]
            problem.members["errors"] = sorted(errors, key=lambda fault: fault["parameter"])
            problem.description = " ".join([problem.description or "", *(fault["detail"] for fault, _ in faults)])
            raise


class PairBlueprint(Blueprint):
    """A blueprint that reads query parameters strictly."""

    ARGUMENTS_PARSER = PairParser()


pairs = PairBlueprint("pairs", __name__, description="Two crops side by side.")

_ANSWER = {"description": "What is known; as text the same for people to read.", "success": True}
_KEPT = {"headers": {"ETag": HEADERS["ETag"]}}


@pairs.route("/v1/pairs")
@pairs.doc(operationId="readPair")
@pairs.arguments(PairQuery(), location="query")
@describe(
    pairs.alt_response(200, schema=PairSchema, **_ANSWER, **_KEPT),
    pairs.alt_response(200, schema={"type": "string"}, content_type=TEXT, **_ANSWER, **_KEPT),
    *problems(pairs, 304, 400, 404, 500, 503),
)
def pair(query: dict[str, Any]) -> Response:
    """Ask about two crops

    Every rule that speaks for the two as neighbours: what was found, under which conditions, on
    what evidence and what speaks against it; then the family, pests and diseases that they share,
    and what follows from how they grow. Crops go by any of their names, in any case, and by words
    for several crops such as `onion`. With `Accept: text/plain` or `format=text` the answer is text.
    """
    facts = knowledge()
    found = {side: find_crop(query[side], facts) for side in SIDES}
    a, b = found.values()
    if isinstance(a, NoCrop) or isinstance(b, NoCrop):
        faults = _faults({side: query[side] for side in SIDES})
        nearest = list(dict.fromkeys(key for _, near in faults for key in near))
        detail = " ".join(fault["detail"] for fault, _ in faults)
        raise Problem("unknown-name", detail, errors=[fault for fault, _ in faults], nearest=nearest)
    answer = rules.pairs(a, b, facts)
    if answer_type((JSON, TEXT), query.get("format")) == TEXT:
        response = cached(pair_text(answer, facts).encode(), TEXT)
    else:
        response = cached(to_bytes(pair_entry(answer, facts)))
    response.headers["Vary"] = "Accept"
    return response


def _faults(words: dict[str, str]) -> list[tuple[dict[str, str], list[str]]]:
    """Each name that is no crop: its fault as problem details give it, and the ids nearest to it."""
    found = {side: find_crop(word, knowledge()) for side, word in words.items()}
    return [
        ({"in": "query", "parameter": side, "detail": crop.sentence}, crop.nearest)
        for side, crop in found.items()
        if isinstance(crop, NoCrop)
    ]
