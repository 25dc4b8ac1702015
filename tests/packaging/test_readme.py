"""README's examples: every answer is the real one, and --write puts it in."""

from __future__ import annotations

import json
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
from typing import Any

import pytest
from readme_shown import (
    BIN,
    EXAMPLES,
    NEW_TOKEN,
    README,
    SERVE,
    SHOWN_BASE,
    TABLE,
    Example,
    cut,
    environment,
    examples,
    record_of,
    run,
    settings_table,
    write_files,
)

NEW_GARDEN = ".venv/bin/breakcrop record new demo"
#: An id of the record: letters that spell no word (service/store/keys.py).
MADE_ID = re.compile(r"\b[bcdfghjkmnpqrstvwxz2-9]{12}\b")


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
