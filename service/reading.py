"""From the bytes of a plan document to a ``rules.model.Plan``, or everything that is wrong with them.

Shape (types, unknown keys, limits) is checked by ``service.schemas.plan``, references and what
needs several rows by ``rules.reading``; both speak about the same document, so their faults are
reported together, in the order in which they stand in it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from itertools import chain, compress
from typing import TYPE_CHECKING, Any, Literal

from marshmallow import ValidationError

from rules.knowledge import yamlfile
from service.schemas.fields import Refused, SeasonWord
from service.schemas.plan import plan_schema
from service.schemas.rows import Rows
from service.schemas.words import clean, suggestions

if TYPE_CHECKING:
    from rules.model import Plan

try:
    from orjson import loads as quick_loads
except ImportError:  # the [fast] extra: it saves time and decides nothing (see _json)
    quick_loads = None  # type: ignore[assignment]

Path = tuple[str | int, ...]
Kind = Literal["json", "yaml"]

MOST_ERRORS = 100
MOST_SUGGESTIONS = 20
MAX_DEPTH = yamlfile.MAX_DEPTH
LARGEST: Mapping[str, int] = {"json": 4 * 1024 * 1024, "yaml": 256 * 1024}
_LARGEST_WORDS = {"json": "4 MB", "yaml": "256 KB"}
_is_container = frozenset((dict, list)).__contains__
_BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class PlanError:
    """One fault: JSON pointer (RFC 6901), what is wrong, and line and column (from 1) in YAML."""

    pointer: str
    detail: str
    line: int | None = None
    column: int | None = None


class PlanRejected(Exception):
    """A readable document that is no plan: the first ``errors`` (100 at most) of ``total``."""

    def __init__(self, errors: list[PlanError], total: int) -> None:
        self.errors, self.total = errors, total
        super().__init__("; ".join(f"{error.pointer or '/'}: {error.detail}" for error in errors[:3]))


class Unreadable(Exception):
    """Bytes that are no document at all; ``status`` is what HTTP answers."""

    status = 400

    def __init__(self, detail: str, line: int | None = None, column: int | None = None) -> None:
        self.detail, self.line, self.column = detail, line, column
        super().__init__(detail)


class NotText(Unreadable):
    """The bytes are not UTF-8."""


class Empty(Unreadable):
    """No bytes, or nothing but blanks."""


class BrokenJson(Unreadable):
    """Not JSON, or a key twice in one group, or NaN."""


class BrokenYaml(Unreadable):
    """Not the YAML we read: syntax, tabs, aliases, tags, a key twice."""


class TooDeep(Unreadable):
    """Nested deeper than any plan is."""


class TooLarge(Unreadable):
    """More bytes than a plan may have."""

    status = 413


def read_plan(
    body: bytes,
    kind: Kind,
    *,
    today: Callable[[str | None], date],
    season: str | None = None,
    knowledge: Any,
    build_plan: Callable[..., Plan] | None = None,
) -> Plan:
    """The plan that a document describes.

    ``today`` is asked for the date in the garden's time zone (or None) only when the document
    has no readable ``as_of``.  ``season`` is the season to judge instead of the document's own.
    ``build_plan`` stands in for ``rules.reading.build_plan``.

    Raises
    ------
    Unreadable
        when the bytes are no document; see its subclasses.
    PlanRejected
        with every fault of the document at once.
    """
    document, where = parse(body, kind)
    return plan_of(document, where, today=today, season=season, knowledge=knowledge, build_plan=build_plan)


def plan_of(
    document: Any,
    where: Callable[[str], tuple[int, int] | None] | None = None,
    *,
    today: Callable[[str | None], date],
    season: str | None = None,
    knowledge: Any,
    build_plan: Callable[..., Plan] | None = None,
) -> Plan:
    """The plan that plain data describe, as ``parse`` gives them; arguments and faults as in ``read_plan``."""
    from rules import reading  # here, so that schemas and limits load without the engine

    if season is not None:
        with suppress(Refused):  # what is no season is named as such by build_plan
            season = SeasonWord().read(season)
    with suggestions(MOST_SUGGESTIONS):
        data, faults = typed(document)
        plan: Plan | None = None
        if data is not None:
            as_of = data.get("as_of") or today(data.get("garden", {}).get("time_zone"))
            try:
                plan = (build_plan or reading.build_plan)(
                    data, knowledge, as_of=as_of, season=season, broken=_broken(path for path, _ in faults)
                )
            except reading.PlanFaults as found:
                faults += [(tuple(fault.path), fault.detail) for fault in found.faults]
    if faults or plan is None:
        raise _rejected(document, faults, where)
    return plan


def parse(body: bytes, kind: Kind) -> tuple[Any, Callable[[str], tuple[int, int] | None] | None]:
    """Plain data, and for YAML a function from a JSON pointer to (line, column); raises ``Unreadable``."""
    if len(body) > LARGEST[kind]:
        raise TooLarge(f"the document is larger than {_LARGEST_WORDS[kind]}; send a garden at a time")
    body = body.removeprefix(_BOM)
    if not body or body.isspace():
        raise Empty("the document is empty; send a plan with beds or plantings")
    if kind == "json":
        return _json(body), None
    try:
        located = yamlfile.load(_text(body))
    except yamlfile.YamlError as error:
        place = f"line {error.line}, column {error.column}"
        failure = TooDeep if "deeper than" in error.message else BrokenYaml
        raise failure(f"not readable as YAML: {error.message} ({place})", error.line, error.column) from None
    return located.value, located.where


def typed(document: Any) -> tuple[dict[str, Any] | None, list[tuple[Path, str]]]:
    """Typed data (what could be read of it; None for nothing) and the faults of shape by path."""
    try:
        return plan_schema().load(document), []
    except ValidationError as error:
        data = error.valid_data if isinstance(document, dict) and isinstance(error.valid_data, dict) else None
        return data, list(flat(error.messages, ()))


def pointer(path: Iterable[str | int]) -> str:
    """A path as a JSON pointer (RFC 6901); half characters, which no answer could carry, as "?"."""
    text = "".join("/" + yamlfile.escape(step) for step in path)
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")


def _text(body: bytes) -> str:
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError as error:
        raise NotText(f"the document is not UTF-8 text: byte {error.start + 1:,} is not") from None


def _json(body: bytes) -> Any:
    """JSON by the quick reader where there is one; the standard library has the last word on errors."""
    if quick_loads is not None:
        with suppress(ValueError):
            document = quick_loads(body)
            # Each key has a colon: as many colons as keys means that no key was overwritten.
            if _keys(document) == body.count(b":"):
                return document
    try:
        document = json.loads(_text(body), parse_constant=_no_constant, object_pairs_hook=_no_twins)
    except json.JSONDecodeError as error:
        detail = f"not readable as JSON: {error.msg} (line {error.lineno}, column {error.colno})"
        raise BrokenJson(detail, error.lineno, error.colno) from None
    except ValueError:  # a whole number of more digits than Python reads
        raise BrokenJson("not readable as JSON: a number has too many digits") from None
    except RecursionError:
        raise TooDeep(f"nested deeper than {MAX_DEPTH} levels") from None
    _keys(document)
    return document


def _keys(document: Any) -> int:
    """How many keys all mappings of a document have; raises ``TooDeep``.

    Level by level, with no Python step for a plain value: every document passes through here.
    """
    level, keys = [document], 0
    for _ in range(MAX_DEPTH + 1):
        groups = [entry for entry in level if type(entry) is dict]
        keys += sum(map(len, groups))
        values = [*chain.from_iterable(map(dict.values, groups))]
        if len(groups) < len(level):
            values += chain.from_iterable(entry for entry in level if type(entry) is list)
        level = [*compress(values, map(_is_container, map(type, values)))]
        if not level:
            return keys
    raise TooDeep(f"nested deeper than {MAX_DEPTH} levels")


def _no_constant(word: str) -> Any:
    raise BrokenJson(f"not readable as JSON: {word} is not a number")


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    group = dict(pairs)
    if len(group) != len(pairs):
        seen: set[str] = set()
        twin = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise BrokenJson(f"not readable as a plan: the key '{clean(twin)}' stands twice in one group")
    return group


def flat(messages: Any, path: Path) -> Iterable[tuple[Path, str]]:
    """marshmallow's nested messages as (path, message)."""
    if isinstance(messages, dict):
        for key, value in messages.items():
            yield from flat(value, path if key == "_schema" else (*path, key))
    elif isinstance(messages, list):
        for value in messages:
            yield from flat(value, path)
    else:
        yield path, str(messages)


