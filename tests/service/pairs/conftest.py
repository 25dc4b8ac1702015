"""A client with the club's overlay, and one without."""

from __future__ import annotations

import pytest
from flask.testing import FlaskClient
from mill_lane import CLUB

from service.app import build
from service.config import Config


@pytest.fixture(scope="module")
def overlay(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("club") / "club.yaml"
    path.write_text(CLUB, encoding="utf-8")
    return str(path)


@pytest.fixture(scope="module")
def client(overlay: str) -> FlaskClient:
    return build(Config(checks_per_minute=0, rules=overlay)).test_client()
