"""The face of breakcrop: web service, pages and command line over ``rules``.

``create_app`` imports Flask when it is called and not before, so that the command line can
read and check a plan without it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from service.config import Config


def create_app(config: Config | None = None) -> Flask:
    """The web application; settings come from the environment unless they are given."""
    from service.app import build

    return build(config)
