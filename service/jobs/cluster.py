"""Workers on many machines: Celery on Redis carries the message that there is work.

A message wakes crews and says nothing else: who gets which chunk is decided by the claim in the
database, so a message that comes twice, late or never costs time and no answer.  It goes to all
workers at once.  Idle crews look by themselves every few seconds, which also picks up chunks whose
worker died.
"""

from __future__ import annotations

import logging
import threading
from typing import Any

from celery import Celery, signals
from kombu import Exchange
from kombu.common import Broadcast

from service.config import Config
from service.jobs.local import LOOK, Keeper, new_crew
from service.store.session import Store

#: Seconds between two looks of an idle crew.
POLL = 5.0
#: Seconds that a request waits for a broker that is away.
PATIENCE = 1
WAKE = "breakcrop.wake"
_TO_ALL = Exchange(WAKE, type="fanout", durable=False)

log = logging.getLogger("breakcrop")


def new_app(broker_url: str, **transport: Any) -> Celery:
    """Celery as it is used here: one short message to all, and no results."""
    app = Celery("breakcrop", broker=broker_url)
    app.conf.update(
        task_ignore_result=True,
        task_queues=(Broadcast(WAKE, exchange=_TO_ALL),),
        task_default_queue=WAKE,
        broker_connection_timeout=PATIENCE,
        broker_connection_retry_on_startup=True,
        broker_connection_max_retries=None,
        broker_transport_options={"socket_connect_timeout": PATIENCE, **transport},
        worker_hijack_root_logger=False,
        worker_redirect_stdouts=False,
        worker_enable_remote_control=False,
        worker_send_task_events=False,
        # The only task is over at once; without a word on this Celery warns whenever the broker goes.
        worker_cancel_long_running_tasks_on_connection_loss=True,
    )
    return app


def messenger(broker_url: str) -> Celery:
    """For those who only call: it gives up soon when the broker does not answer."""
    return new_app(broker_url, socket_timeout=PATIENCE, max_retries=0, interval_start=0)


def call(app: Celery) -> bool:
    """Wake all workers; False where the broker is away (they will look by themselves)."""
    try:
        # Unless it is declared here too, the exchange is taken for one that has a queue.
        app.send_task(WAKE, exchange=_TO_ALL, declare=[_TO_ALL], routing_key=WAKE, retry=False, expires=60)
    except Exception as error:  # whatever the broker's library raises: the job is written down already
        log.warning("the workers could not be called: %s", error)
        return False
    return True


def work(store: Store, config: Config, alive: str | None = None) -> None:
    """Work until SIGTERM or SIGINT, woken by messages."""
    assert config.broker_url is not None
    app = new_app(config.broker_url)
    crew = new_crew(store, config, POLL)
    keeper, over = Keeper(crew, config, alive), threading.Event()

    @app.task(name=WAKE)
    def wake() -> None:
        log.info("called")
        crew.wake()

    def keep() -> None:
        while not over.wait(LOOK):
            keeper.look()

    def begin(**_: Any) -> None:
        crew.start()
        threading.Thread(target=keep, daemon=True).start()

    signals.worker_init.connect(begin, weak=False)
    level = f"--loglevel={config.log_level}"
    try:
        # The message is handled at once, in the process that holds the crew.
        app.worker_main(
            ["--quiet", "worker", "--pool=solo", "--without-gossip", "--without-mingle", "--without-heartbeat", level]
        )
    finally:
        over.set()
        crew.stop()
