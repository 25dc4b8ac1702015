"""A gunicorn worker that leaves to its siblings the connections that they can serve sooner."""

from __future__ import annotations

import time
from typing import Any

from gunicorn.workers.gthread import ThreadWorker

#: Seconds that a worker with something to do waits before it takes a connection: an idle sibling,
#: woken by the same connection, is quicker.
COURTESY = 0.0002


class EvenWorker(ThreadWorker):
    """gunicorn's threaded worker, but it takes no new connection while all its threads are busy.

    gunicorn's own takes whatever comes, however much waits already; connections that are kept open
    stay where they are, so one process may be left with all the work while the others idle.
    All of these methods run in the worker's main thread.
    """

    #: Requests that are being answered or wait for a thread.
    at_work = 0

    def set_accept_enabled(self, enabled: bool) -> None:
        """Listen, or leave the listeners alone; the main loop asks anew after every event."""
        super().set_accept_enabled(enabled and self.at_work < self.cfg.threads)

    def accept(self, listener: Any) -> None:
        """Take a connection, unless a sibling is quicker."""
        if self.at_work:
            time.sleep(COURTESY)
        super().accept(listener)

    def enqueue_req(self, conn: Any) -> None:
        """Hand a request to the threads."""
        self.at_work += 1
        super().enqueue_req(conn)
        if self.at_work >= self.cfg.threads:
            self.set_accept_enabled(False)

    def finish_request(self, conn: Any, fs: Any) -> None:
        """A thread is free again."""
        self.at_work -= 1
        super().finish_request(conn, fs)
