"""In and out of a store."""

import json
import uuid

import pytest
from made_gardens import KNOWLEDGE, NOW, TODAY

from service.importing import read_garden, store_garden
from service.store.repository import Repository


@pytest.fixture
def put(store):
    """``put(document)``: import it into a club of its own; the new garden's id."""

    def store_it(plan, kind="json", into=None):
        body = plan if isinstance(plan, bytes) else json.dumps(plan).encode()
        contents = read_garden(body, kind, knowledge=KNOWLEDGE, today=lambda zone: TODAY, now=NOW)
        with store.write() as session:
            repository = Repository(session)
            club = repository.garden(into).club_id if into else repository.add_club(uuid.uuid4().hex, now=NOW).id
            return store_garden(repository, contents, club_id=club, into=into, now=NOW).id

    return store_it


@pytest.fixture
def get(store):
    """``get(id)``: all of a garden."""

    def read(garden_id):
        with store.read() as session:
            return Repository(session).contents(garden_id)

    return read
