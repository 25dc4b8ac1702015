"""The guard: a process that sleeps, hangs, talks for ever, fails or dies neither holds us up nor stays behind."""

from __future__ import annotations

import gc
import os
import pickle
import subprocess
import sys
from pathlib import Path
from typing import Any

import guarded_work
import pytest

from service.proposing import guard
from service.proposing.child import HEAD, Task, packed, unpacked
from service.proposing.guard import Watched, watch

#: Seconds for work that ends by itself, whatever the machine has to do beside it.
PLENTY = 120.0


def watched_until_told(work: Any, given: tuple[Any, ...], last: Any) -> Watched:
    """Watch work that only the clock ends; where the child came too late to tell its answer, again for longer."""
    for seconds in (1.0, 8.0, 64.0):
        ended = watch(work, given, (), seconds)
        if last is None or ended.answer is not None:
            break
    return ended


def children() -> set[str]:
    """Every process whose parent is this one, the dead that nobody has waited for among them."""
    found = set()
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == os.getpid():
            found.add(stat.parent.name)
    return found


#: Work, what it is given, how it ends, the last answer, and words of the reason.
ENDS: list[tuple[Any, tuple[Any, ...], str, Any, str]] = [
    (guarded_work.sleeper, (None,), "time", None, ""),
    (guarded_work.sleeper, ("seen",), "time", "seen", ""),
    (guarded_work.holder, (), "time", "seen", ""),
    (guarded_work.chatter, (), "time", "again", ""),
    (guarded_work.stopped, (), "time", None, ""),
    (guarded_work.killed, (None,), "died", None, "signal 9"),
    (guarded_work.killed, ("seen",), "died", "seen", "signal 9"),
    (guarded_work.leaver, (), "died", None, "status 7"),
    (guarded_work.failing, (), "died", "before", "ValueError: no such bed"),
]


@pytest.mark.parametrize(
    ("work", "given", "how", "last", "why"), ENDS, ids=lambda value: getattr(value, "__name__", "")
)
def test_however_work_ends_the_last_answer_is_kept_and_nobody_stays_behind(
    work: Any, given: tuple[Any, ...], how: str, last: Any, why: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guard, "GRACE", 0.5)
    gc.collect()  # what other tests left open is closed now, and not in between
    before, files = children(), open_files()
    # Without a guard those that the clock ends would take an hour.
    ended = watched_until_told(work, given, last) if how == "time" else watch(work, given, (), PLENTY)
    assert (ended.how, ended.answer) == (how, last)
    assert why in ended.why
    assert children() <= before
    assert open_files() <= files


def open_files() -> set[str]:
    return set(os.listdir("/proc/self/fd"))


def test_an_answer_comes_back_with_our_own_objects_in_it() -> None:
    thing = guarded_work.Thing()
    ended = watch(guarded_work.answer, (thing,), (thing,), seconds=PLENTY)
    assert ended == Watched("done", (thing, "last"))
    other = watch(guarded_work.answer, (thing,), (), seconds=PLENTY)
    assert other.how == "done"
    assert other.answer[0] is not thing


def test_what_a_library_prints_does_not_come_between_the_messages(capfd: pytest.CaptureFixture[str]) -> None:
    assert watch(guarded_work.answer, (1,), (), seconds=PLENTY).answer == (1, "last")
    out = capfd.readouterr()
    assert out.out == ""
    assert "writes past Python" in out.err


def test_a_message_is_the_same_after_its_way_through_the_pipe() -> None:
    shared = [object(), object()]
    data = packed({"a": shared[1], "b": [shared[0], shared[1], None]}, shared)
    assert HEAD.unpack_from(data)[0] == len(data) - HEAD.size
    there = ["one", "two"]
    assert unpacked(data[HEAD.size :], there) == {"a": "two", "b": ["one", "two", None]}


def test_the_folder_that_we_stand_in_is_not_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "pickle.py").write_text("raise SystemExit(9)\n")
    monkeypatch.chdir(tmp_path)
    assert watch(guarded_work.answer, (1,), (), seconds=PLENTY).how == "done"


def test_a_child_whose_parent_is_gone_ends_itself(tmp_path: Path) -> None:
    task, command = tmp_path / "task", [sys.executable, "-P", "-m", "service.proposing.child"]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    for alarm in (1, 8, 64):  # until it gets a word in before its end
        task.write_bytes(pickle.dumps(Task(guarded_work.holder, (), (), alarm)))
        with task.open("rb") as given:
            child = subprocess.run(command, stdin=given, stdout=subprocess.PIPE, env=environment, timeout=600)
        if child.stdout:
            break
    assert child.returncode == -14  # SIGALRM, though Python has no word in that sleep
    assert unpacked(child.stdout[HEAD.size :], ()) == ("best", "seen")
