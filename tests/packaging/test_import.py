"""A check on the command line loads none of the web and none of a store: that time is not spent."""

import ast
import subprocess
import sys

#: What only the service needs (or will), by top-level name.
HEAVY = {
    *("flask", "flask_cors", "flask_smorest", "werkzeug", "jinja2", "webargs", "apispec", "gunicorn", "limits"),
    *("sqlalchemy", "alembic", "celery", "redis", "requests", "numpy", "highspy", "icalendar", "astral"),
}
RUN = """\
import io, sys
from service.cli import main
out, sys.stdout = sys.stdout, io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
told = {}
for line in sys.argv[1:]:
    status = main(line.split())
    told[line] = status, sorted({name.partition(".")[0] for name in sys.modules})
print(told, file=out)
"""


def loaded_by(*lines: str) -> dict[str, tuple[int, set[str]]]:
    """By command, run in turn in one process of their own: its exit status and what was loaded by then."""
    done = subprocess.run([sys.executable, "-c", RUN, *lines], capture_output=True, text=True, check=True, timeout=120)
    return {line: (status, set(names)) for line, (status, names) in ast.literal_eval(done.stdout).items()}


def test_checks_and_look_ups_load_no_web_and_no_store() -> None:
    told = loaded_by(
        "check demo", "check demo --format json", "check demo --format csv",
        "crops courgette", "rules list", "rules explain rotation.family-too-soon", "rules lint",
        "pairs onion cabbage", "pairs onion cabbage --format json",
    )  # fmt: skip
    assert [status for status, _ in told.values()] == [2, 2, 2, 0, 0, 0, 0, 0, 0]
    assert {"rules", "service", "marshmallow", "networkx", "yaml"} <= told["check demo"][1]
    assert {line: names & HEAVY for line, (_, names) in told.items() if names & HEAVY} == {}


def test_what_is_loaded_is_seen() -> None:
    """The document needs the application, so this command loads what a check may not."""
    ((status, names),) = loaded_by("openapi").values()
    assert status == 0
    assert {"flask", "werkzeug", "flask_smorest"} <= names & HEAVY
