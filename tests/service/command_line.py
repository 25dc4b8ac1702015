"""Plans in files, and the command run on them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
HEAD = "as_of: 2026-11-20\njudge: {season: 2027}\ngarden: {name: Row, latitude: 46.2}\n"
ROW = "  - {bed: a, crop: %s, start: %s, end: %s}\n"
#: A plan for each verdict.
PLANS = {
    "clear": ROW % ("peas", "2025-04-01", "2025-07-01")
    + ROW % ("carrots", "2026-04-01", "2026-09-01")
    + ROW % ("lettuce", "2027-04-01", "2027-06-01"),
    "caution": ROW % ("cucumber", "2025-05-10", "2025-09-20")
    + ROW % ("carrots", "2026-04-01", "2026-09-01")
    + ROW % ("cucumber", "2027-05-15", "2027-09-20"),
    "breach": ROW % ("kale", "2026-04-01", "2026-10-01") + ROW % ("cabbage", "2027-04-01", "2027-09-01"),
    "unknown": ROW % ("cabbage", "2027-04-01", "2027-09-01"),
}


def a_plan(tmp_path: Path, verdict: str, name: str = "plan.yaml") -> str:
    path = tmp_path / name
    path.write_text(HEAD + "beds: [{id: a, name: Bed A}]\nplantings:\n" + PLANS[verdict])
    return str(path)


def run(*arguments: str, stdin: bytes | None = None, **env: str) -> subprocess.CompletedProcess[bytes]:
    """The command in a process of its own."""
    clean = {key: value for key, value in os.environ.items() if key not in ("NO_COLOR", "COLUMNS")}
    return subprocess.run(
        [sys.executable, "-m", "service.cli", *arguments],
        input=stdin,
        capture_output=True,
        cwd=ROOT,
        env=clean | env,
        timeout=60,
        check=False,
    )
