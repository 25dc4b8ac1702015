"""A kind of job for tests: each garden says what befalls whoever works on it."""

import os
import stat
import time
from contextlib import suppress
from datetime import UTC, datetime

from service.jobs.kinds import KINDS, Kind

NOW = datetime(2020, 6, 1, 9, 30, tzinfo=UTC)
TRIAL = Kind(
    "trial", "trial_kinds:prepare", "trial_kinds:work", "trial_kinds:refuse", "trial_kinds:Closing", patience=0.5
)
#: For work of which no process hangs: however busy the machine, none is taken for one that does.
PATIENT = TRIAL._replace(name="patient", patience=600.0)


def known():
    """Make the kinds known to this process: ``trial``, which soon gives up a process that hangs, and ``patient``."""
    KINDS["trial"] = TRIAL
    KINDS["patient"] = PATIENT


def prepare(shared):
    return shared


def work(garden, shared):
    time.sleep(garden.get("seconds", 0))
    while "until" in garden and not os.path.exists(garden["until"]):
        time.sleep(0.02)
    befalls = garden.get("befalls")
    if befalls == "death":
        os.abort() if garden.get("core") else os._exit(3)
    if befalls == "endless":
        time.sleep(3600)
    if befalls == "silence":
        hang_up()
        time.sleep(3600)
    if befalls == "fault":
        raise ZeroDivisionError
    return {"type": "report", "line": garden["line"], "times": shared.get("times", 1) * garden["line"]}


def hang_up():
    """Close the line to the parent, and live on."""
    for descriptor in map(int, os.listdir("/proc/self/fd")):
        with suppress(OSError):
            if stat.S_ISSOCK(os.fstat(descriptor).st_mode):
                os.close(descriptor)


def refuse(garden, why):
    return {"type": "error", "line": garden["line"], "detail": why}
