"""README's text, and a folder with its plan in it."""

from __future__ import annotations

from pathlib import Path

import pytest
from readme_shown import README, write_files


@pytest.fixture(scope="module")
def readme() -> str:
    return README.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, readme: str) -> Path:
    """An empty folder with README's plan in it, outside the checkout."""
    made = tmp_path_factory.mktemp("readme")
    write_files(made, readme)
    return made
