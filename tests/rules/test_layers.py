"""``rules`` keeps to itself: no outer layer, no clock, no environment."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import rules

ROOT = Path(rules.__file__).parent
MODULES = sorted(ROOT.rglob("*.py"))
ALLOWED = {*sys.stdlib_module_names, "networkx", "yaml", "rules"} - {
    "os",
    "time",
    "socket",
    "http",
    "urllib",
    "sqlite3",
}
CLOCK = {"today", "now", "utcnow", "time", "monotonic", "perf_counter", "localtime", "gmtime", "environ", "getenv"}


def named(path):
    return str(path.relative_to(ROOT))


#: What a function may import when it is called, since nothing else needs it.
LAZY = {"highspy", "numpy"}


def outward(tree):
    """Modules that a tree imports and ``rules`` may not; the lazy ones are allowed inside functions."""
    late = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef)
        for inner in ast.walk(node)
        if isinstance(inner, ast.Import) and all(alias.name in LAZY for alias in inner.names)
    }
    for node in ast.walk(tree):
        if node in late:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names if alias.name.split(".")[0] not in ALLOWED)
        elif isinstance(node, ast.ImportFrom):
            module = "rules" if node.level else node.module or ""
            if module.split(".")[0] not in ALLOWED:
                yield module
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "__import__":
            yield "__import__"


def moments(tree):
    """Attributes that would read a clock or the environment."""
    return [
        f"{node.lineno}: {node.attr}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr in CLOCK
    ]


def test_the_tree_is_there():
    assert len(MODULES) > 15
    assert ROOT / "seasons.py" in MODULES


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_a_module_imports_nothing_outward(path):
    assert list(outward(ast.parse(path.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_a_module_reads_no_clock_and_no_environment(path):
    assert moments(ast.parse(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    "line",
    [
        "import flask",
        "from service import cli",
        "import os",
        "import time",
        "from marshmallow import fields",
        "import os.path as p",
        "import highspy",
        "__import__('flask')",
    ],
)
def test_the_import_check_can_fail(line):
    assert list(outward(ast.parse(line)))


@pytest.mark.parametrize(
    "line", ["date.today()", "datetime.now()", "datetime.datetime.utcnow()", "os.environ['X']", "time.time()"]
)
def test_the_clock_check_can_fail(line):
    assert moments(ast.parse(line))


def test_importing_rules_loads_nothing_of_the_face():
    wanted = "import sys, rules; rules.load_knowledge(); print(sorted({name.split('.')[0] for name in sys.modules}))"
    told = subprocess.run([sys.executable, "-c", wanted], capture_output=True, text=True, check=True, timeout=60)
    loaded = set(ast.literal_eval(told.stdout))
    assert "networkx" in loaded
    assert not loaded & {
        "service",
        "flask",
        "sqlalchemy",
        "marshmallow",
        "werkzeug",
        "jinja2",
        "numpy",
        "highspy",
        "requests",
    }
