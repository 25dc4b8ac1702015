"""An application without a budget, and a check asked of it."""

from __future__ import annotations

from html.parser import HTMLParser

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from service.config import Config
from service.examples import PLAN

QUIET = Config(checks_per_minute=0)


def check(client: FlaskClient, query: str = "", **request: object) -> TestResponse:
    request.setdefault("json", PLAN)
    return client.post(f"/v1/checks{query}", **request)


class Page(HTMLParser):
    """The links, loaded files, ids and words of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.loaded: list[str] = []
        self.ids: list[str] = []
        self.words: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        assert tag not in ("script", "iframe", "form", "img")
        assert "style" not in values
        if "id" in values:
            self.ids.append(values["id"])
        if "href" in values:
            (self.loaded if tag == "link" else self.links).append(values["href"])

    def handle_data(self, data: str) -> None:
        self.words += data.split()


def words(answer: TestResponse) -> str:
    return " ".join(Page(answer.get_data(as_text=True)).words)
