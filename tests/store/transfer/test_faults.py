"""An import that is refused, and what may name what."""

from datetime import date

import pytest
from made_gardens import KNOWLEDGE, NOW, TODAY, the_plan

from service.exporting import RECORD, export
from service.reading import PlanRejected
from service.record import Record
from service.store.errors import Conflict
from service.store.repository import Repository


def pointers(caught):
    return [error.pointer for error in caught.value.errors]


def test_a_plan_and_its_record_that_disagree_are_refused(store, put, get):
    garden_id = put(
        {"beds": [{"id": "kiln"}], "plantings": [{"id": "p", "bed": "kiln", "crop": "kale", "season": "2027"}]}
    )
    with store.write() as session:
        record = Record(Repository(session), garden_id, KNOWLEDGE, today=TODAY, now=NOW)
        record.log({"did": "sown", "planting": "p", "date": date(2027, 4, 20)})
        record.log({"did": "lost", "planting": "p", "date": date(2027, 5, 20), "cause": "slugs"})
        record.log({"did": "resown", "planting": "p", "date": date(2027, 5, 25)})
        record.log({"did": "sighting", "bed": "kiln", "of": "clubroot"})
        record.undo()
    out = export(get(garden_id))
    assert [row["id"] for row in out["plantings"]] == ["p.lost1", "p"]
    assert "sightings" not in out
    assert export(get(put(out))) == out

    def changed(**parts):
        return {**out, **parts}

    def with_record(**parts):
        return {**out, RECORD: {**out[RECORD], **parts}}

    journal = out[RECORD]["journal"]
    for wrong, wanted in (
        (changed(plantings=[out["plantings"][0], {**out["plantings"][1], "start": "2027-05-26"}]), ["/plantings/1"]),
        (changed(sightings=[{"bed": "kiln", "date": "2027-06-01", "of": "clubroot"}]), ["/sightings"]),
        (with_record(journal=journal[:2]), ["/plantings", "/plantings/0"]),
        (with_record(journal=[{**journal[0], "planting": "q"}, *journal[1:]]), [f"/{RECORD}/journal/0/planting"]),
        (with_record(journal=[*journal, {**journal[4], "corrects": 5}]), [f"/{RECORD}/journal/5/corrects"]),
        (with_record(journal=[{**journal[0], "did": "dug"}]), [f"/{RECORD}/journal/0/did"]),
        (with_record(planned={"p": {"season": "2027", "cause": "slugz", "status": "lost"}}), [f"/{RECORD}/planned"]),
        (with_record(more=1), [f"/{RECORD}/more"]),
        (changed(**{RECORD: 7}), [f"/{RECORD}"]),
    ):  # fmt: skip
        with pytest.raises(PlanRejected) as caught:
            put(wrong)
        assert pointers(caught)[: len(wanted)] == wanted


def test_an_import_names_every_bad_row_and_takes_none(store, put):
    bad = {
        "beds": [{"id": "kiln", "length": -1}],
        "plantings": [
            {"bed": "kiln", "crop": "kail", "season": "2027"},
            {"bed": "oven", "crop": "kale", "season": "2027"},
        ],
        "sightings": [{"bed": "kiln", "date": "2027-02-30", "of": "clubroot"}],
    }
    with pytest.raises(PlanRejected) as caught:
        put(bad)
    assert pointers(caught) == ["/beds/0/length", "/plantings/0/crop", "/plantings/1/bed", "/sightings/0/date"]
    with store.read() as session:
        assert Repository(session).clubs() == []


def test_a_number_that_json_does_not_have_is_refused_and_not_half_kept(store, put):
    plan = b'{"plantings": [{"bed": "b", "crop": "kale", "season": "2027", "x-yield": 1e999}]}'
    with pytest.raises(PlanRejected) as caught:
        put(plan)
    assert "too large to keep" in caught.value.errors[0].detail
    with store.read() as session:
        assert Repository(session).clubs() == []


def test_an_import_fills_an_empty_garden_and_no_other(store, garden_id, put, get):
    with store.write() as session:
        repository = Repository(session)
        club = repository.garden(garden_id).club_id
        empty = repository.add_garden(club, {"name": "Old", "country": "FR"}, now=NOW).id
    plan = {"garden": {"name": "New"}, "plantings": [{"bed": "b", "crop": "kale", "season": "2027"}]}
    assert put(plan, into=empty) == empty
    contents = get(empty)
    assert (contents.garden.name, contents.garden.country, contents.garden.version) == ("New", None, 2)
    assert ([bed.id for bed in contents.beds], [p.id for p in contents.plantings]) == (["b"], ["b.kale.2027"])
    for full in (empty, garden_id):
        with pytest.raises(Conflict):
            put(plan, into=full)


def test_rows_may_name_each_other_in_any_order_and_by_the_names_they_get(put, get):
    long = "x" * 64
    plan = {
        "crops": [{"id": "y" * 64, "family": "Oxalidaceae"}],
        "beds": [{"id": "new", "replaces": ["old"]}, {"id": "old"}, {"id": long}],
        "plantings": [
            {"id": "b", "bed": "new", "crop": "kale", "start": "2027-05-20", "replaces": "a"},
            {"id": "a", "bed": "new", "crop": "kale", "start": "2027-05-01", "status": "lost", "cause": "slugs"},
            {"bed": long, "crop": "y" * 64, "season": "2027"},
            {"bed": "old", "crop": "kale", "season": "2026"},
            {"bed": "old", "crop": "kale", "season": "2026", "count": 3},
        ],
        "covers": [{"bed": "old", "kind": "net", "start": "2026-05-01", "plantings": ["old.kale.2026.1"]}],
    }
    contents = get(put(plan))
    ids = [p.id for p in contents.plantings]
    assert ids[:2] == ["b", "a"]
    assert len(ids[2]) <= 64
    assert sorted(ids[3:]) == ["old.kale.2026.1", "old.kale.2026.2"]
    assert the_plan(contents, as_of=TODAY).covers[0].plantings == ("old.kale.2026.1",)
    out = export(contents)
    assert export(get(put(out))) == out
