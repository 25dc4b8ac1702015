"""How gunicorn serves breakcrop; the figures behind each choice stand in DEVELOPERS.md.

Threads in few workers: a slow plan does not hold up a quick question, and a long answer is
not cut off when the worker's time is up.
"""

from __future__ import annotations

import gc
import json
import os
import socket
import struct
from http import HTTPStatus
from typing import Any

from gunicorn import util

from service.config import read_config
from service.memory import seldom, settle

_config = read_config()

wsgi_app = "service.wsgi:app"
bind = [f"[{_config.host}]:{_config.port}" if ":" in _config.host else f"{_config.host}:{_config.port}"]
worker_class = "service.gunicorn_worker.EvenWorker"
workers = _config.workers
threads = _config.threads
timeout = _config.timeout
keepalive = 5
# The most that gunicorn takes, so that our own answer names a parameter that is too long.
limit_request_line = 8190
max_requests = 0
# Each worker builds its own application: nothing opened before a fork is shared after it.
preload_app = False
# On by default, and two services of one user would take each other's socket.
control_socket_disable = True
# Forwarded headers are believed by our own ProxyFix, which counts the proxies exactly.
forwarded_allow_ips = ""
loglevel = _config.log_level
accesslog = "-" if _config.log_level in ("debug", "info") else None
access_log_format = '%(h)s "%(m)s %(U)s" %(s)s %(B)s %(D)sus %({x-request-id}o)s'
# The heartbeat file belongs in memory: on a slow disk a busy worker looks dead.
worker_tmp_dir = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


#: Seconds that one read from a client, or one write to it, may take.
PATIENCE = 10


def when_ready(server: Any) -> None:
    """Connections take over these limits from their listener (on Linux, the system's doing).

    Without them a few clients that stop in the middle of a request would hold every thread for good.
    """
    for listener in server.LISTENERS:
        for option in (socket.SO_RCVTIMEO, socket.SO_SNDTIMEO):
            listener.sock.setsockopt(socket.SOL_SOCKET, option, struct.pack("ll", PATIENCE, 0))


def post_worker_init(worker: Any) -> None:
    """The application is loaded: settle its memory."""
    gc.collect()
    seldom()
    settle()


def refuse(sock: Any, status: int, reason: str, detail: str) -> None:
    """Answer what is no HTTP request; without this, gunicorn would answer with a page of HTML."""
    title = HTTPStatus(status).phrase
    said = "The request is not one that HTTP allows, or its address or headers are too long."
    body = json.dumps({"type": "about:blank", "title": title, "status": status, "detail": said}).encode()
    head = (
        f"HTTP/1.1 {status} {title}\r\nConnection: close\r\nCache-Control: no-store\r\n"
        f"Content-Type: application/problem+json\r\nContent-Length: {len(body)}\r\n\r\n"
    )
    util.write_nonblock(sock, head.encode() + body)


# gunicorn has no setting for it; its workers look the function up here.
util.write_error = refuse
