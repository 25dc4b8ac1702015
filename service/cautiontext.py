"""Cautions on a page: each in full where it is first needed, and by its number after that."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from service.words import as_list

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from service.text import Page


class Cautions:
    """The cautions of one page; those that more than one paragraph needs have numbers."""

    def __init__(self, needed: Iterable[Sequence[str]], knowledge: Knowledge) -> None:
        self._often = {key for key, times in Counter(key for keys in needed for key in keys).items() if times > 1}
        self._numbers: dict[str, int] = {}
        self._knowledge = knowledge

    def tell(self, page: Page, keys: Sequence[str], indent: int = 2) -> None:
        """Write the cautions of one paragraph."""
        again = [self._numbers[key] for key in keys if key in self._numbers]
        for key in keys:
            if key not in self._numbers:
                page.say(self._first(key), "Caution:  ", indent)
        if again:
            page.say(f"{as_list(f'[{number}]' for number in again)} as above.", "Caution:  ", indent)

    def _first(self, key: str) -> str:
        caution = self._knowledge.cautions.get(key)
        said = f"{caution.text.rstrip('.')}. Defer to: {caution.defer_to}." if caution else key
        if key not in self._often:
            return said
        self._numbers[key] = len(self._numbers) + 1
        return f"[{self._numbers[key]}] {said}"
