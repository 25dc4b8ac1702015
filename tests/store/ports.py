"""Ports for services that tests start, and stop, and start again."""

from __future__ import annotations

import socket
from itertools import chain
from random import randrange

#: Below those that systems hand out to whoever asks for any: while a service is down, nobody else is given its port.
_FIRST, _LAST = 12_000, 32_000


def free_port() -> int:
    """A port of 127.0.0.1 on which nothing listens."""
    start = randrange(_FIRST, _LAST)
    for port in chain(range(start, _LAST), range(_FIRST, start)):
        with socket.socket() as tried:
            # A service binds to a port whose last connections are still winding up; so do we.
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                tried.bind(("127.0.0.1", port))
            except OSError:
                continue
            return port
    raise OSError("no port is free")
