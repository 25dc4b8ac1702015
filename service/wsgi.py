"""The application object for a WSGI server: ``gunicorn -c python:service.gunicorn_conf service.wsgi:app``."""

from __future__ import annotations

from service import create_app

app = create_app()
