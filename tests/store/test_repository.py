"""Rows in and out, on SQLite and on PostgreSQL alike."""

from datetime import UTC, date, datetime, timedelta

import pytest

from rules.model import FrostDate
from service.store.errors import Conflict, NotFound, Stale
from service.store.repository import Repository
from service.store.rows import typed_row
from service.store.tables import Entry

DAY = date(2027, 5, 2)
NOW = datetime(2027, 6, 1, 9, 30, tzinfo=UTC)
GARDEN = {
    "name": "Plots", "site": "tannery", "latitude": 46.2, "longitude": 0.1, "country": "US-CA",
    "time_zone": "America/Argentina/ComodRivadavia", "last_spring_frost": FrostDate((5, 4), (4, 20), (5, 15)),
    "first_autumn_frost": FrostDate((10, 2)), "units": "imperial", "rotation": "short",
    "soil": {"ph": 6.5, "texture": "loam", "drainage": "good"},
}  # fmt: skip
BED = {
    "id": "b" * 64, "name": "n" * 80, "kind": "greenhouse", "length": 300.1, "width": 120.0, "depth": 30.0,
    "position": (-1.5, 2.25), "turn": -90.0, "irrigation": {"method": "drip", "emitter_flow": 2.0, "lines": 2},
    "soil": {"ph": 6.2}, "from": date(2020, 1, 1), "until": date(2199, 12, 31),
}  # fmt: skip
PLANTING = {
    "id": "p", "bed": "kiln", "part": (0.1, 0.30000000000000004), "crop": "Kale",
    "variety": {"name": "own", "resists": ["clubroot"], "parthenocarpic": False}, "season": "2027-spring",
    "start": DAY, "end": date(2027, 9, 1), "first_harvest": date(2027, 7, 1), "status": "lost", "cause": "slugs",
    "replaces": "kale", "method": "transplant", "count": 1_000_000, "spacing": 2.54,
}  # fmt: skip


