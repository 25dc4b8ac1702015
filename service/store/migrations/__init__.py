"""Alembic's folder: one file a revision, from the first."""
