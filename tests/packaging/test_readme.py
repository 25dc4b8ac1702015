"""README is held to the program: its commands are run, its answers compared, its tables checked.

A fence marked ``sh`` that is followed by one marked ``text`` or ``json`` is a question and its
answer; what stands in ``json`` may be a part of the answer.  After a change of wording,
``python tests/packaging/test_readme.py --write`` puts the real answers and settings into README.
"""

from __future__ import annotations

import itertools
import json
import os
import re
import shlex
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

import click
import pytest
import yaml

from service.app import build
from service.cli import cli
from service.config import PREFIX, SETTINGS, Config

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
BIN = Path(sys.executable).parent
SHOWN_BASE, SERVE = "http://127.0.0.1:8080", ".venv/bin/breakcrop serve"
SET_UP = "python3 -m venv .venv && .venv/bin/pip install -e "
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", re.M | re.S)
ROUTE = re.compile(r"(?:(GET|POST) )?(/(?:v1/[\w./-]+|healthz|readyz|docs|openapi\.json))(?=[`\s?])")
NEW_GARDEN = ".venv/bin/breakcrop record new demo"
NEW_TOKEN = ".venv/bin/breakcrop tokens create --scope garden_write --label phone"
LABELS = ".venv/bin/breakcrop labels demo --sheet a4-24 --out labels.html"
#: An id of the record: letters that spell no word (service/store/keys.py).
MADE_ID = re.compile(r"\b[bcdfghjkmnpqrstvwxz2-9]{12}\b")
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


def commands(text: str) -> list[str]:
    return [line for block in blocks(text) if block.kind == "sh" for line in block.text.splitlines()]


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


@cache
def garden(folder: Path) -> str:
    """The id of README's garden, which is put on record first."""
    found = MADE_ID.search(run(NEW_GARDEN, folder).stdout)
    assert found
    return found[0]


@cache
def secret(folder: Path) -> str:
    """A token as README makes it, for the garden that README put on record."""
    garden(folder)
    return run(f"{NEW_TOKEN} --quiet", folder).stdout.strip()


def masked(text: str) -> str:
    """An answer without the ids and the day that are new each time."""
    return re.sub(r"Checked as of \d+ \w+ \d{4}", "Checked as of (day)", MADE_ID.sub("(id)", text))


