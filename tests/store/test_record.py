"""Writes that leave a garden whole, and the plan that a stored garden is."""

from datetime import date

import pytest

from rules import check
from rules.model import Amendment, Cover, Sighting, Treatment
from service.mapping import garden_plan
from service.reading import PlanRejected
from service.record import line_row
from service.schemas.entry import DID, EntrySchema
from service.store.errors import Conflict, NotFound, Stale
from service.store.repository import Repository

TODAY = date(2027, 6, 1)


def d(text):
    return date.fromisoformat(f"2027-{text}")


@pytest.fixture
def plan(store, garden_id, knowledge):
    """``plan()``: the garden as a plan, on a day."""

    def read(as_of=TODAY, season=None):
        with store.read() as session:
            return garden_plan(Repository(session).contents(garden_id), knowledge, as_of=as_of, season=season)

    return read


@pytest.fixture
def log(writing):
    """``log(did, day, ...)``: a line of its own transaction, about the kale unless told otherwise."""

    def write(did, day="05-20", today=TODAY, **line):
        with writing(today) as record:
            about = {} if "bed" in line or did in ("note", "undo") else {"planting": "kale"}
            return record.log({"did": did, "date": d(day), **about, **line})

    return write


def faults(caught):
    return [(error.pointer, error.detail) for error in caught.value.errors]


def the(plan, planting_id="kale"):
    return next(planting for planting in plan.plantings if planting.id == planting_id)


def test_a_planting_is_checked_as_what_became_of_it(plan, log):
    assert (the(plan()).start, the(plan()).assumed_end) == (d("05-01"), True)
    log("sown", "05-09")
    assert (the(plan()).status, the(plan()).start) == ("growing", d("05-09"))
    log("harvested", "05-25", amount=1.5, unit="kg")
    log("cleared", "05-30")
    kale = the(plan())
    assert (kale.status, kale.end, kale.first_harvest, kale.assumed_end) == ("done", d("05-30"), d("05-25"), False)


def test_what_still_grows_does_not_end_before_today(writing, plan, log):
    with writing() as record:
        record.change_planting("kale", {"end": d("05-20")})
    log("sown", "05-02")
    assert the(plan(d("05-10"))).end == d("05-20")
    assert the(plan(d("08-01"))).end >= d("08-01")


def test_a_resowing_stands_in_place_of_what_was_lost(plan, log):
    log("sown", "05-02")
    log("lost", "05-10", cause="slugs")
    log("resown", "05-12")
    before, now = the(plan(), "kale.lost1"), the(plan())
    assert (before.status, before.start, before.end, before.cause) == ("lost", d("05-02"), d("05-10"), "slugs")
    assert (now.status, now.start, now.replaces) == ("growing", d("05-12"), "kale.lost1")


def test_the_journal_fills_the_lists_of_the_plan(plan, log):
    log("covered", "05-02", kind="net", mesh=0.8, edges="shut")
    log("covered", "05-03", bed="quay", kind="fleece", until=d("05-30"))
    log("uncovered", "05-25")
    log("treated", "05-26", active="azadirachtin", harvest_interval=3)
    log("sighting", "05-27", of="Clubroot", level="low")
    log("manured", "05-28", bed="quay", kind="compost")
    found = plan()
    assert found.covers == (
        Cover("kiln", "net", d("05-02"), d("05-25"), 0.8, ("kale",), "shut"),
        Cover("quay", "fleece", d("05-03"), d("05-30")),
    )
    assert found.treatments == (Treatment("kiln", d("05-26"), "azadirachtin", "kale", 3),)
    assert found.sightings == (Sighting("kiln", d("05-27"), "clubroot", "low", "kale"),)
    assert found.amendments == (Amendment("quay", d("05-28"), "compost"),)


def test_a_net_taken_off_one_planting_lies_on_over_the_other(writing, plan, log):
    with writing() as record:
        record.add_planting({"id": "leek", "bed": "kiln", "crop": "leek", "start": d("05-01"), "part": (0.5, 1.0)})
    log("covered", "05-02", bed="kiln", kind="net", plantings=["kale", "leek"], open_by_day_from=d("05-28"))
    log("uncovered", "05-20")
    assert plan().covers == (
        Cover("kiln", "net", d("05-02"), None, None, ("leek",), None, d("05-28")),
        Cover("kiln", "net", d("05-02"), d("05-20"), None, ("kale",)),
    )


