"""From the words growers write to what is known: names, aliases, plurals, nearest known words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Generic, TypeVar

from rules.knowledge.shapes import nearest

Thing = TypeVar("Thing")

#: Irregular enough that stripping an ending would not find them.
_ENDINGS = (("ies", "y"), ("oes", "o"), ("ves", "f"), ("shes", "sh"), ("ches", "ch"), ("es", "e"), ("s", ""))


def normal(word: str) -> str:
    """A word as it is looked up: lower case, single blanks, no hyphens or apostrophes.

    >>> normal("  Brussels-Sprouts ")
    'brussels sprouts'
    """
    plain = word.casefold().replace("_", " ").replace("-", " ").replace("’", "'").replace("'", "")
    return " ".join(plain.split())


def singulars(word: str) -> Iterator[str]:
    """What a normal word may be the regular plural of."""
    for ending, instead in _ENDINGS:
        if word.endswith(ending) and len(word) > len(ending) + 2:
            yield word[: -len(ending)] + instead


class Names(Generic[Thing]):
    """A look-up by any known name; each name belongs to one thing only."""

    def __init__(self) -> None:
        self._things: dict[str, Thing] = {}

    def add(self, thing: Thing, names: Iterable[str]) -> list[tuple[str, Thing]]:
        """Register names; returns those that another thing has already, with that thing."""
        taken = []
        for name in names:
            word = normal(name)
            if self._things.setdefault(word, thing) is not thing:
                taken.append((name, self._things[word]))
        return taken

    def find(self, word: str) -> Thing | None:
        """The thing that a word names, in any case, singular or plural."""
        key = normal(word)
        found = self._things.get(key)
        if found is None:
            for single in singulars(key):
                found = self._things.get(single)
                if found is not None:
                    break
        return found

    def nearest(self, word: str, n: int = 3) -> list[str]:
        """The known names most like a word, at most one for each thing."""
        close: list[str] = []
        seen: list[Thing] = []
        for name in nearest(normal(word), self._things, n * 3):
            thing = self._things[name]
            if not any(thing is other for other in seen):
                seen.append(thing)
                close.append(name)
        return close[:n]

    def matching(self, word: str) -> list[Thing]:
        """Things with a name that contains a word, in the order they were added."""
        key = normal(word)
        found: dict[int, Thing] = {}
        for name, thing in self._things.items():
            if key in name:
                found.setdefault(id(thing), thing)
        return list(found.values())
