"""README as its tests read it: blocks, commands and answers, and a service that is asked as it says."""

from __future__ import annotations

import itertools
import os
import re
import shlex
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from service.config import PREFIX, SETTINGS

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
CLOCK = Path(__file__).with_name("clock")
BIN = Path(sys.executable).parent
SHOWN_BASE, SERVE = "http://127.0.0.1:8080", ".venv/bin/breakcrop serve"
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)
NEW_TOKEN = ".venv/bin/breakcrop tokens create --scope garden_write --label phone"
TABLE = "| variable | default | what it sets |\n|---|---|---|\n"


class Block(NamedTuple):
    """A fenced part of README: its mark, its text and where the text stands."""

    kind: str
    text: str
    start: int
    end: int


class Example(NamedTuple):
    """A command of README and the answer that stands under it."""

    command: str
    answer: Block


def blocks(text: str) -> list[Block]:
    return [Block(m[1], m[2], *m.span(2)) for m in FENCE.finditer(text)]


def examples(text: str) -> list[Example]:
    found = blocks(text)
    pairs = itertools.pairwise(found)
    return [Example(a.text.strip(), b) for a, b in pairs if a.kind == "sh" and b.kind in ("text", "json")]


def plan_of(text: str) -> str:
    (plan,) = [block.text for block in blocks(text) if block.kind == "yaml"]
    return plan


def write_files(folder: Path, text: str) -> None:
    """README's plan and its sheet, under the names that its commands use."""
    (sheet,) = [block.text for block in blocks(text) if block.kind == "csv"]
    (folder / "plan.yaml").write_text(plan_of(text), encoding="utf-8")
    (folder / "plots.csv").write_text(sheet, encoding="utf-8")


def settings_table() -> str:
    rows = (f"| `{s.variable}` | {f'`{s.default}`' if s.default else 'not set'} | {s.help} |\n" for s in SETTINGS)
    return TABLE + "".join(rows)


def record_of(folder: Path) -> str:
    """The record that README's commands keep: a file beside its plan."""
    return f"sqlite:///{folder}/record.db"


def environment(**more: str) -> dict[str, str]:
    """This environment without our own settings, as wide as a plain terminal, on the day of README's answers."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(PREFIX)}
    return kept | {"COLUMNS": "80", "NO_COLOR": "1", "PYTHONUTF8": "1", "PYTHONPATH": str(CLOCK)} | more


@cache
def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command of README in a folder, with the programs of this environment."""
    line = command.replace(".venv/bin/", f"{shlex.quote(str(BIN))}/")
    return subprocess.run(
        ["/bin/sh", "-c", line], cwd=folder, env=environment(BREAKCROP_DATABASE_URL=record_of(folder)),
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def cut(shown: Any, real: Any) -> Any:
    """The real answer cut down to the keys that are shown; lists are shown whole."""
    if isinstance(shown, dict) and isinstance(real, dict):
        return {key: cut(value, real[key]) if key in real else "<no such key>" for key, value in shown.items()}
    if isinstance(shown, list) and isinstance(real, list) and shown and isinstance(shown[0], dict):
        return [cut(shown[min(i, len(shown) - 1)], part) for i, part in enumerate(real)]
    return real


EXAMPLES = examples(README.read_text(encoding="utf-8"))
