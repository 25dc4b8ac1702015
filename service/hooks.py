"""What happens around every request: its id, its budget, and the security headers."""

from __future__ import annotations

import logging
import re
import time
import uuid

from flask import Flask, Response, g, request
from limits import RateLimitItemPerMinute
from limits.errors import StorageError
from limits.storage import storage_from_string
from limits.strategies import FixedWindowRateLimiter

from service.config import Config
from service.errors import Problem
from service.negotiate import body_bytes

log = logging.getLogger("breakcrop")

_ID = re.compile(r"[A-Za-z0-9._:-]{1,64}\Z")
#: What a page of ours may do: nothing but show itself.
_DIRECTIVES = {
    "default-src": "'none'",
    "style-src": "'self'",
    "img-src": "'self' data:",
    "base-uri": "'none'",
    "form-action": "'none'",
    "frame-ancestors": "'none'",
}


def policy(**changed: str) -> str:
    """A Content-Security-Policy: ours, with some directives changed or added (``script_src="'self'"``)."""
    directives = _DIRECTIVES | {name.replace("_", "-"): sources for name, sources in changed.items()}
    return "; ".join(f"{name} {sources}" for name, sources in directives.items())


_POLICY = policy()
#: A check costs one token and one more for each of these bytes.
BYTES_A_TOKEN = 64 * 1024
#: What judges or works through a plan, and so is counted.
COUNTED = (
    *("checks.check", "answers.ask_plan", "planning.netting", "planning.protection", "planning.calendar"),
    *("stored.check", "stored.ask", "stored.calendar", "board.read", "labels.sheets"),
    *("pictures.draw_map", "pictures.draw_timeline"),
)

#: What costs more than a check of the same plan, in tokens.
HEAVY = {"proposals.propose": 50}


def register(app: Flask, config: Config) -> None:
    """Put the hooks in place."""
    app.before_request(_name_request)
    if config.checks_per_minute:
        _limit_checks(app, config.checks_per_minute, config.rate_storage)
    app.after_request(_finish)


def _name_request() -> None:
    given = request.headers.get("X-Request-ID", "")
    g.request_id = given if _ID.match(given) else uuid.uuid4().hex


def _finish(response: Response) -> Response:
    headers = response.headers
    headers["X-Request-ID"] = g.get("request_id", "")
    headers["X-Content-Type-Options"] = "nosniff"
    headers["Referrer-Policy"] = "no-referrer"
    if "Content-Security-Policy" not in headers:  # a route that sets its own says there who may frame it
        headers["Content-Security-Policy"] = _POLICY
        headers["X-Frame-Options"] = "DENY"
    if request.method == "OPTIONS" and response.status_code == 200:
        headers.remove("Content-Type")  # there is no body that it could describe
    return response


def _limit_checks(app: Flask, budget: int, storage: str) -> None:
    """Hold each client address to a budget of checks a minute, larger plans costing more."""
    limiter = FixedWindowRateLimiter(storage_from_string(storage, wrap_exceptions=True))
    limit = RateLimitItemPerMinute(budget)

    @app.before_request
    def spend() -> None:
        endpoint = request.endpoint or ""
        if request.method == "OPTIONS" or (endpoint not in COUNTED and endpoint not in HEAVY):
            return
        size = request.content_length
        if size is None and request.method in ("GET", "HEAD"):
            size = 0
        elif size is None:  # sent in chunks: read it (up to the limit) to know
            size = len(body_bytes(keep=True))
        # No plan that is small enough to be read may cost more than a whole budget.
        cost = min(HEAVY.get(endpoint, 1) + size // BYTES_A_TOKEN, budget)
        client = request.remote_addr or "unknown"
        try:
            within = limiter.hit(limit, client, cost=cost)
        except StorageError as error:
            # Better to answer uncounted than not at all because the counter is away.
            log.warning("checks are not counted: %s", error)
            return
        if not within:
            resets = limiter.get_window_stats(limit, client).reset_time
            wait = max(1, round(resets - time.time() + 0.5))
            raise Problem(
                "too-many-requests",
                f"Too many checks from your address. Try again in {wait} seconds.",
                {"Retry-After": str(wait)},
            )
