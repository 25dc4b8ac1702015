"""How gunicorn serves breakcrop; the figures behind each choice stand in DEVELOPERS.md.

Threads in few workers: a slow plan does not hold up a quick question, and a long answer is
not cut off when the worker's time is up.
"""

from __future__ import annotations

import os
from typing import Any

from service.config import read_config
from service.memory import settle

_config = read_config()

wsgi_app = "service.wsgi:app"
bind = [f"[{_config.host}]:{_config.port}" if ":" in _config.host else f"{_config.host}:{_config.port}"]
worker_class = "gthread"
workers = _config.workers
threads = _config.threads
timeout = _config.timeout
keepalive = 5
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


def post_worker_init(worker: Any) -> None:
    """The application is loaded: settle its memory."""
    settle()