def test_what_goes_in_comes_out(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        garden = repository.add_garden(repository.garden(garden_id).club_id, GARDEN, now=NOW, extra={"x-a": [1, None]})
        repository.add_bed(garden_id, {**BED, "replaces": [{"bed": "quay", "from": DAY}, {"bed": "kiln"}]})
        repository.add_planting(garden_id, PLANTING)
        repository.add_crop(garden_id, {"id": "oca", "family": "Oxalidaceae", "name": "Oca", "lifecycle": "annual"})
    with store.read() as session:
        stored = Repository(session).garden(garden.id)
        assert typed_row(stored) == GARDEN
        assert (stored.extra, stored.created_at, stored.version) == ({"x-a": [1, None]}, NOW, 1)
        contents = Repository(session).contents(garden_id)
    assert typed_row(contents.beds[-1]) == BED
    assert [typed_row(ground) for ground in contents.grounds] == [{"bed": "quay", "from": DAY}, {"bed": "kiln"}]
    assert typed_row(contents.plantings[-1]) == PLANTING
    assert [crop.id for crop in contents.crops] == ["oca"]


def test_a_garden_of_another_club_is_not_there(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        other = repository.add_club("Other", now=NOW)
        with pytest.raises(NotFound) as caught:
            repository.garden(garden_id, club_id=other.id)
        assert caught.value.detail == f"There is no garden {garden_id}."
        assert repository.gardens(other.id) == []
        with pytest.raises(NotFound):
            repository.touch("none")


def test_a_change_counts_and_an_old_version_is_refused(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        assert repository.change_bed(garden_id, "kiln", {"length": 250.0, "width": None}, version=1).version == 2
        before = repository.garden(garden_id)
        assert repository.change_garden(garden_id, {"name": "New"}, version=before.version).version == 2
    for change in (
        lambda r: r.change_bed(garden_id, "kiln", {"length": 200.0}, version=1),
        lambda r: r.remove_bed(garden_id, "kiln", version=1),
        lambda r: r.change_garden(garden_id, {"name": "Newer"}, version=1),
        lambda r: r.remove_garden(garden_id, version=1),
        lambda r: r.change_planting(garden_id, "kale", {"count": 1}, version=7),
        lambda r: r.remove_planting(garden_id, "kale", version=7),
    ):
        with pytest.raises(Stale), store.write() as session:
            change(Repository(session))
    with store.read() as session:
        bed = Repository(session).bed(garden_id, "kiln")
        assert (bed.length, bed.width, bed.version) == (250.0, None, 2)


def test_the_ground_that_a_bed_took_over_counts_as_its_change(store, garden_id):
    with store.write() as session:
        bed = Repository(session).change_bed(garden_id, "kiln", {"replaces": [{"bed": "quay"}]}, version=1)
        assert bed.version == 2
    with store.write() as session:
        with pytest.raises(Conflict):
            Repository(session).remove_bed(garden_id, "quay")
        assert Repository(session).change_bed(garden_id, "kiln", {"replaces": None}).version == 3
        Repository(session).remove_bed(garden_id, "quay")


def test_ids_stay_and_are_given_once(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        for clash in (
            lambda: repository.add_bed(garden_id, {"id": "kiln"}),
            lambda: repository.add_planting(garden_id, {"id": "kale", "bed": "kiln", "crop": "leek"}),
            lambda: repository.add_planting(garden_id, {"id": "leek", "bed": "none", "crop": "leek"}),
            lambda: repository.change_planting(garden_id, "kale", {"bed": "quay"}),
            lambda: repository.change_bed(garden_id, "kiln", {"id": "oven"}),
        ):
            with pytest.raises(Conflict):
                clash()
        with pytest.raises(NotFound):
            repository.add_planting(garden_id, {"id": "leek", "bed": "kiln", "crop": "leek", "replaces": "none"})
        # A refused row leaves the transaction usable.
        repository.add_planting(garden_id, {"id": "leek", "bed": "kiln", "crop": "leek", "replaces": "kale"})
        with pytest.raises(Conflict, match="leek stands in place of kale"):
            repository.remove_planting(garden_id, "kale")
    with store.read() as session:
        assert [p.id for p in Repository(session).contents(garden_id).plantings] == ["kale", "leek"]


def test_the_journal_is_only_added_to(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        line = repository.log(garden_id, {"did": "sown", "date": DAY, "bed": "kiln", "planting": "kale"}, now=NOW)
        assert repository.planting(garden_id, "kale").version == 2
        repository.log(garden_id, {"did": "undo", "date": DAY, "corrects": line.id, "planting": "kale"}, now=NOW)
        for wrong in (
            {"did": "undo", "date": DAY, "corrects": line.id},
            {"did": "undo", "date": DAY},
            {"did": "sown", "date": DAY, "planting": "none"},
            {"did": "sown", "date": DAY, "bed": "none"},
        ):
            with pytest.raises(Conflict):
                repository.log(garden_id, wrong, now=NOW)
        with pytest.raises(Conflict, match="Something was logged about kale"):
            repository.remove_planting(garden_id, "kale")
        with pytest.raises(Conflict, match="has a history"):
            repository.remove_bed(garden_id, "kiln")
    with store.read() as session:
        lines = Repository(session).lines(garden_id)
        assert [(entry.did, entry.corrects) for entry in lines] == [("sown", None), ("undo", line.id)]
        assert Repository(session).lines(garden_id, after=line.id, most=1) == [lines[1]]
    for change in (lambda session, entry: setattr(entry, "did", "lost"), lambda session, entry: session.delete(entry)):
        with pytest.raises(TypeError, match="corrected by another"), store.write() as session:
            change(session, session.get(Entry, line.id))


def test_every_write_counts_once_in_the_garden(store, garden_id):
    def revision():
        with store.read() as session:
            return Repository(session).garden(garden_id).revision

    first = revision()
    with store.write() as session:
        Repository(session).log(garden_id, {"did": "note", "date": DAY, "note": "rain"}, now=NOW)
    assert revision() == first + 1
    with pytest.raises(Conflict), store.write() as session:  # noqa: PT012
        for _ in range(2):  # the second is refused, and takes the first with it
            Repository(session).add_bed(garden_id, {"id": "oven"})
    assert revision() == first + 1


def test_a_garden_goes_with_all_that_is_in_it(store, garden_id):
    with store.write() as session:
        repository = Repository(session)
        repository.change_bed(garden_id, "kiln", {"replaces": [{"bed": "quay"}]})
        repository.add_planting(garden_id, {"id": "kale2", "bed": "kiln", "crop": "kale", "replaces": "kale"})
        line = repository.log(garden_id, {"did": "sown", "date": DAY, "bed": "kiln", "planting": "kale"}, now=NOW)
        repository.log(garden_id, {"did": "undo", "date": DAY, "corrects": line.id}, now=NOW + timedelta(1))
        assert not repository.is_empty(garden_id)
        repository.remove_garden(garden_id)
    with store.read() as session, pytest.raises(NotFound):
        Repository(session).contents(garden_id)
