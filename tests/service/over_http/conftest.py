"""A client of the application."""

from __future__ import annotations

import pytest
from check_door import QUIET
from flask.testing import FlaskClient

from service.app import build

app = build(QUIET)


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()
