"""No test reads or writes the record of whoever runs it: what names no database gets one of this run."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile

from hypothesis import settings

# The same examples in every run, each with the time that it takes: a search for new faults is an errand of its own
# (--hypothesis-profile=default), which no busy machine and no chance may turn into a failure of something else.
settings.load_profile("ci")

_FOLDER = tempfile.mkdtemp(prefix="breakcrop-tests-")
os.environ["BREAKCROP_DATABASE_URL"] = f"sqlite:///{_FOLDER}/record.db"
atexit.register(shutil.rmtree, _FOLDER, ignore_errors=True)

# The databases of a test, and one PostgreSQL server for all of them (tests/store/databases.py).
from databases import backend, new_url, postgres, postgres_template, sqlite_template, store  # noqa: E402, F401

from service.database import ready_store  # noqa: E402

ready_store().close()
