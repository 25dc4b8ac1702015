"""Measure everything that has a target and write one table: ``python tests/bench/run.py [--quick]``.

It prints the table and writes it to ``RESULTS.md`` beside this file (a quick run only prints).
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))  # its neighbours are found as a module of tests.bench and as a script

import jobs  # noqa: E402
import proposals  # noqa: E402
from batch import batch_row  # noqa: E402
from engines import rows_of, side_by_side  # noqa: E402
from figures import QUICK, Effort, cold_row, load_row, reading_rows, size_row  # noqa: E402
from libraries import libraries  # noqa: E402
from measure import Row, table  # noqa: E402
from record import record_rows  # noqa: E402
from variants import VARIANTS  # noqa: E402

from rules import load_knowledge  # noqa: E402
from service.config import Config  # noqa: E402
from service.memory import seldom, settle  # noqa: E402

RESULTS = HERE / "RESULTS.md"
PACKAGES = ("flask", "flask-smorest", "gunicorn", "marshmallow", "networkx", "orjson", "pyyaml")


def machine() -> str:
    """Cores, Python and versions."""
    found = []
    for package in PACKAGES:
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            found.append(f"{package} absent")
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    load = f"; load before the run {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    python = f"{platform.python_implementation()} {platform.python_version()}"
    return f"{cores} cores, {platform.system()} {platform.machine()}, {python}{load}.\n{', '.join(found)}."


def document(rows: Sequence[Row], where: str, effort: Effort, parts: Mapping[str, str]) -> str:
    """The whole of RESULTS.md; ``parts`` are further tables under their headings."""
    settings = Config()
    how = f"""\
Medians after a warm-up, both sides in turn: {effort.rounds} rounds of {effort.calls} calls (reading, engine),
{effort.load_rounds} of {effort.seconds} s (load), {effort.size_rounds} (sizes), {effort.processes} processes (cold).
Both servers: gunicorn with {settings.workers} workers of {settings.threads} threads, no access log.
{VARIANTS} variants of the plan take turns, so that no text is known from the call before.
Plain marshmallow has our fields and hooks and the same JSON parser. "met" judges the ratio, or
the time where the target is one."""
    written = "Written by `python tests/bench/run.py`."
    beside = "".join(f"## {heading}\n\n{part.strip()}\n\n" for heading, part in parts.items())
    return f"# Speed against targets\n\n{where}\n\n{table(rows)}\n{how}\n\n{beside}{written}\n"


def measured(effort: Effort) -> list[Row]:
    """Every row, in the order of the design."""
    steps = {"cold start": cold_row, "load": load_row, "sizes": size_row}
    done = {}
    for name, step in steps.items():
        print(f"measuring: {name}", file=sys.stderr, flush=True)
        done[name] = step(effort)
    print("measuring: reading and engine", file=sys.stderr, flush=True)
    read = reading_rows(effort)
    print("measuring: batch and proposal", file=sys.stderr, flush=True)
    return [*read, done["load"], done["sizes"], batch_row(effort.gardens), done["cold start"], *proposals.rows()]


def further(effort: Effort, quick: bool) -> dict[str, str]:
    """The tables beside the first, under their headings."""
    found = {"Pair rules, beside general rule engines": engines_table(effort)}
    print("measuring: the record", file=sys.stderr, flush=True)
    found["The record of ten years over HTTP"] = table(record_rows(seconds=effort.seconds, rounds=effort.load_rounds))
    print("measuring: jobs", file=sys.stderr, flush=True)
    found["Jobs"] = jobs.figures(*(200, 200) if quick else (2_000, 2_000))
    print("measuring: proposals", file=sys.stderr, flush=True)
    found["Proposals, beside greedy choice, flow and published rotations"] = proposals.tables(quick)
    return found


def engines_table(effort: Effort) -> str:
    """The pair rules put to our table and to every general rule engine that is installed."""
    print("measuring: rule engines", file=sys.stderr, flush=True)
    knowledge = load_knowledge()
    return side_by_side(knowledge, libraries(rows_of(knowledge)), effort.questions, effort.engine_rounds)


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, print and write the table."""
    parser = argparse.ArgumentParser(description="Measure everything that has a target.")
    parser.add_argument("--quick", action="store_true", help="short runs, printed only")
    quick = parser.parse_args(arguments).quick
    effort = QUICK if quick else Effort()
    seldom()
    settle()  # as the service and the command line do
    where = machine()  # before the run makes load of its own
    text = document(measured(effort), where, effort, further(effort, quick))
    print(text)
    if not quick:
        RESULTS.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
