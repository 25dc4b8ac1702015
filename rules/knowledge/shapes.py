"""Checks the shape of our YAML files and says where each fault stands.

A shape maps each key to a ``Key``: what the value must be, and whether it may be absent.
Faults are collected, never raised one by one, so that a file is mended in one go.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from rules.knowledge.yamlfile import Located


@dataclass(frozen=True, slots=True)
class Problem:
    """A fault in one of our files: ``where`` is ``file:line:column``."""

    where: str
    message: str

    def place(self) -> tuple[str, int, int, str]:
        """What problems are sorted by: file, line, column, message."""
        name, line, column = self.where.rsplit(":", 2) if self.where.count(":") > 1 else (self.where, "0", "0")
        return name, int(line), int(column), self.message

    def __str__(self) -> str:
        return f"{self.where}: {self.message}"


def in_order(problems: Iterable[Problem]) -> list[Problem]:
    """Problems by file and place, each once."""
    return sorted(set(problems), key=Problem.place)


class KnowledgeError(ValueError):
    """Fact or rule files that cannot be used; ``problems`` lists every fault found."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(in_order(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


@dataclass(frozen=True, slots=True)
class Key:
    """What stands under one key.

    ``kind`` is "text", "whole", "number", "yes/no", "words" (list of text), "any", "map" or
    "maps" (map of maps, see ``shape``); ``among`` lists the allowed words.  ``says`` tells a
    reader what the value means: a sentence with {} where it stands, or a sentence for each word.
    """

    kind: str
    needed: bool = False
    among: tuple[str, ...] = ()
    shape: Mapping[str, Key] | None = None
    says: str | Mapping[str, str] = ""


def nearest(word: str, known: Iterable[str], n: int = 3) -> list[str]:
    """The known words most like ``word``, best first."""
    plain: dict[str, str] = {}
    for one in known:
        plain.setdefault(one.casefold(), one)
    return [plain[one] for one in get_close_matches(word.casefold(), list(plain), n=n, cutoff=0.6)]


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A closing clause with the nearest known word, or nothing."""
    close = nearest(word, known, 1)
    return f"; did you mean {close[0]!r}?" if close else ""


@dataclass(slots=True)
class Checker:
    """Collects the faults of one file."""

    located: Located
    problems: list[Problem] = field(default_factory=list)

    def fault(self, path: tuple[str | int, ...], message: str) -> None:
        """Note a fault at a path."""
        self.problems.append(Problem(self.located.at(*path), message))

    def mapping(self, value: Any, shape: Mapping[str, Key], path: tuple[str | int, ...]) -> bool:
        """Check one mapping against a shape; True when it can be used as it stands."""
        before = len(self.problems)
        if not isinstance(value, dict):
            self.fault(path, "keys and values are needed here")
            return False
        for key in value:
            if key not in shape:
                self.fault((*path, key), f"unknown key {key!r}{did_you_mean(key, shape)}")
        for key, want in shape.items():
            if key in value:
                self._one(value[key], want, (*path, key))
            elif want.needed:
                self.fault(path, f"the key {key!r} is missing")
        return len(self.problems) == before

    def _one(self, value: Any, want: Key, path: tuple[str | int, ...]) -> None:
        if want.kind == "map":
            self.mapping(value, want.shape or {}, path)
        elif want.kind == "maps":
            self._maps(value, want, path)
        elif want.kind == "words":
            if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
                self.fault(path, "a list of words is needed")
            elif want.among:
                for i, item in enumerate(value):
                    self._among(item, want, (*path, i))
        elif not _is(value, want.kind):
            self.fault(path, f"{want.kind} is needed, not {value!r}")
        elif want.among:
            self._among(value, want, path)

    def _maps(self, value: Any, want: Key, path: tuple[str | int, ...]) -> None:
        if not isinstance(value, dict):
            self.fault(path, "keys and values are needed here")
            return
        for key, item in value.items():
            if want.shape is not None:
                self.mapping(item, want.shape, (*path, key))

    def _among(self, value: Any, want: Key, path: tuple[str | int, ...]) -> None:
        if value not in want.among:
            words = ", ".join(want.among)
            self.fault(path, f"{value!r} is not one of {words}{did_you_mean(str(value), want.among)}")


def _is(value: Any, kind: str) -> bool:
    match kind:
        case "text":
            return isinstance(value, str) and bool(value.strip())
        case "whole":
            return isinstance(value, int) and not isinstance(value, bool)
        case "number":
            return isinstance(value, int | float) and not isinstance(value, bool)
        case "yes/no":
            return isinstance(value, bool)
        case _:
            return kind == "any"
