"""Work for the guard's tests: what the child does in each of them (it must be able to import it)."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import time
from typing import Any

from rules.planning.propose import propose


class Thing:
    """Something that parent and child may share; it equals only itself."""


def answer(thing: Any, tell: Any) -> tuple[Any, str]:
    """Tells a first answer, then gives a better one."""
    tell((thing, "first"))
    print("a library that prints in the middle of it")
    sys.stdout.flush()
    os.write(1, b"and one that writes past Python\n")
    return thing, "last"


def sleeper(first: str | None, tell: Any) -> None:
    """Never ends; with a first answer, tells it before."""
    if first:
        tell(first)
    time.sleep(3600)


def holder(tell: Any) -> None:
    """Sleeps in C without letting Python have a word, as a solver may."""
    tell("seen")
    ctypes.PyDLL(None).sleep(3600)


def chatter(tell: Any) -> None:
    """Never stops telling."""
    while True:
        tell("again")


def stopped(tell: Any) -> None:
    """Stops, and reads and writes nothing any more."""
    os.kill(os.getpid(), signal.SIGSTOP)


def killed(first: str | None, tell: Any) -> None:
    """Dies without a word, as when memory runs out."""
    if first:
        tell(first)
    os.kill(os.getpid(), signal.SIGKILL)


def leaver(tell: Any) -> None:
    """Ends the process."""
    os._exit(7)


def failing(tell: Any) -> None:
    """Fails with an error of its own."""
    tell("before")
    raise ValueError("no such bed")


# -- solvers, in place of service.proposing.run.solve


def quick_then_killed(wishes: Any, plan: Any, knowledge: Any, seconds: float, tell: Any) -> None:
    """Has a quick answer and dies over the search."""
    tell(propose(wishes, plan, knowledge, seconds=0))
    os.kill(os.getpid(), signal.SIGKILL)


def quick_then_hangs(wishes: Any, plan: Any, knowledge: Any, seconds: float, tell: Any) -> None:
    """Has a quick answer and overruns its time."""
    tell(propose(wishes, plan, knowledge, seconds=0))
    ctypes.PyDLL(None).sleep(3600)


def only_quick(wishes: Any, plan: Any, knowledge: Any, seconds: float, tell: Any) -> Any:
    """Dies when it is to search, before any answer."""
    if seconds:
        os.kill(os.getpid(), signal.SIGKILL)
    return propose(wishes, plan, knowledge, seconds=0)


def no_solver(*_given: Any) -> None:
    """Always dies."""
    os.kill(os.getpid(), signal.SIGKILL)


def endless(*_given: Any) -> None:
    """Never has an answer."""
    time.sleep(3600)
