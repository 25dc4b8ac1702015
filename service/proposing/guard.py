"""Runs work in a process of its own and cuts it off when its time is up.

A solver can overrun its own time limit by minutes, or take the whole process with it; so the clock
that counts is here.  The best answer that the child told before it was cut off, or died, is kept.
"""

from __future__ import annotations

import os
import pickle
import selectors
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from tempfile import TemporaryFile
from typing import Any, Literal, NamedTuple

from service.proposing.child import HEAD, Task, unpacked

#: Seconds that starting the child and reading the plan may take beside the work itself.
GRACE = 5.0
#: Seconds after which a child that nobody guards any more ends itself.
_ALONE = 10
#: Seconds between a child's last word and its end.
_LAST_WORD = 1


class Watched(NamedTuple):
    """How work ended, and its last answer (None where it gave none)."""

    how: Literal["done", "time", "died"]
    answer: Any
    why: str = ""


def watch(work: Callable[..., Any], given: tuple[Any, ...], shared: Sequence[Any], seconds: float) -> Watched:
    """Run ``work(*given, tell)`` in a new process for ``seconds`` and some grace.

    Parameters
    ----------
    work
        A function of a module, which the child can import; it calls ``tell`` with each better answer.
    shared
        Objects within ``given`` that shall be the same objects in the answer.
    """
    deadline = time.monotonic() + seconds + GRACE
    best: Any = None
    with TemporaryFile() as task:  # a file, since a pipe that a stopped child does not read would hold us up
        pickle.dump(Task(work, given, shared, int(seconds + GRACE) + _ALONE), task, pickle.HIGHEST_PROTOCOL)
        task.seek(0)
        child = _started(task)
    try:
        for message in _messages(child, deadline):
            if message is None:
                return Watched("time", best)
            word, told = unpacked(message, shared)
            if word == "failed":
                return Watched("died", best, told)
            best = told
            if word == "done":
                return Watched("done", best)
        return Watched("died", best, _end(child))
    finally:
        child.kill()
        child.wait()
        assert child.stdout is not None
        child.stdout.close()


def _started(task: Any) -> subprocess.Popen[bytes]:
    """The child, importing what this process would; -P, since the current folder is none of its business."""
    paths = os.pathsep.join(path or os.getcwd() for path in sys.path)
    command = [sys.executable, "-P", "-m", "service.proposing.child"]
    environment = {**os.environ, "PYTHONPATH": paths}
    return subprocess.Popen(command, stdin=task, stdout=subprocess.PIPE, env=environment, bufsize=0)


def _messages(child: subprocess.Popen[bytes], deadline: float) -> Iterator[bytes | None]:
    """Each message of the child as it arrives; None when the time is up, nothing more when the child is gone."""
    assert child.stdout is not None
    buffer = bytearray()
    with selectors.DefaultSelector() as waiting:
        waiting.register(child.stdout, selectors.EVENT_READ)
        while (left := deadline - time.monotonic()) > 0 and waiting.select(left):
            chunk = os.read(child.stdout.fileno(), 1 << 20)
            if not chunk:
                return
            buffer += chunk
            while len(buffer) >= HEAD.size and len(buffer) >= (end := HEAD.size + HEAD.unpack_from(buffer)[0]):
                yield bytes(buffer[HEAD.size : end])
                del buffer[:end]
    yield None


def _end(child: subprocess.Popen[bytes]) -> str:
    """How a child ended that said nothing about it."""
    try:
        status = child.wait(_LAST_WORD)
    except subprocess.TimeoutExpired:
        return "it stopped answering"
    return f"it was ended by signal {-status}" if status < 0 else f"it ended with status {status}"