def test_an_undo_takes_back_the_last_line_that_stands(writing, plan, log):
    log("sown", "05-02")
    log("cleared", "05-30")
    with writing() as record:
        undone = record.undo()
    assert line_row(undone) | {"recorded": None} == {
        "id": 3, "did": "undo", "date": TODAY, "bed": "kiln", "planting": "kale", "corrects": 2, "recorded": None,
    }  # fmt: skip
    assert the(plan()).status == "growing"
    with writing() as record:
        assert record.undo(bed="kiln").corrects == 1
    assert (the(plan()).start, plan().covers) == (d("05-01"), ())
    for wrong in (lambda r: r.undo(), lambda r: r.undo(1), lambda r: r.undo(3), lambda r: r.log({"did": "undo"})):
        with pytest.raises(Conflict), writing() as record:
            wrong(record)
    with pytest.raises(NotFound), writing() as record:
        record.undo(99)


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ({"did": "sown", "bed": "kiln"}, [("/planting", "sown needs a planting")]),
        ({"did": "watered", "bed": "kilm"}, [("/bed", "no bed has the id 'kilm'")]),
        ({"did": "covered"}, [("/kind", "covered needs kind"), ("/bed", "covered needs a bed")]),
        ({"did": "covered", "bed": "kiln", "kind": "compost"}, None),
        ({"did": "sighting", "bed": "kiln", "of": "clubrot"}, None),
        ({"did": "lost", "planting": "kale", "cause": "slugz"}, None),
        ({"did": "harvested", "planting": "kale", "amount": 2.0}, None),
        ({"did": "watered", "bed": "kiln", "active": "soap"}, [("/active", "watered does not take active")]),
        ({"did": "emerged", "planting": "kale", "bed": "quay"}, [("/bed", "kale stands in kiln")]),
        ({"did": "emerged", "planting": "leek"}, None),
        ({"did": "cleared", "planting": "kale", "date": d("06-02")}, None),
        ({"did": "uncovered", "bed": "kiln"}, [("/did", "no cover is on record there on 2027-06-01")]),
        ({"did": "covered", "bed": "kiln", "kind": "net", "until": d("05-01")}, None),
        ({"did": "note"}, [("/note", "note needs note")]),
    ],
)
def test_a_line_that_makes_no_sense_is_refused_and_leaves_nothing(store, garden_id, writing, line, wanted):
    with pytest.raises(PlanRejected) as caught, writing() as record:
        record.log(line)
    assert wanted is None or faults(caught) == wanted
    assert all(error.detail and error.pointer for error in caught.value.errors)
    with store.read() as session:
        assert Repository(session).lines(garden_id) == []


@pytest.mark.parametrize("after", ["cleared", "lost"])
def test_what_is_over_is_not_picked_again(log, after):
    log(after, "05-10")
    for did in ("harvested", "emerged", "cleared", "lost"):
        with pytest.raises(PlanRejected) as caught:
            log(did, "05-20")
        assert faults(caught) == [("/did", f"it was {after} on 2027-05-10; undo that first if it is wrong")]
    log("harvested", "05-05")  # one that was forgotten


def test_a_second_sowing_asks_whether_it_is_a_resowing(log):
    log("sown", "05-10")
    with pytest.raises(PlanRejected) as caught:
        log("sown", "05-20")
    assert faults(caught) == [("/did", "it stands since 2027-05-10; log resown, or undo what is wrong")]


@pytest.mark.parametrize(
    ("write", "wanted"),
    [
        (lambda r: r.add_planting({"bed": "kiln", "crop": "kail", "season": "2027"}), ["/crop"]),
        (lambda r: r.add_planting({"bed": "none", "crop": "kale", "season": "2027"}), ["/bed"]),
        (lambda r: r.add_planting({"bed": "kiln", "crop": "kale"}), [""]),
        (lambda r: r.add_planting({"bed": "kiln", "crop": "kale", "season": "2027", "replaces": "x"}), ["/replaces"]),
        (lambda r: r.change_planting("kale", {"end": d("04-01")}), ["/end"]),
        (lambda r: r.change_planting("kale", {"crop": "kail"}), ["/crop"]),
        (lambda r: r.change_planting("kale", {"cause": "slugs", "status": "done"}), ["/cause"]),
        (lambda r: r.add_bed({"id": "new", "replaces": [{"bed": "none"}]}), ["/replaces"]),
        (lambda r: r.change_bed("kiln", {"replaces": [{"bed": "kiln"}]}), ["/replaces"]),
        (lambda r: r.add_crop({"id": "kale", "family": "Brassicaceae"}), ["/id"]),
        (lambda r: r.add_crop({"id": "oca", "family": "Nonsense"}), ["/family"]),
    ],
)
def test_a_write_that_makes_no_plan_is_refused_and_leaves_nothing(store, garden_id, writing, plan, write, wanted):
    before = plan()
    with pytest.raises(PlanRejected) as caught, writing() as record:
        write(record)
    assert [error.pointer for error in caught.value.errors] == wanted
    assert plan() == before
    with store.read() as session:
        assert Repository(session).contents(garden_id).crops == []


