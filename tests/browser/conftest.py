"""A service with the demo garden, a club's website on another origin, and a browser."""

from __future__ import annotations

import functools
import http.server
import threading
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright
from werkzeug.serving import make_server

import rules
from service.app import build
from service.config import Config
from service.importing import read_garden, store_garden
from service.planfile import DEMO
from service.resources import recorded, writing
from service.store.migrating import migrate
from service.store.repository import Repository
from service.store.session import Store
from service.store.tokens import create_token

CHROMIUM = "/usr/bin/chromium"
#: No sandbox, as tests may run as root; no shared memory, of which containers have little; and nothing that
#: would call home.
ARGUMENTS = (
    *("--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
HEAD = '<!doctype html><html lang="en"><meta charset="utf-8"><title>Club</title><link rel="icon" href="data:,">'
NOW = datetime(2026, 11, 20, 9, tzinfo=UTC)
TODAY = NOW.date()
#: Milliseconds that the browser and the service may take over anything, however busy the machine is.
PLENTY = 120_000

expect.set_options(timeout=PLENTY)


@dataclass(frozen=True)
class Site:
    """Where the service answers, where the club's pages lie, the garden, and its keys by scope."""

    service: str
    club: str
    folder: Path
    store: Store
    garden: str
    keys: dict[str, str]

    @property
    def source(self) -> str:
        """What the element's src says."""
        return f"{self.service}/v1/gardens/{self.garden}"

    def put(self, name: str, body: str) -> str:
        """Write a page of the club's; its address."""
        (self.folder / name).write_text(HEAD + body, "utf-8")
        return f"{self.club}/{name}"

    def element(self, more: str = "", key: str | None = None) -> str:
        """The two lines that a webmaster pastes."""
        key = self.keys["publishable_read"] if key is None else key
        return (
            f'<script type="module" src="{self.service}/static/breakcrop-garden.js"></script>'
            f'<breakcrop-garden src="{self.source}" key="{key}" {more}></breakcrop-garden>'
        )


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        """Nothing on the terminal."""


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    folder = tmp_path_factory.mktemp("club")
    pages = http.server.ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(_Quiet, directory=str(folder)))
    club = f"http://localhost:{pages.server_address[1]}"
    url = f"sqlite:///{tmp_path_factory.mktemp('record') / 'record.db'}"
    day = pytest.MonkeyPatch()
    for module in (recorded, writing):
        day.setattr(module, "today", lambda zone: TODAY)
    store = Store(url)
    migrate(store)
    garden, keys = demo_garden(store)
    app = build(Config(database_url=url, checks_per_minute=0, cors_origins=(club,)))
    service = make_server("127.0.0.1", 0, _whole(app), threaded=True)
    threads = [threading.Thread(target=server.serve_forever, daemon=True) for server in (pages, service)]
    for thread in threads:
        thread.start()
    yield Site(f"http://127.0.0.1:{service.server_port}", club, folder, store, garden, keys)
    for server in (pages, service):
        server.shutdown()
        server.server_close()
    for thread in threads:
        thread.join()
    store.close()
    day.undo()


def _whole(app: Any) -> Any:
    """The application with answers in one piece: a browser that hangs up early leaves no file open."""

    def answer(environ: Any, start_response: Any) -> list[bytes]:
        with closing(app(environ, start_response)) as parts:
            return [b"".join(parts)]

    return answer


def demo_garden(store: Store) -> tuple[str, dict[str, str]]:
    """The demo in a store, and a token of each scope of a garden."""
    contents = read_garden(DEMO.read_bytes(), "yaml", knowledge=rules.load_knowledge(), today=lambda _: TODAY, now=NOW)
    with store.write() as session:
        club = Repository(session).add_club("Tannery Row", now=NOW)
        garden = store_garden(Repository(session), contents, club_id=club.id, now=NOW)
        scopes = ("publishable_read", "garden_read", "garden_write")
        keys = {s: create_token(session, club.id, s, garden_id=garden.id, now=NOW)[1] for s in scopes}
    return garden.id, keys


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS), timeout=PLENTY)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that must not meet an error of script that nobody caught."""
    page = browser.new_page()
    page.set_default_timeout(PLENTY)
    broken: list[str] = []
    page.on("pageerror", lambda error: broken.append(str(error)))
    yield page
    page.close()
    assert broken == []