def environment(**more: str) -> dict[str, str]:
    """This environment without our own settings, as wide as a plain terminal."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(PREFIX)}
    return kept | {"COLUMNS": "80", "NO_COLOR": "1", "PYTHONUTF8": "1"} | more


@cache
def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A command of README in a folder, with the programs of this environment."""
    line = command.replace(".venv/bin/", f"{shlex.quote(str(BIN))}/")
    return subprocess.run(
        ["/bin/sh", "-c", line], cwd=folder, env=environment(BREAKCROP_DATABASE_URL=record_of(folder)),
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def curl(command: str, folder: Path, base: str) -> str:
    """What a curl command of README fetches, without needing curl; unknown options are refused."""
    command = command.replace("$TOKEN", secret(folder)).replace("$GARDEN", garden(folder))
    words = iter(shlex.split(command)[1:])
    headers: dict[str, str] = {}
    data: bytes | None = None
    url = ""
    for word in words:
        if word == "-H":
            name, _, value = next(words).partition(":")
            headers[name] = value.strip()
        elif word == "-d":
            data = next(words).encode()
        elif word == "--data-binary":
            data = (folder / next(words).removeprefix("@")).read_bytes()
        elif word.startswith(SHOWN_BASE):
            url = base + word.removeprefix(SHOWN_BASE)
        elif word != "-s":
            raise AssertionError(f"a curl option that this test does not know: {word}")
    with urllib.request.urlopen(urllib.request.Request(url, data, headers), timeout=30) as answer:
        return str(answer.read().decode())


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """The service as README starts it, on a free port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    base = f"http://127.0.0.1:{port}"
    words = shlex.split(SERVE.replace(".venv/bin/", f"{shlex.quote(str(BIN))}/"))
    log = folder / "serve.log"
    with log.open("wb") as out:
        server = subprocess.Popen(
            words, cwd=folder, stdin=subprocess.DEVNULL, stdout=out, stderr=out,
            env=environment(
                BREAKCROP_PORT=str(port), BREAKCROP_WORKERS="1", BREAKCROP_DATABASE_URL=record_of(folder)
            ),
        )  # fmt: skip
        try:
            _wait(server, base, log)
            yield base
        finally:
            server.terminate()
            try:
                server.wait(timeout=30)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()


def _wait(server: subprocess.Popen[bytes], base: str, log: Path) -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until and server.poll() is None:
        try:
            with urllib.request.urlopen(f"{base}/readyz", timeout=5) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    raise AssertionError(f"the service did not come up:\n{log.read_text(errors='replace')}")


def cut(shown: Any, real: Any) -> Any:
    """The real answer cut down to the keys that are shown; lists are shown whole."""
    if isinstance(shown, dict) and isinstance(real, dict):
        return {key: cut(value, real[key]) if key in real else "<no such key>" for key, value in shown.items()}
    if isinstance(shown, list) and isinstance(real, list) and shown and isinstance(shown[0], dict):
        return [cut(shown[min(i, len(shown) - 1)], part) for i, part in enumerate(real)]
    return real


@pytest.fixture(scope="module")
def readme() -> str:
    return README.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory, readme: str) -> Path:
    """An empty folder with README's plan in it, outside the checkout."""
    made = tmp_path_factory.mktemp("readme")
    write_files(made, readme)
    return made


@pytest.fixture(scope="module")
def ask(folder: Path) -> Iterator[Callable[[str], str]]:
    """Runs a command of README and gives what it prints."""
    with serving(folder) as base:

        def answer(command: str) -> str:
            if command.startswith("curl "):
                return curl(command, folder, base)
            if "breakcrop record " in command:
                garden(folder)  # whichever test is run alone
            done = run(command, folder)
            assert done.stderr == ""
            assert done.returncode < 64 or "breakcrop batch" in command  # whose sheet has a fault on purpose
            return done.stdout

        yield answer


EXAMPLES = examples(README.read_text(encoding="utf-8"))


def test_every_door_has_an_example() -> None:
    asked = [example.command for example in EXAMPLES]
    assert any("breakcrop check" in command for command in asked)
    assert any("breakcrop crops" in command for command in asked)
    assert any("curl" in command and "/v1/checks" in command and "Accept" not in command for command in asked)
    assert any("curl" in command and "Accept: text/plain" in command for command in asked)
    assert any("curl" in command and "/v1/crops" in command for command in asked)


@pytest.mark.parametrize("example", EXAMPLES, ids=[example.command for example in EXAMPLES])
def test_the_answer_is_the_one_shown(example: Example, ask: Callable[[str], str]) -> None:
    real = ask(example.command)
    if example.answer.kind == "json":
        shown = json.loads(example.answer.text)
        assert cut(shown, json.loads(real)) == shown
    else:
        assert masked(real).rstrip("\n") == masked(example.answer.text).rstrip("\n")


def test_the_plan_breaks_a_rule_as_its_status_says(folder: Path) -> None:
    assert run(".venv/bin/breakcrop check plan.yaml", folder).returncode == 2


def test_the_spoken_answer_keeps_its_promised_length() -> None:
    (spoken,) = [one.answer.text for one in EXAMPLES if "text/plain" in one.command and "/v1/checks" in one.command]
    assert 40 < len(spoken) <= 600


def test_the_set_up_commands_do_the_job(readme: str, folder: Path) -> None:
    """Both begin with the same set-up; CI runs the second word for word, and so runs this test."""
    first, second = [command for command in commands(readme) if command.startswith("python3 -m venv")]
    assert first == f"{SET_UP}. && .venv/bin/breakcrop check demo"
    assert second == f"{SET_UP}'.[test]' && .venv/bin/python -m pytest"
    done = run(first.rpartition(" && ")[2], folder)
    assert done.returncode == 2
    assert "Tannery Row Plots" in done.stdout


def test_every_command_is_set_up_or_has_an_answer_or_is_known(readme: str) -> None:
    known = {SERVE, NEW_TOKEN, LABELS, "docker compose up --build", *(example.command for example in EXAMPLES)}
    assert [c for c in commands(readme) if c not in known and not c.startswith(SET_UP)] == []


def options(command: click.Command) -> set[str]:
    """The options of a command and of those below it."""
    found = {name for parameter in command.params for name in (*parameter.opts, *parameter.secondary_opts)}
    below = command.commands.values() if isinstance(command, click.Group) else ()
    return found.union(*map(options, below))


def test_options_named_in_the_text_exist(readme: str) -> None:
    named = {option.split()[0] for option in re.findall(r"`(--[a-z]+[^`]*)`", readme)}
    assert {"--format", "--season", "--history", "--rules"} <= named
    assert named - options(cli) == set()


def test_the_wishes_shown_can_be_read(readme: str, folder: Path) -> None:
    (wishes,) = [block.text for block in blocks(readme) if block.kind == "yml"]
    (folder / "wished.yaml").write_text(plan_of(readme) + wishes, encoding="utf-8")
    done = run(".venv/bin/breakcrop propose wished.yaml --quick", folder)
    assert (done.returncode < 64, done.stderr) == (True, "")
    assert "proposal for 2028 to 2031" in done.stdout


def test_rules_explain_works_as_the_text_says(folder: Path) -> None:
    rule = "rotation.family-too-soon"
    told = run(f".venv/bin/breakcrop rules explain {rule}", folder)
    assert told.returncode == 0
    assert rule in told.stdout


def test_the_settings_table_is_that_of_the_service(readme: str) -> None:
    start = readme.index(TABLE)
    assert readme[start:].partition("\n\n")[0] + "\n" == settings_table()


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "Dockerfile", "docker-compose.yml"])
def test_only_settings_that_exist_are_named(name: str) -> None:
    known = {setting.variable for setting in SETTINGS} | {"BREAKCROP_TRACE"}
    named = set(re.findall(rf"{PREFIX}[A-Z_]+", (ROOT / name).read_text(encoding="utf-8")))
    assert named <= known
    assert named or name == "DEVELOPERS.md"


