"""Signals as something to wait for, children that do not outlive their parent, and how many to have."""

from __future__ import annotations

import ctypes
import os
import select
import signal
import sys
from types import TracebackType
from typing import Any

_PR_SET_PDEATHSIG = 1


class Bell:
    """Wakes ``wait`` when one of these signals arrives, and does nothing else with it.

    A handler would run in the middle of any line, so that little could safely be done in it.
    To be made and waited for in the main thread.
    """

    def __init__(self, *signals: signal.Signals) -> None:
        self._signals = signals

    def __enter__(self) -> Bell:
        self._out, self._in = os.pipe()
        os.set_blocking(self._out, False)
        os.set_blocking(self._in, False)
        self._before: dict[int, Any] = {number: signal.signal(number, _nothing) for number in self._signals}
        self._woke = signal.set_wakeup_fd(self._in, warn_on_full_buffer=False)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        signal.set_wakeup_fd(self._woke)
        for number, handler in self._before.items():
            signal.signal(number, handler)
        os.close(self._out)
        os.close(self._in)

    def wait(self, seconds: float | None) -> tuple[int, ...]:
        """The signals that came; none after so many seconds."""
        select.select([self._out], [], [], seconds)
        try:
            return tuple(os.read(self._out, 512))
        except BlockingIOError:
            return ()


def _nothing(number: int, frame: Any) -> None:
    """Python's own handler would end the process, or raise."""


def die_with_parent(number: int, parent: int) -> None:
    """Ask for a signal when the parent (its process id) is gone; on systems other than Linux it does nothing."""
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(_PR_SET_PDEATHSIG, number)
        if os.getppid() != parent:  # it was gone before we asked
            os.kill(os.getpid(), number)


def cores() -> int:
    """The processor cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