_ROWS = frozenset(name for name, field in plan_schema().fields.items() if isinstance(field, Rows))


def _broken(paths: Iterable[Path]) -> frozenset[Path]:
    """What ``build_plan`` must leave out: bad rows by (list, index), anything else by its own path."""
    return frozenset(path[:2] if path and path[0] in _ROWS else path for path in paths)


def _rejected(
    document: Any,
    faults: list[tuple[Path, str]],
    where: Callable[[str], tuple[int, int] | None] | None,
) -> PlanRejected:
    orders: dict[int, dict[Any, int]] = {}
    faults = sorted(faults, key=lambda fault: _position(document, fault[0], orders))
    errors = []
    for path, detail in faults[:MOST_ERRORS]:
        at = pointer(path)
        line, column = (where(at) if where else None) or (None, None)
        errors.append(PlanError(at, detail, line, column))
    return PlanRejected(errors, len(faults))


def _position(document: Any, path: Path, orders: dict[int, dict[Any, int]]) -> tuple[int, ...]:
    """Where a path stands in the document; what is missing stands at the start of its group.

    ``orders`` remembers the order of keys of each mapping met, by identity.
    """
    place, value = [], document
    for step in path:
        if isinstance(value, dict) and step in value:
            order = orders.get(id(value))
            if order is None:
                order = orders[id(value)] = {key: index for index, key in enumerate(value)}
            place.append(order[step])
            value = value[step]
        elif isinstance(value, list) and isinstance(step, int) and 0 <= step < len(value):
            place.append(step)
            value = value[step]
        else:
            place.append(-1)
            value = None
    return tuple(place)