def test_a_crop_in_use_and_a_season_that_no_longer_fits_are_kept(writing, plan):
    with writing() as record:
        record.add_crop({"id": "oca", "family": "Oxalidaceae"})
        record.add_planting({"bed": "quay", "crop": "oca", "season": "2027-spring", "start": d("04-01")})
    assert the(plan(), "quay.oca.2027-spring").crop.id == "oca"
    with pytest.raises(PlanRejected) as caught, writing() as record:
        record.remove_crop("oca")
    assert faults(caught)[0][1].startswith("plantings quay.oca.2027-spring: no crop is known as 'oca'")
    with pytest.raises(PlanRejected) as caught, writing() as record:
        record.change_garden({"latitude": -38.0})
    assert "is not in the season 2027-spring" in faults(caught)[0][1]


def test_plans_change_and_what_happened_is_logged(writing, log, plan):
    with writing() as record:
        assert record.change_planting("kale", {"status": "growing", "count": 8}, version=1).version == 2
    log("sown", "05-02")
    with pytest.raises(PlanRejected) as caught, writing() as record:
        record.change_planting("kale", {"status": "done"})
    assert [error.pointer for error in caught.value.errors] == ["/status"]
    with pytest.raises(Stale), writing() as record:
        record.change_planting("kale", {"count": 9}, version=2)  # the sowing came in between
    with writing() as record:
        record.change_planting("kale", {"count": 9, "first_harvest": d("07-01")}, version=3)
    assert (the(plan()).plants, the(plan()).first_harvest) == (9, d("07-01"))


def test_a_garden_without_beds_takes_its_first_one(store, garden_id, writing):
    with store.write() as session:
        repository = Repository(session)
        empty = repository.add_garden(
            repository.garden(garden_id).club_id, {}, now=repository.garden(garden_id).created_at
        )
    with writing(garden=empty.id) as record:
        record.add_crop({"id": "oca", "family": "Oxalidaceae"})
        record.change_garden({"name": "New"})
        record.add_bed({"id": "one"})
        first = record.add_planting({"bed": "one", "crop": "Kale", "season": "2027"})
        second = record.add_planting({"bed": "one", "crop": "kales", "season": "2027"})
    assert (first.id, second.id) == ("one.kale.2027", "one.kale.2027.2")


def test_a_stored_garden_is_judged_like_any_plan(writing, plan, log, knowledge):
    with writing() as record:
        record.add_planting({"bed": "kiln", "crop": "cabbage", "start": date(2026, 4, 1), "end": date(2026, 9, 1)})
    found = check(plan(season="2027"), knowledge).findings
    assert "rotation.family-too-soon" in [finding.rule for finding in found]
    log("lost", "05-10", cause="slugs")
    assert check(plan(season="2027"), knowledge).findings != found


def test_the_schema_of_a_line_knows_every_word():
    assert {word for word in DID if not EntrySchema().validate({"did": word}).get("did")} == set(DID)
    assert EntrySchema().load({"did": "Sown", "x-phone": 1, "note": " dry\r\nsoil "}) == {
        "did": "sown", "note": "dry\nsoil",
    }  # fmt: skip
    assert set(EntrySchema().validate({"did": "covered", "kind": "lime", "amount": 1, "sort": 1})) == {"sort"}
    assert set(EntrySchema().validate({"did": "covered", "kind": "lime", "amount": 1})) == {"kind", "amount"}
    assert set(EntrySchema().validate({"did": "note", "note": "a\x00b"})) == {"note"}
