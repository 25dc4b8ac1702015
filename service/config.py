"""Settings: every environment variable of the service in one table.

A test compares the table with README.  All bad values are reported together, by name.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, NamedTuple

from environs import Env, EnvValidationError
from marshmallow import validate

PREFIX = "BREAKCROP_"

#: A plan may have 4 MB of JSON (the reader holds it to that); the door lets in a little more, so
#: that the reader can say which limit was passed.
MAX_BODY = 4 * 1024 * 1024 + 64 * 1024


class ConfigError(ValueError):
    """One or more settings that cannot be used; the message names each."""


@dataclass(frozen=True, slots=True)
class Config:
    """What an operator can set; field names are the variables in lower case without prefix."""

    host: str = "127.0.0.1"
    port: int = 8080
    workers: int = 2
    threads: int = 4
    timeout: int = 60
    proxies: int = 0
    rules: str | None = None
    cors_origins: tuple[str, ...] = ()
    checks_per_minute: int = 600
    rate_storage: str = "memory://"
    database_url: str | None = None
    broker_url: str | None = None
    worker_processes: int = 0
    lease_seconds: int = 60
    results_kept_days: int = 30
    jobs_open: int = 10
    proposal_seconds: int = 10
    batch_mb: int = 64
    log_level: str = "info"


class Setting(NamedTuple):
    """A variable: its field in ``Config``, how it is read and what it does."""

    field: str
    kind: str  # "text", "number" or "list"
    help: str
    check: Any = None

    @property
    def variable(self) -> str:
        """The name of the environment variable."""
        return PREFIX + self.field.upper()

    @property
    def default(self) -> str:
        """The default as it would be written in the environment ("" = not set)."""
        value = _DEFAULTS[self.field]
        return "" if value in (None, ()) else str(value)


_DEFAULTS: dict[str, Any] = {item.name: item.default for item in fields(Config)}
_LEVELS = ("debug", "info", "warning", "error", "critical")

SETTINGS: tuple[Setting, ...] = (
    Setting("host", "text", "address to listen on; 0.0.0.0 for all", validate.Length(min=1)),
    Setting("port", "number", "port to listen on", validate.Range(1, 65535)),
    Setting("workers", "number", "worker processes", validate.Range(1, 256)),
    Setting("threads", "number", "threads in each worker", validate.Range(1, 256)),
    Setting("timeout", "number", "seconds after which a silent worker is replaced", validate.Range(1, 3600)),
    Setting(
        "proxies",
        "number",
        "how many trusted proxies stand in front; their X-Forwarded headers are believed",
        validate.Range(0, 9),
    ),
    Setting("rules", "text", "path of a rule overlay (YAML) that applies to every answer"),
    Setting(
        "cors_origins",
        "list",
        "web origins whose pages may call the service, with commas between; * for any",
        validate.Length(max=1000),
    ),
    Setting(
        "checks_per_minute",
        "number",
        "checks a minute for each client address and worker, a large plan counting as several; 0 = no limit",
        validate.Range(0, 1_000_000),
    ),
    Setting(
        "rate_storage",
        "text",
        "where the checks are counted: memory:// (each worker for itself) or redis://host:port",
        validate.Regexp(r"[a-z+]+://"),
    ),
    Setting(
        "database_url",
        "text",
        "where the record is kept: postgresql+psycopg://... or sqlite:////path; else SQLite in the user's data folder",
        validate.Regexp(r"(sqlite|postgres(ql)?)(\+[a-z0-9]+)?://"),
    ),
    Setting(
        "broker_url",
        "text",
        "redis://host:port that wakes workers on other machines; else the worker looks for jobs by itself",
        validate.Regexp(r"rediss?://"),
    ),
    Setting(
        "worker_processes",
        "number",
        "processes in which breakcrop worker works through jobs; 0 = one for each core",
        validate.Range(0, 256),
    ),
    Setting(
        "lease_seconds",
        "number",
        "seconds after which others take over the work of a worker that has died",
        validate.Range(2, 3600),
    ),
    Setting(
        "results_kept_days",
        "number",
        "days for which a job and its results are kept once it is over",
        validate.Range(1, 3650),
    ),
    Setting(
        "jobs_open",
        "number",
        "jobs of one club that may wait or run at a time",
        validate.Range(1, 10_000),
    ),
    Setting(
        "proposal_seconds",
        "number",
        "seconds that a proposal may be searched for in one request; jobs and the command line may take longer",
        validate.Range(1, 600),
    ),
    Setting(
        "batch_mb",
        "number",
        "megabytes that the sheet or stream of one batch over HTTP may have",
        validate.Range(1, 4096),
    ),
    Setting("log_level", "text", f"least level to log: {', '.join(_LEVELS)}", validate.OneOf(_LEVELS)),
)


def read_config() -> Config:
    """The settings as the environment gives them.

    Raises
    ------
    ConfigError
        naming every variable that cannot be used, and why.
    """
    env = Env(eager=False)
    values: dict[str, Any] = {}
    for setting in SETTINGS:
        read: Any = {"text": env.str, "number": env.int, "list": env.list}[setting.kind]
        checks = [setting.check] if setting.check else None
        values[setting.field] = read(setting.variable, default=_DEFAULTS[setting.field], validate=checks)
    try:
        env.seal()
    except EnvValidationError as error:
        messages: Any = error.error_messages
        lines = (f"{name}: {' '.join(str(text) for text in texts)}" for name, texts in messages.items())
        raise ConfigError("\n".join(lines)) from None
    values["cors_origins"] = tuple(word.strip() for word in values["cors_origins"] if word.strip())
    values["rules"] = values["rules"] or None
    values["database_url"] = values["database_url"] or None
    values["broker_url"] = values["broker_url"] or None
    return Config(**values)
