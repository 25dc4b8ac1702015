"""A client, and the plan as a file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bed_plan import PLAN
from flask.testing import FlaskClient

from service.app import build
from service.config import Config

app = build(Config(checks_per_minute=0))


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()


@pytest.fixture
def plan_file(tmp_path: Path) -> str:
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(PLAN), encoding="utf-8")
    return str(path)
