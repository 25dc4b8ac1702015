"""Hands that take chunks from the store, each with a process to work through them.

This is all there is to a worker, by itself (``local``) or woken by messages (``cluster``).
"""

from __future__ import annotations

import logging
import os
import socket
import threading
from collections.abc import Callable
from datetime import timedelta
from time import monotonic, sleep
from typing import NamedTuple, TypeVar

from sqlalchemy.orm import Session

from service.jobs import chunks
from service.jobs.kinds import KINDS
from service.jobs.packing import pack, unpack
from service.jobs.slot import Died, Dropped, Errand, Slot
from service.store.clock import moment
from service.store.errors import Busy, Unavailable
from service.store.session import Store

#: Processes that a chunk may cost before its gardens are tried one by one, and then each of these.
FAULTS = 2
#: Seconds that a worker which is told to stop gives a chunk to be finished in.
GRACE = 10.0

log = logging.getLogger("breakcrop")
Got = TypeVar("Got")


class Pace(NamedTuple):
    """Seconds: how long a claim holds without being renewed, and how long the idle wait."""

    lease: float = 60.0
    poll: float = 1.0


class Crew:
    """Some hands that work for one store until they are stopped."""

    def __init__(self, store: Store, processes: int, pace: Pace) -> None:
        self.store, self.pace = store, pace
        self._work = threading.Condition()
        self._stop_by: float | None = None
        name = f"{socket.gethostname()[:40]}:{os.getpid()}"
        self._hands = [_Hand(self, f"{name}:{number}") for number in range(processes)]

    def start(self) -> None:
        """Begin to work."""
        for hand in self._hands:
            hand.start()

    def wake(self) -> None:
        """There may be work: idle hands look at once."""
        with self._work:
            self._work.notify_all()

    def stop(self, grace: float = GRACE) -> None:
        """Finish what can be finished in so many seconds, give the rest back, and end."""
        self._stop_by = monotonic() + grace
        self.wake()
        for hand in self._hands:
            if hand.ident is not None:  # it was started
                hand.join()

    @property
    def stopping(self) -> bool:
        """True once it has been told to stop."""
        return self._stop_by is not None

    @property
    def out_of_time(self) -> bool:
        """True once it should have stopped."""
        return self._stop_by is not None and monotonic() > self._stop_by

    def well(self, within: float) -> bool:
        """True where every hand has shown life within so many seconds."""
        return all(hand.is_alive() and monotonic() - hand.seen < within for hand in self._hands)

    def idle(self, seconds: float) -> None:
        """Wait until there may be work."""
        with self._work:
            if not self.stopping:
                self._work.wait(seconds)


class _Hand(threading.Thread):
    """One chunk at a time, from claim to answer."""

    def __init__(self, crew: Crew, name: str) -> None:
        super().__init__(name=name, daemon=True)
        self.crew, self.slot, self.seen = crew, Slot(), monotonic()

    def run(self) -> None:
        while not self.crew.stopping:
            self.seen = monotonic()
            try:
                self.slot.warm()
                busy = self._work_once()
            except (Busy, Unavailable) as error:
                log.warning("the record: %s", _told(error))
                busy = False
            except Dropped as error:
                log.warning("%s", error)
                busy = False
            except Exception:
                log.exception("a chunk could not be worked on")
                busy = False
            if not busy:
                self.crew.idle(self.crew.pace.poll)
        self.slot.end()

    def _work_once(self) -> bool:
        """See one chunk through; False when there is none to be had."""
        store, lease = self.crew.store, timedelta(seconds=self.crew.pace.lease)
        # Of a kind that this version does not know nothing is claimed: a newer worker will.
        worker = chunks.Worker(self.name, self.slot.rules, tuple(KINDS))
        with store.read() as session:
            if not chunks.due(session, worker, now=moment(session), lease=lease):
                return False
        with store.write() as session:
            held = chunks.claim(session, worker, now=moment(session), lease=lease)
        if held is None:
            return False
        if held.faults >= FAULTS and held.gardens > 1:
            log.warning("job %s: %s gardens from %s on one by one", held.job_id, held.gardens, held.first)
            works = [pack([garden]) for garden in unpack(held.work)]
            self._insist(lambda session: chunks.split(session, held, works, now=moment(session)))
            return True
        self._see_through(held)
        return True

    def _see_through(self, held: chunks.Claim) -> None:
        errand = Errand(KINDS[held.kind], held.job_id, held.shared, held.work, held.rules, held.faults >= FAULTS)
        try:
            answers = self.slot.run(errand, _Lease(self, held))
        except (Died, Dropped) as end:
            if fault := isinstance(end, Died):
                log.warning("job %s, gardens %s to %s: %s", held.job_id, held.first, held.first + held.gardens - 1, end)
            # Where the chunk is no longer ours this changes nothing.
            self._insist(lambda session: chunks.give_back(session, held, now=moment(session), fault=fault))
            return
        finished = self._insist(lambda session: chunks.finish(session, held, *answers, now=moment(session)))
        if finished is None:  # a full disk may take a smaller write; nobody died of this chunk
            self._insist(lambda session: chunks.give_back(session, held, now=moment(session), fault=False))
        elif not finished:
            log.warning("job %s, gardens from %s: an answer came too late", held.job_id, held.first)

    def _insist(self, work: Callable[[Session], Got]) -> Got | None:
        """Write, trying again while the store is busy or away; None where it stayed so for half a lease.

        That is less than what is left of a lease that was renewed in time, so that nobody has taken the chunk over.
        """
        until = monotonic() + self.crew.pace.lease / 2
        while True:
            try:
                with self.crew.store.write() as session:
                    return work(session)
            except (Busy, Unavailable) as error:
                if monotonic() > until:
                    log.error("the record: %s", _told(error))
                    return None
            sleep(0.2)


class _Lease:
    """Whether a chunk is still wanted: renews its lease in time, and knows when it was lost."""

    def __init__(self, hand: _Hand, held: chunks.Claim) -> None:
        self._hand, self._held = hand, held
        self._renewed = monotonic()

    def __call__(self) -> bool:
        crew, self._hand.seen = self._hand.crew, monotonic()
        if crew.out_of_time:
            return False
        # Often enough for a cancelled job to stop soon.
        if monotonic() - self._renewed < min(crew.pace.lease / 3, 5.0):
            return True
        lease = timedelta(seconds=crew.pace.lease)
        try:
            with crew.store.write() as session:
                kept = chunks.renew(session, self._held, now=moment(session), lease=lease)
        except (Busy, Unavailable):
            # Others may take it over now; until somebody does, it can still be finished.
            return True
        self._renewed = monotonic()
        return kept


def _told(error: Busy | Unavailable) -> str:
    """The error with the words of the database, which say whether it is away or its disk is full."""
    cause = getattr(error.__cause__, "orig", None)
    return f"{error.detail} ({cause})" if cause else error.detail
