"""A garden to write to, in a store of each kind (the stores themselves: ``databases``)."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, date, datetime

import pytest

import rules
from service.record import Record
from service.store.repository import Repository

NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
TODAY = date(2027, 6, 1)


@pytest.fixture(scope="session")
def knowledge():
    return rules.load_knowledge()


@pytest.fixture
def garden_id(store):
    """A garden with two beds: kale is planned in Kiln, nothing in Quay."""
    with store.write() as session:
        repository = Repository(session)
        club = repository.add_club("Tannery Row", now=NOW)
        garden = repository.add_garden(club.id, {"name": "Plots", "latitude": 46.2, "country": "FR"}, now=NOW)
        repository.add_bed(garden.id, {"id": "kiln", "length": 300.0, "width": 120.0})
        repository.add_bed(garden.id, {"id": "quay"})
        repository.add_planting(garden.id, {"id": "kale", "bed": "kiln", "crop": "kale", "start": date(2027, 5, 1)})
    return garden.id


@pytest.fixture
def writing(store, garden_id, knowledge):
    """``with writing() as record``: a transaction on the garden."""

    @contextmanager
    def open_record(today=TODAY, garden=garden_id):
        with store.write() as session:
            yield Record(Repository(session), garden, knowledge, today=today, now=NOW)

    return open_record
