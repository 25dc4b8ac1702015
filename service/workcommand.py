"""``breakcrop worker`` and ``breakcrop migrate``: what serve does beside serving, by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.terminal import FAILURE, USAGE, Stop, load_knowledge, put

if TYPE_CHECKING:
    from service.config import Config
    from service.store.session import Store


@click.command()
@click.option("--alive", metavar="FILE", help="Touch this file every few seconds as long as all is well.")
def worker(alive: str | None) -> None:
    """Work through jobs until stopped.

    serve runs one by itself. With BREAKCROP_BROKER_URL set, workers on other machines are woken
    through Redis; without it the worker looks for jobs every second. It stops on SIGTERM: what
    can be finished in a few seconds is, the rest is left to others.
    """
    from service.database import open_store
    from service.recordstore import speaking
    from service.store.migrating import require_head
    from service.store.using import used

    config = settings()
    with speaking():
        store = open_store(config.database_url)
        require_head(store)
    if config.rules is not None:
        load_knowledge(config.rules)  # told here if it cannot be used, and not by every garden of a job
    start_log(config)
    if config.broker_url is None:
        from service.jobs.local import work
    else:
        try:
            from service.jobs.cluster import work
        except ImportError:
            raise Stop("BREAKCROP_BROKER_URL needs Celery and Redis: install breakcrop[cluster].", USAGE) from None
    with speaking(), used(store):
        work(store, config, alive)


@click.command()
def migrate() -> None:
    """Bring the record into the shape that this version needs.

    serve does it by itself; where several services share a record, run it once before them.
    """
    ready_record(settings())
    put("The record is in this version's shape.\n")


def ready_record(config: Config) -> Store:
    """The record in this version's shape, brought into it under a lock; ``Stop`` where that cannot be."""
    from service.database import ready_store
    from service.store.errors import StoreError

    try:
        return ready_store(config.database_url)
    except StoreError as error:
        raise Stop(error.detail, FAILURE) from None


def settings() -> Config:
    """The settings; ``Stop`` where one of them cannot be used."""
    from service.config import ConfigError, read_config

    try:
        return read_config()
    except ConfigError as error:
        raise Stop(str(error), USAGE) from None


def start_log(config: Config) -> None:
    """Log to standard error, as much as the settings ask for."""
    import logging

    logging.basicConfig(format="%(asctime)s %(levelname)s %(name)s: %(message)s")
    logging.getLogger("breakcrop").setLevel(config.log_level.upper())
