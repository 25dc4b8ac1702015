"""The process that solves: a task in on standard input, what it finds out on standard output.

``service.proposing.guard`` starts it and cuts it off.  A task is one pickle, so that what is shared
within it (a crop of the catalogue in a plan) is shared here as well.  What comes back is framed
pickles; the parent's own objects travel as their place in ``Task.shared``.
"""

from __future__ import annotations

import io
import os
import pickle
import signal
import struct
import sys
from collections.abc import Callable, Sequence
from typing import Any, BinaryIO, NamedTuple

#: Before each message: its length in bytes.
HEAD = struct.Struct(">Q")
#: Tells the parent of the best answer so far.
Tell = Callable[[Any], None]


class Task(NamedTuple):
    """Work for the child: ``work(*given, tell)``; ``alarm`` is the second on which it ends, come what may."""

    work: Callable[..., Any]
    given: tuple[Any, ...]
    shared: Sequence[Any]
    alarm: int


def packed(message: Any, shared: Sequence[Any]) -> bytes:
    """A message with its head; objects of ``shared`` as their places."""
    out = io.BytesIO()
    _Pickler(out, shared).dump(message)
    return HEAD.pack(out.tell()) + out.getvalue()


def unpacked(data: bytes, shared: Sequence[Any]) -> Any:
    """The message of ``packed``, with the reader's own objects in their places."""
    return _Unpickler(io.BytesIO(data), shared).load()


class _Pickler(pickle.Pickler):
    def __init__(self, out: BinaryIO, shared: Sequence[Any]) -> None:
        super().__init__(out, pickle.HIGHEST_PROTOCOL)
        self._places = {id(thing): place for place, thing in enumerate(shared)}

    def persistent_id(self, thing: Any) -> int | None:
        return self._places.get(id(thing))


class _Unpickler(pickle.Unpickler):
    def __init__(self, data: BinaryIO, shared: Sequence[Any]) -> None:
        super().__init__(data)
        self._shared = shared

    def persistent_load(self, place: int) -> Any:
        return self._shared[place]


def main() -> None:
    """Do the task; ("best", answer) for each one that it tells, ("done", answer) or ("failed", why) at the end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which ends this process
    pipe = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints must not come between the messages
    try:
        task: Task = pickle.load(sys.stdin.buffer)
        # The last guard, for a parent that is gone: the system's own, which no library can hold up.
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(task.alarm)
        answer = task.work(*task.given, lambda best: _send(pipe, ("best", best), task.shared))
        _send(pipe, ("done", answer), task.shared)
    except Exception as error:
        _send(pipe, ("failed", f"{type(error).__name__}: {error}"), ())


def _send(pipe: BinaryIO, message: Any, shared: Sequence[Any]) -> None:
    try:
        pipe.write(packed(message, shared))
        pipe.flush()
    except BrokenPipeError:  # nobody waits for it any more
        os._exit(1)


if __name__ == "__main__":
    main()
