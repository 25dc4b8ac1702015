"""``breakcrop serve``: the record is brought into shape once, then gunicorn and the worker run side by side.

This process only watches its two children.  gunicorn is the service: when it ends, all ends.  A
worker that dies is started again, later each time.
"""

from __future__ import annotations

import logging
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Sequence
from functools import partial
from time import monotonic

from service.signals import Bell, die_with_parent

GUNICORN = (sys.executable, "-m", "gunicorn", "-c", "python:service.gunicorn_conf")
WORKER = (sys.executable, "-m", "service.cli", "worker")
#: Seconds before a worker is started again: the first time, and at most.
FIRST_WAIT, LONGEST_WAIT = 1.0, 60.0
#: A worker that lived for so many seconds was well.
LIVED = 60.0
#: Seconds that a child has to end when it is told to: gunicorn lets answers finish, the worker its chunk.
PATIENCE = 40.0

log = logging.getLogger("breakcrop")


class Unusable(Exception):
    """The address cannot be listened on; the message says why and what to do."""


def check_address(host: str, port: int) -> None:
    """``Unusable`` where somebody else has the address: gunicorn would try for seconds, then give up at length."""
    try:
        (family, kind, protocol, _, address), *_ = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )
        with socket.socket(family, kind, protocol) as trial:
            trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            trial.bind(address)
            trial.listen(1)
    except socket.gaierror:
        raise Unusable(f"There is no address {host} to listen on.") from None
    except PermissionError:
        raise Unusable(f"Port {port} of {host} is not open to this user; take one above 1023.") from None
    except OSError as error:
        why = error.strerror or str(error)
        raise Unusable(
            f"Port {port} of {host} cannot be listened on: {why[:1].lower()}{why[1:]}. Something else may be "
            "serving there; stop it, or take another port with --port."
        ) from None


def supervise(gunicorn: Sequence[str] = GUNICORN, worker: Sequence[str] | None = WORKER) -> int:
    """Run both until gunicorn ends, and return its exit status.

    SIGTERM and SIGINT are passed on to both, SIGHUP to gunicorn, which then loads anew.
    """
    with Bell(signal.SIGTERM, signal.SIGINT, signal.SIGHUP, signal.SIGCHLD) as bell:
        server = _start(gunicorn)
        helper = None if worker is None else _Helper(worker)
        while server.poll() is None:
            for number in bell.wait(None if helper is None else helper.watch()):
                if number == signal.SIGHUP:
                    server.send_signal(signal.SIGHUP)
                elif number != signal.SIGCHLD:
                    server.send_signal(number)
                    if helper is not None:
                        helper.stop()
        if helper is not None:
            helper.stop()
            helper.wait()
        # A child that was ended by a signal tells it as a negative number.
        return server.returncode if server.returncode >= 0 else 128 - server.returncode


class _Helper:
    """The worker: started, and started again when it dies."""

    def __init__(self, command: Sequence[str]) -> None:
        self._command, self._wait = command, FIRST_WAIT
        self._stopped, self._due = False, 0.0
        self._process: subprocess.Popen[bytes] | None = None

    def watch(self) -> float | None:
        """Start it if that is due; returns the seconds until it is to be looked at again."""
        if self._stopped:
            return None
        if self._process is not None and self._process.poll() is not None:
            if monotonic() - self._since > LIVED:
                self._wait = FIRST_WAIT
            log.error("the worker ended with %s; again in %g s", self._process.returncode, self._wait)
            self._due, self._process = monotonic() + self._wait, None
            self._wait = min(2 * self._wait, LONGEST_WAIT)
        if self._process is not None:
            return None
        if monotonic() < self._due:
            return self._due - monotonic()
        self._process, self._since = _start(self._command), monotonic()
        return None

    def stop(self) -> None:
        """Tell it to finish; it is not started again."""
        self._stopped = True
        if self._process is not None and self._process.poll() is None:
            self._process.terminate()

    def wait(self) -> None:
        """Until it has ended."""
        if self._process is not None:
            try:
                self._process.wait(PATIENCE)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()


def _start(command: Sequence[str]) -> subprocess.Popen[bytes]:
    # Nothing else runs in this process, so that it is safe to do something between fork and exec.
    return subprocess.Popen(command, preexec_fn=partial(die_with_parent, signal.SIGTERM, os.getpid()))
