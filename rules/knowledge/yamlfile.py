"""YAML as plain data with the place of every value.

One reader serves fact files, rule files, overlays and plans.  It is narrower than YAML:
only ``true``, ``false``, ``null`` and numbers are anything but text (so ``no`` is a word and
a date is text), and aliases, tags and duplicate keys are refused.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import yaml
from yaml.nodes import MappingNode, Node, ScalarNode, SequenceNode

_INTEGER = re.compile(r"[-+]?(0|[1-9][0-9]*)\Z")
_DECIMAL = re.compile(r"[-+]?[0-9]+(\.[0-9]*)?([eE][-+]?[0-9]+)?\Z")
#: Words that are no text unless they are quoted.
WORDS: dict[str, bool | None] = {"true": True, "false": False, "null": None, "~": None, "": None}
MAX_DEPTH = 32
MAX_DIGITS = 40


class YamlError(ValueError):
    """Text that is not the YAML we read; ``line`` and ``column`` count from 1."""

    def __init__(self, message: str, line: int, column: int, name: str = "") -> None:
        super().__init__(f"{name}:{line}:{column}: {message}" if name else message)
        self.message, self.line, self.column, self.name = message, line, column, name


def escape(step: str | int) -> str:
    """One step of a JSON pointer (RFC 6901)."""
    return str(step).replace("~", "~0").replace("/", "~1")


@dataclass(frozen=True, slots=True)
class Located:
    """Plain data (dict, list, str, int, float, bool, None) and where each value stands."""

    name: str
    value: Any
    places: dict[str, tuple[int, int]] = field(repr=False)

    def where(self, pointer: str) -> tuple[int, int] | None:
        """Line and column of the value at a JSON pointer, or of its nearest parent."""
        while pointer and pointer not in self.places:
            pointer = pointer.rpartition("/")[0]
        return self.places.get(pointer)

    def at(self, *path: str | int) -> str:
        """``file:line:column`` of the value at a path."""
        line, column = self.where("".join("/" + escape(step) for step in path)) or (1, 1)
        return f"{self.name}:{line}:{column}"


#: The C parser where there is one: about ten times as fast.
_Parser: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


def load(text: str, name: str = "", *, trusted: bool = False) -> Located:
    """Read YAML text; ``trusted`` (our own files) skips the guard against hostile nesting.

    Raises
    ------
    YamlError
        for syntax, tabs, several documents, aliases, tags, duplicate or non-text keys,
        and nesting deeper than ``MAX_DEPTH``.
    """
    try:
        if not trusted:
            _guard(text, name)
        node = yaml.compose(text, Loader=_Parser)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        problem = error.problem or "not readable as YAML"
        if "another document" in problem:
            problem = "only one document is read; take out the line --- and what follows it"
        if mark and "\t" in "".join(text.splitlines()[mark.line : mark.line + 1])[: mark.column + 1]:
            problem = "a tab stands where blanks are needed"
        raise YamlError(problem, line, column, name) from None
    except yaml.YAMLError as error:
        raise YamlError(str(error).splitlines()[0], 1, 1, name) from None
    places: dict[str, tuple[int, int]] = {}
    value = None if node is None else _value(node, "", places, name)
    return Located(name, value, places)


def _guard(text: str, name: str) -> None:
    """Refuse aliases, tags and deep nesting before a recursive composer meets them."""
    depth = 0
    events: Iterator[yaml.Event] = yaml.parse(text, Loader=_Parser)
    for event in events:
        complaint = None
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            complaint = "anchors and aliases (& and *) are not read here; write the value out"
        elif getattr(event, "tag", None):
            complaint = "tags (!) are not read here; leave the tag out or put the text in quotes"
        elif isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > MAX_DEPTH:
                complaint = f"nested deeper than {MAX_DEPTH} levels"
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if complaint:
            mark: Any = event.start_mark
            raise YamlError(complaint, mark.line + 1, mark.column + 1, name)


def _value(node: Node, pointer: str, places: dict[str, tuple[int, int]], name: str) -> Any:
    mark = node.start_mark
    places[pointer] = (mark.line + 1, mark.column + 1)
    if isinstance(node, ScalarNode):
        return _scalar(node)
    if isinstance(node, SequenceNode):
        return [_value(item, f"{pointer}/{i}", places, name) for i, item in enumerate(node.value)]
    if not isinstance(node, MappingNode):  # pragma: no cover - PyYAML has three kinds of node
        raise YamlError("not readable as YAML", mark.line + 1, mark.column + 1, name)
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        line, column = key_node.start_mark.line + 1, key_node.start_mark.column + 1
        if not isinstance(key_node, ScalarNode):
            raise YamlError("a key must be a word", line, column, name)
        key = key_node.value
        if key in result:
            raise YamlError(f"the key {key!r} stands twice", line, column, name)
        result[key] = _value(value_node, f"{pointer}/{escape(key)}", places, name)
    return result


def _scalar(node: ScalarNode) -> str | int | float | bool | None:
    text: str = node.value
    if node.style in ("'", '"', "|", ">"):
        return text
    if text in WORDS:
        return WORDS[text]
    if is_number(text):
        return int(text) if _INTEGER.match(text) else float(text)
    return text


def is_number(text: str) -> bool:
    """Whether text without quotes is read as a number."""
    return len(text) <= MAX_DIGITS and bool(_INTEGER.match(text) or _DECIMAL.match(text))
