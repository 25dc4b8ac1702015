"""The wheel works where the checkout is not: built from a copy, installed apart, and run."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ("pyproject.toml", "README.md", "LICENSE", "rules", "service")
#: Everything below the packages that is not one of these must be in the wheel.
LEFT_OUT = {"__pycache__"}
PAPERS = {"rules/README.md"}


def run(*words: str | Path, cwd: Path, timeout: int = 120) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("BREAKCROP_", "PYTHONPATH"))}
    return subprocess.run(
        [str(word) for word in words], cwd=cwd, env=kept | {"COLUMNS": "80", "PYTHONUTF8": "1"},
        stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=timeout,
    )  # fmt: skip


def package_files() -> list[str]:
    """Every file of the packages, by its path in the checkout."""
    found = (path for part in ("rules", "service") for path in (ROOT / part).rglob("*") if path.is_file())
    names = sorted(path.relative_to(ROOT).as_posix() for path in found if not LEFT_OUT & set(path.parts))
    return [name for name in names if name not in PAPERS]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built as pip builds it from a clean copy of the sources."""
    source, out = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheel")
    for name in SOURCES:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns(*LEFT_OUT))
        else:
            shutil.copy2(ROOT / name, source / name)
    # With the setuptools of the running environment nothing need be fetched; the wheel is the same.
    done = run(
        sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation",
        "--wheel-dir", out, source, cwd=out, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (built,) = out.iterdir()
    return built


@pytest.fixture(scope="module")
def names(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as archive:
        return set(archive.namelist())


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A new environment that holds the wheel, and borrows what it needs from the running one."""
    home = tmp_path_factory.mktemp("installed") / "env"
    made = run(sys.executable, "-m", "venv", "--without-pip", home, cwd=home.parent)
    assert made.returncode == 0, made.stderr
    python = home / "bin" / "python"
    done = run(
        sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-deps", "--no-index", wheel,
        cwd=home.parent,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    site = Path(run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=home).stdout.strip())
    # A folder named in a .pth file goes after the environment's own, and .pth files inside it are
    # not followed: the checkout that is installed there in place stays out of sight.
    borrowed = dict.fromkeys(sysconfig.get_path(kind) for kind in ("purelib", "platlib"))
    (site / "borrowed.pth").write_text("".join(f"{path}\n" for path in borrowed), encoding="utf-8")
    return home


@pytest.fixture
def breakcrop(installed: Path) -> Path:
    return installed / "bin" / "breakcrop"


def test_the_wheel_holds_every_file_of_the_packages(names: set[str]) -> None:
    wanted = package_files()
    assert len(wanted) > 60
    assert [name for name in wanted if name not in names] == []


@pytest.mark.parametrize(("folder", "ending", "least"), [
    ("rules/facts", ".yaml", 7), ("rules/facts/crops", ".yaml", 19), ("rules/facts/pests", ".yaml", 8),
    ("rules/ruleset", ".yaml", 2),
    ("service/pages/templates", ".html", 5), ("service/pages/static", ".css", 1), ("service/demo", ".yaml", 1),
])  # fmt: skip
def test_facts_rules_and_pages_are_in_the_wheel(names: set[str], folder: str, ending: str, least: int) -> None:
    wanted = {path.relative_to(ROOT).as_posix() for path in (ROOT / folder).glob(f"*{ending}")}
    assert len(wanted) >= least
    assert wanted <= names


def test_the_wheel_holds_nothing_but_the_packages_and_the_licence(names: set[str]) -> None:
    tops = {name.partition("/")[0] for name in names}
    (info,) = [top for top in tops if top.endswith(".dist-info")]
    assert tops == {"rules", "service", info}
    assert f"{info}/licenses/LICENSE" in names
    assert not [name for name in names if re.search(r"__pycache__|\.pyc$|\.pickle$", name)]


def test_check_demo_reports_a_breach(breakcrop: Path, tmp_path: Path) -> None:
    done = run(breakcrop, "check", "demo", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (2, "")
    for words in ("Tannery Row Plots", "Verdict:  breach", "Kiln bed", "Why:", "Fix:", "Evidence:", "Free again"):
        assert words in done.stdout


def test_crops_courgette_tells_its_family(breakcrop: Path, tmp_path: Path) -> None:
    done = run(breakcrop, "crops", "courgette", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    for words in ("Courgette", "Cucurbita pepo", "Cucurbitaceae"):
        assert words in done.stdout


def test_the_service_runs_from_the_wheel_with_its_pages(installed: Path, tmp_path: Path) -> None:
    ask = (
        "import rules, service; from service.app import build; from service.config import Config\n"
        "from service.database import ready_store; ready_store()\n"
        "client = build(Config()).test_client(); print('rules', rules.__file__); print('service', service.__file__)\n"
        "for path in ('/', '/docs', '/openapi.json', '/readyz', '/static/pages.css', '/problems'): "
        "print(path, client.get(path).status_code)"
    )
    done = run(installed / "bin" / "python", "-c", ask, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    told = dict(line.split(maxsplit=1) for line in done.stdout.splitlines())
    places = [Path(told.pop(name)) for name in ("rules", "service")]
    assert all(place.is_relative_to(installed) for place in places)
    assert len(told) == 6
    assert set(told.values()) == {"200"}


def test_it_knows_its_version(breakcrop: Path, tmp_path: Path) -> None:
    with (ROOT / "pyproject.toml").open("rb") as file:
        version = tomllib.load(file)["project"]["version"]
    assert run(breakcrop, "--version", cwd=tmp_path).stdout == f"breakcrop {version}\n"
