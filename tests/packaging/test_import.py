"""A check on the command line loads none of the web and none of a store: that time is not spent."""

import ast
import subprocess
import sys

import pytest

#: What only the service needs (or will), by top-level name.
HEAVY = {
    *("flask", "flask_cors", "flask_smorest", "werkzeug", "jinja2", "webargs", "apispec", "gunicorn", "limits"),
    *("sqlalchemy", "alembic", "celery", "redis", "requests", "numpy", "highspy", "icalendar", "astral"),
}
RUN = """\
import io, os, sys
from service.cli import main
out, sys.stdout = sys.stdout, io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
status = main(sys.argv[1:])
print((status, sorted({name.partition(".")[0] for name in sys.modules})), file=out)
"""


def loaded_by(*arguments: str) -> tuple[int, set[str]]:
    """Exit status of a command and the top-level modules that it loaded, in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", RUN, *arguments], capture_output=True, text=True, check=True, timeout=60
    )
    status, names = ast.literal_eval(done.stdout)
    return status, set(names)


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_check_loads_no_web_and_no_store(form: str) -> None:
    status, names = loaded_by("check", "demo", "--format", form)
    assert status == 2
    assert {"rules", "service", "marshmallow", "networkx", "yaml"} <= names
    assert names & HEAVY == set()


@pytest.mark.parametrize("words", [("crops", "courgette"), ("rules", "list"), ("rules", "lint")])
def test_look_ups_load_no_web_and_no_store(words: tuple[str, ...]) -> None:
    status, names = loaded_by(*words)
    assert status == 0
    assert "rules" in names
    assert names & HEAVY == set()


def test_what_is_loaded_is_seen() -> None:
    """The document needs the application, so this command loads what a check may not."""
    status, names = loaded_by("openapi")
    assert status == 0
    assert {"flask", "werkzeug", "flask_smorest"} <= names & HEAVY