def test_routes_that_are_named_exist(readme: str) -> None:
    from werkzeug.exceptions import MethodNotAllowed, NotFound

    adapter = build(Config()).url_map.bind("localhost")
    named = ROUTE.findall(readme)
    assert len({path for _, path in named}) >= 11
    missing = []
    for method, path in named:
        for tried in [method] if method else ["GET", "POST"]:
            try:
                adapter.match(path, method=tried)
                break
            except (NotFound, MethodNotAllowed):
                continue
        else:
            missing.append(f"{method} {path}".strip())
    assert missing == []


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md", "rules/README.md", "CHANGELOG.md"])
def test_files_that_are_named_exist(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    named = re.findall(r"`((?:rules|service|tests|openapi|\.ci)/[\w./-]*)`", text)
    named += [link for link in re.findall(r"\]\(([^)#]+)\)", text) if "://" not in link]
    assert [path for path in named if not (ROOT / path).exists()] == []


def test_the_compose_file_checks_that_the_service_is_ready() -> None:
    services = yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8"))["services"]
    assert "/readyz" in " ".join(services["web"]["healthcheck"]["test"])


def test_an_answer_that_differs_is_seen() -> None:
    real = {"a": 1, "b": [{"c": 2, "d": 3}], "e": 5}
    assert cut({"b": [{"c": 2}]}, real) == {"b": [{"c": 2}]}
    for wrong in ({"a": 2}, {"f": 1}, {"b": []}, {"b": [{"c": 3}]}, {"b": [{"c": 2}, {"c": 2}]}):
        assert cut(wrong, real) != wrong


def _laid_out(value: Any, indent: int = 0) -> str:
    """JSON with short values on one line."""
    flat = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, dict | list) or not value or len(flat) + indent < 96:
        return flat
    pad = " " * (indent + 2)
    if isinstance(value, dict):
        parts = [f"{pad}{json.dumps(key)}: {_laid_out(part, indent + 2)}" for key, part in value.items()]
        return "{\n" + ",\n".join(parts) + "\n" + " " * indent + "}"
    return "[\n" + ",\n".join(pad + _laid_out(part, indent + 2) for part in value) + "\n" + " " * indent + "]"


def rewrite() -> None:
    """Put the real answers and the real settings into README."""
    text = README.read_text(encoding="utf-8")
    with TemporaryDirectory() as name:
        folder = Path(name)
        write_files(folder, text)
        with serving(folder) as base:
            # Asked in the order of the page, as the record grows; put in from its end, so that places hold.
            told = [
                curl(command, folder, base) if command.startswith("curl ") else run(command, folder).stdout
                for command, _ in examples(text)
            ]
            for (_, block), real in reversed([*zip(examples(text), told, strict=True)]):
                if block.kind == "json":
                    real = _laid_out(cut(json.loads(block.text), json.loads(real)))
                text = text[: block.start] + real.rstrip("\n") + "\n" + text[block.end :]
    start = text.index(TABLE)
    text = text[:start] + settings_table() + "\n" + text[start:].partition("\n\n")[2]
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    if "--write" not in sys.argv[1:]:
        sys.exit("write --write to put the real answers into README.md")
    rewrite()
