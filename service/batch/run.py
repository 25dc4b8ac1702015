"""Many gardens through a few processes, in order and in flat memory.

At most two chunks a process are under way or waiting to be written, so that what is held does not
grow with the batch; a chunk's lines come back as finished bytes.
"""

from __future__ import annotations

import os
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from itertools import chain, islice
from multiprocessing import parent_process
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, NamedTuple

from service.batch.gardens import Form, GardenRows, Item
from service.batch.judge import Line, Shared, judge_garden
from service.batch.lines import to_csv, to_ndjson
from service.batch.summary import Brief, brief_of
from service.memory import seldom, settle

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

#: A chunk ends at one of these: about a quarter of a second of work.
MOST_GARDENS, MOST_ROWS = 100, 2_000
#: Rows that one line of a plan stands for, by its length.
_CHARACTERS_A_ROW = 100


class Done(NamedTuple):
    """What became of a chunk: its lines as bytes, and a brief of each."""

    data: bytes
    briefs: list[Brief]


@dataclass(frozen=True)
class Work:
    """How gardens become bytes: what they share, and the form of the answer."""

    shared: Shared
    form: Form

    def chunk(self, items: Iterable[Item], knowledge: Knowledge) -> Done:
        """Judge some gardens."""
        lines = [judge_garden(item, self.shared, knowledge) for item in items]
        return Done(b"".join(self.bytes_of(line, knowledge) for line in lines), [brief_of(line) for line in lines])

    def bytes_of(self, line: Line, knowledge: Knowledge) -> bytes:
        """A line in the form of the answer."""
        return to_csv(line, knowledge) if self.form == "csv" else to_ndjson(line)


def chunks(items: Iterable[Item], gardens: int = MOST_GARDENS, rows: int = MOST_ROWS) -> Iterator[list[Item]]:
    """Gardens by the hundred, or fewer where they are large."""
    chunk: list[Item] = []
    weight = 0
    for item in items:
        chunk.append(item)
        weight += len(item.rows) if isinstance(item, GardenRows) else len(item.text or "") // _CHARACTERS_A_ROW
        if len(chunk) >= gardens or weight >= rows:
            yield chunk
            chunk, weight = [], 0
    if chunk:
        yield chunk


def in_order(work: Work, several: Iterable[list[Item]], processes: int, knowledge: Knowledge) -> Iterator[Done]:
    """What becomes of each chunk, in the order of the chunks.

    With one process, or one chunk, all happens in this one.  ``several`` is read no farther ahead than
    the processes need.

    Raises
    ------
    concurrent.futures.process.BrokenProcessPool
        when a process was killed.
    """
    ahead = list(islice(several := iter(several), 2))
    several = chain(ahead, several)
    if processes < 2 or len(ahead) < 2:
        for chunk in several:
            yield work.chunk(chunk, knowledge)
        return
    pool = ProcessPoolExecutor(processes, initializer=_begin, initargs=(work, knowledge))
    try:
        under_way: deque[Future[Done]] = deque()
        for chunk in several:
            under_way.append(pool.submit(_in_process, chunk))
            if len(under_way) >= 2 * processes:
                yield under_way.popleft().result()
        while under_way:
            yield under_way.popleft().result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


#: In a process of the pool: what it does, and what it judges by.
_mine: tuple[Work, Knowledge] | None = None


def _begin(work: Work, knowledge: Knowledge) -> None:
    """Make a process of the pool ready."""
    global _mine
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C ends the parent, which ends us
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    seldom()
    _mine = work, knowledge
    settle()


def _leave_with_parent() -> None:
    """A parent that was killed cannot end us."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _in_process(chunk: list[Item]) -> Done:
    if _mine is None:
        raise RuntimeError("the process was not made ready")
    work, knowledge = _mine
    return work.chunk(chunk, knowledge)
