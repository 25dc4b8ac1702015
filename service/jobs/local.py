"""The worker by itself: a crew that looks for work every second, until it is told to stop."""

from __future__ import annotations

import logging
import signal
from datetime import timedelta
from pathlib import Path
from time import monotonic

from service.config import Config
from service.jobs.crew import Crew, Pace
from service.jobs.jobs import purge_all
from service.signals import Bell, cores
from service.store.clock import moment
from service.store.errors import StoreError
from service.store.once import forget_expired
from service.store.session import Store

POLL = 1.0
#: Seconds between two looks at the crew's health, and two purges.
LOOK, PURGE = 2.0, 3600.0
#: A hand that has not been seen for so long is stuck.
STUCK = 60.0

log = logging.getLogger("breakcrop")


def work(store: Store, config: Config, alive: str | None = None) -> None:
    """Work until SIGTERM or SIGINT; ``alive`` is a file to touch as long as all is well."""
    with Bell(signal.SIGTERM, signal.SIGINT) as bell:
        crew = new_crew(store, config, POLL)
        crew.start()
        keeper = Keeper(crew, config, alive)
        while not bell.wait(LOOK):
            keeper.look()
        crew.stop()


def new_crew(store: Store, config: Config, poll: float) -> Crew:
    """The crew that the settings ask for; it looks as often as leases can run out, or oftener."""
    lease = float(config.lease_seconds)
    return Crew(store, config.worker_processes or cores(), Pace(lease, min(poll, lease)))


class Keeper:
    """Shows that a crew is well, and has the record forget what was kept long enough."""

    def __init__(self, crew: Crew, config: Config, alive: str | None) -> None:
        self._crew, self._alive = crew, alive
        self._kept = timedelta(days=config.results_kept_days)
        self._purged = float("-inf")

    def look(self) -> None:
        """Called every few seconds."""
        if self._alive is not None and self._crew.well(STUCK):
            Path(self._alive).touch()
        if monotonic() - self._purged > PURGE:
            self._purged = monotonic()
            try:
                with self._crew.store.write() as session:
                    now = moment(session)
                    forget_expired(session, now=now)
                if gone := purge_all(self._crew.store, self._kept, now=now):
                    log.info("%s jobs were kept long enough and are gone", gone)
            except StoreError as error:
                log.warning("nothing could be purged: %s", error.detail)
