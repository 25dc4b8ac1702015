"""What README and its neighbours name exists: commands, options, settings, routes and files."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest
import yaml
from readme_shown import EXAMPLES, NEW_TOKEN, ROOT, SERVE, TABLE, blocks, cut, plan_of, run, settings_table

from service.app import build
from service.cli import cli
from service.config import PREFIX, SETTINGS, Config

SET_UP = "python3 -m venv .venv && .venv/bin/pip install -e "
ROUTE = re.compile(r"(?:(GET|POST) )?(/(?:v1/[\w./-]+|healthz|readyz|docs|openapi\.json))(?=[`\s?])")
LABELS = ".venv/bin/breakcrop labels demo --sheet a4-24 --out labels.html"


def commands(text: str) -> list[str]:
    return [line for block in blocks(text) if block.kind == "sh" for line in block.text.splitlines()]


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
