"""The measurements, one function a group of rows."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median
from typing import Any

from measure import Row, Subject, Target, in_turn, shown
from plain import plain_plan
from serve import client_name, gunicorn, load, post
from variants import VARIANTS, bodies

import rules
from service.reading import parse, read_plan, typed

USUAL = 180
SIZES = (200, 2_000, 20_000)
#: Exit statuses of a check that went well, whatever the verdict.
CHECKED = (2,)  # the demo has faults on purpose; a crash would end with 1


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to measure.

    ``seconds`` are those of one round of load, ``processes`` those of the cold start,
    ``questions`` and ``engine_rounds`` those that rule engines are asked, ``gardens`` those of a batch.
    """

    rounds: int = 15
    calls: int = 24
    load_rounds: int = 5
    seconds: int = 5
    size_rounds: int = 5
    processes: int = 7
    questions: int = 1_000
    engine_rounds: int = 5
    gardens: int = 10_000


QUICK = Effort(
    rounds=3, calls=8, load_rounds=1, seconds=2, size_rounds=1, processes=3, questions=200, engine_rounds=1, gardens=500
)


def reader(knowledge: rules.Knowledge) -> Callable[[bytes], rules.Plan]:
    """From JSON bytes to a plan, as the service and the command line read it."""
    return lambda body: read_plan(body, "json", today=lambda zone: date(2026, 11, 20), knowledge=knowledge)


def reading_rows(effort: Effort) -> list[Row]:
    """Reading against plain marshmallow, and the engine against reading, on the usual plan."""
    knowledge = rules.load_knowledge()
    read, load_plain, documents = reader(knowledge), plain_plan().load, bodies(USUAL)
    plans = [read(body) for body in documents]
    subjects: dict[str, Subject] = {
        "shape": lambda turn: typed(parse(documents[turn % VARIANTS], "json")[0]),
        "plain": lambda turn: load_plain(parse(documents[turn % VARIANTS], "json")[0]),
        "read": lambda turn: read(documents[turn % VARIANTS]),
        "engine": lambda turn: rules.check(plans[turn % VARIANTS], knowledge),
    }
    took = in_turn(subjects, rounds=effort.rounds, calls=effort.calls)
    nested = "plain Nested(many=True)"
    against = [
        ("read + validate, JSON to typed data", "shape", "plain", nested, 0.5),
        ("the same, names and references too", "read", "plain", nested, 0.5),
        ("engine on the same plan", "engine", "read", "reading it", 2.0),
    ]
    rows = []
    for what, ours, other, name, most in against:
        ratio = took[ours] / took[other]
        figures = f"{shown(took[ours])}; {name} {shown(took[other])}"
        rows.append(Row(f"{what}, {USUAL} plantings", figures, Target("at most", most), ratio, ratio))
    return rows


def load_row(effort: Effort) -> Row:
    """Checks a second against a bare Flask echo of the same bytes, loaded in turn."""
    documents = bodies(USUAL)
    rates: dict[str, list[float]] = {"ours": [], "echo": []}
    with (
        tempfile.TemporaryDirectory() as folder,
        gunicorn("service.wsgi:app", documents[0]) as ours,
        gunicorn("serve:echo()", documents[0]) as echoed,
    ):
        if post(echoed, documents[0]) != (200, documents[0]):
            raise RuntimeError("the echo does not give the bytes back")
        for count in range(-1, effort.load_rounds):  # the first round warms up
            for name, port in (("ours", ours), ("echo", echoed)):
                rate = load(port, documents, effort.seconds, Path(folder))
                if count >= 0:
                    rates[name].append(rate)
    checks, echoes = median(rates["ours"]), median(rates["echo"])
    what = f"POST /v1/checks, {USUAL} plantings, requests a second ({client_name()})"
    figures = f"{checks:.0f}; bare Flask echo {echoes:.0f}"
    return Row(what, figures, Target("at least", 0.25), checks / echoes, checks / echoes)


def size_row(effort: Effort) -> Row:
    """Reading and judging one site of growing size, as a multiple of what linear growth would take."""
    knowledge = rules.load_knowledge()
    read = reader(knowledge)
    small, middle, large = SIZES
    rounds: dict[int, dict[str, list[float]]] = {size: {"read": [], "check": []} for size in SIZES}
    # As many small documents as hold the plantings of a middle one, so that no round is over in no time.
    documents = {size: bodies(size, max(1, middle // size)) for size in SIZES}
    for _ in range(effort.size_rounds):
        for size in SIZES:
            for kind, seconds in _one_size(documents[size], read, knowledge, warm_up=int(size < large)).items():
                rounds[size][kind].append(seconds)
    took = {size: {kind: median(each) for kind, each in rounds[size].items()} for size in SIZES}
    for each in took.values():
        each["both"] = each["read"] + each["check"]

    def growth(kind: str, start: int = small) -> float:
        return took[large][kind] / took[start][kind] / (large / start)

    parts = [f"{size:,}: {shown(took[size]['both'])}" for size in SIZES]
    parts += [f"from {middle:,} {growth('both', middle):.2f}"]
    parts += [f"reading alone {growth('read'):.2f}", f"engine alone {growth('check'):.2f}"]
    what = f"{small:,} to {large:,} plantings on one site, times linear"
    return Row(what, "; ".join(parts), Target("at most", 1.3), growth("both"), growth("both"))


def _one_size(
    documents: list[bytes], read: Callable[[bytes], rules.Plan], knowledge: rules.Knowledge, warm_up: int
) -> dict[str, float]:
    plans = [read(body) for body in documents]
    subjects: dict[str, Subject] = {
        "read": lambda turn: read(documents[turn % len(documents)]),
        "check": lambda turn: rules.check(plans[turn % len(plans)], knowledge),
    }
    return in_turn(subjects, rounds=1, calls=len(documents), warm_up=warm_up)


def cold_row(effort: Effort) -> Row:
    """The command line as a whole process, beside a Python that does nothing."""
    script = Path(sys.executable).with_name("breakcrop")
    start = "import sys; from service.cli import main; sys.exit(main())"
    command = [str(script)] if script.exists() else [sys.executable, "-c", start]
    subjects: dict[str, Subject] = {
        "check": lambda turn: _process([*command, "check", "demo"], CHECKED),
        "pass": lambda turn: _process([sys.executable, "-c", "pass"], (0,)),
    }
    took = in_turn(subjects, rounds=effort.processes)
    figures = f"{shown(took['check'])}; python -c pass {shown(took['pass'])}"
    target = Target("at most", 0.6, "{:.1f} s")
    what = "breakcrop check demo, whole process from cold"
    return Row(what, figures, target, took["check"] / took["pass"], took["check"])


def _process(command: list[str], statuses: tuple[int, ...]) -> None:
    # As a user has it: with the bytecode that Python keeps.
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done: Any = subprocess.run(command, capture_output=True, check=False, timeout=60, env=env)
    if done.returncode not in statuses:
        raise RuntimeError(f"{command} ended with {done.returncode}: {done.stderr.decode()[:300]}")
