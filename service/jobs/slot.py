"""A process that works through one chunk after another, and can be ended at any moment.

A garden that kills the process, or hangs in it, takes nothing else with it.  The process is
spawned, not forked: a fork would copy a parent that has threads, and hold on to its connections.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
from collections.abc import Callable
from multiprocessing.connection import Connection
from time import monotonic
from typing import Any, NamedTuple

from service.encode import to_bytes
from service.jobs.kinds import RULES, Kind, function
from service.jobs.packing import pack_lines, unpack
from service.memory import seldom
from service.signals import die_with_parent

#: Seconds between two looks at whether the work is still wanted.
TICK = 0.25
#: Seconds in which a process must be up with everything loaded, and then have prepared what gardens share.
STARTING = PREPARING = 120.0
FAULT = "Something went wrong on our side while this garden was worked on. It was left out; the others were answered."

log = logging.getLogger("breakcrop")
_spawn = multiprocessing.get_context("spawn")


class Errand(NamedTuple):
    """A chunk as a process gets it.

    ``rules`` is the rule set that it is to be worked on by ("" for any).  ``give_up``: its garden has killed enough
    processes, only say so.
    """

    kind: Kind
    job_id: str
    shared: bytes
    work: bytes
    rules: str = ""
    give_up: bool = False


class Answers(NamedTuple):
    """The lines of a chunk, packed, and how many of them are errors."""

    lines: bytes
    failed: int


class Died(Exception):
    """The process ended, or had to be ended, before the chunk was answered."""


class Dropped(Exception):
    """The chunk was let go through no fault of its own: it is not wanted any more, or nothing could be started."""


class Slot:
    """One process at a time, started when there is something to do."""

    #: The rule set of the process, once it is up.
    rules = ""

    def __init__(self) -> None:
        self._process: Any = None
        self._pipe: Connection | None = None

    def run(self, errand: Errand, wanted: Callable[[], bool]) -> Answers:
        """Have a chunk worked through.

        ``wanted`` is asked a few times a second.

        Raises
        ------
        Died, Dropped
        """
        pipe = self._ready()
        if errand.rules not in (self.rules, ""):  # this process is younger than the claim
            raise Dropped("its rule set is another one")
        try:
            pipe.send(errand)
            patience, heard = PREPARING, monotonic()
            while wanted():
                if pipe.poll(TICK):
                    said = pipe.recv()
                    if isinstance(said, Answers):
                        return said
                    patience, heard = errand.kind.patience, monotonic()
                elif monotonic() - heard > patience:
                    raise Died(f"nothing was heard of it for {patience:g} seconds")
            raise Dropped
        except (EOFError, OSError):
            self._process.join(1)
            code = self._process.exitcode
            self.end()  # a pipe that is broken is of no use to the next chunk
            raise Died(f"its process ended with {code}") from None
        except (Died, Dropped):
            self.end()
            raise

    def warm(self) -> None:
        """Start the process where there is none, and wait until it is up; ``Dropped`` where it is not to be had."""
        self._ready()

    def end(self) -> None:
        """End the process, whatever it is doing."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
            self._process.close()
            self._pipe.close()  # type: ignore[union-attr]
            self._process = self._pipe = None

    def _ready(self) -> Connection:
        if self._process is not None and not self._process.is_alive():
            self.end()
        if self._pipe is None:
            try:
                self._start()
            except (EOFError, OSError) as error:  # the system has none to spare, or the rules cannot be used
                self.end()
                raise Dropped(f"no process could be started: {error or 'it ended at once'}") from None
        assert self._pipe is not None
        return self._pipe

    def _start(self) -> None:
        ours, theirs = _spawn.Pipe()
        process = _spawn.Process(target=serve, args=(theirs, os.getpid()), daemon=True)
        try:
            process.start()
        except OSError:
            ours.close()
            raise
        finally:
            theirs.close()
        self._process, self._pipe = process, ours
        if not ours.poll(STARTING):
            raise OSError(f"it was not up in {STARTING:g} seconds")
        self.rules = ours.recv()


def serve(pipe: Connection, parent: int) -> None:
    """The life of the process: its rule set out; then for each errand that comes in a beat a garden and its answers."""
    for number in (signal.SIGINT, signal.SIGTERM):  # meant for the parent, which then ends us
        signal.signal(number, signal.SIG_IGN)
    die_with_parent(signal.SIGKILL, parent)
    seldom()
    prepared: tuple[str, Any] = ("", None)
    try:
        pipe.send(function(RULES)())
        while True:
            errand: Errand = pipe.recv()
            if prepared[0] != errand.job_id and not errand.give_up:
                prepared = (errand.job_id, function(errand.kind.prepare)(unpack(errand.shared)))
            pipe.send(None)
            pipe.send(answer(errand, prepared[1], lambda: pipe.send(None)))
    except (EOFError, BrokenPipeError):
        return  # the parent is gone


def answer(errand: Errand, prepared: Any, beat: Callable[[], None]) -> Answers:
    """The lines of a chunk, one for each garden, in their order."""
    work, refuse = function(errand.kind.work), function(errand.kind.refuse)
    lines, failed = [], 0
    for garden in unpack(errand.work):
        line = refuse(garden, FAULT) if errand.give_up else _line(work, refuse, garden, prepared)
        failed += line["type"] == "error"
        lines.append(to_bytes(line))
        beat()
    return Answers(pack_lines(lines), failed)


def _line(work: Any, refuse: Any, garden: Any, prepared: Any) -> Any:
    for final in (False, True):
        try:
            return work(garden, prepared)
        except MemoryError:
            raise  # nothing in this process can be relied on any more
        except Exception:
            if final:
                log.exception("a garden could not be worked on")
    return refuse(garden, FAULT)
