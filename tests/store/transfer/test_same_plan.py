"""What is brought in comes out the same, whatever it is."""

from contextlib import suppress
from datetime import date, timedelta
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_gardens import KNOWLEDGE, NOW, TODAY, plain_crops, the_plan

import service
from rules import build_plan
from service.exporting import RECORD, export
from service.mapping import document
from service.phonelog import note
from service.reading import PlanRejected, parse, typed
from service.record import Record
from service.store.errors import Conflict
from service.store.repository import Repository

DEMO = Path(service.__file__).parent / "demo" / "tannery.yaml"


LISTS = ("crops", "beds", "plantings", "covers", "sightings", "treatments", "amendments")


def straight_plan(data, as_of=TODAY, season=None):
    return plain_crops(build_plan(data, KNOWLEDGE, as_of=as_of, season=season))


def test_the_demo_comes_out_as_it_went_in(put, get):
    raw = parse(DEMO.read_bytes(), "yaml")[0]
    data, faults = typed(raw)
    assert faults == []
    contents = get(put(DEMO.read_bytes(), "yaml"))
    out = export(contents)
    again = typed(out)[0]
    for key in LISTS:
        given_rows = [
            {**row, "id": out[key][i]["id"]} if key == "plantings" else row for i, row in enumerate(data[key])
        ]
        assert again[key] == given_rows, key
    assert again["garden"] == data["garden"]
    as_of, season = data["as_of"], "2027"
    straight = straight_plan(data, as_of=as_of, season=season)
    assert the_plan(contents, as_of=as_of, season=season) == straight
    assert export(get(put(out))) == out


# Gardens that hypothesis makes up.
CROPS = ["kale", "Cabbages", "leek", "onion", "garlic", "rhubarb", "fallow", "oca", "beans", "tomatoes"]
SLUGS = st.sampled_from(["a", "b2", "kiln", "Old-1", "x" * 30])
TEXT = st.text("ab'=<&é好 ", min_size=1, max_size=12).map(lambda text: text.strip() or "a")
DAYS = st.integers(0, 900).map(lambda n: date(2025, 1, 1) + timedelta(days=n))
EXTRA = st.dictionaries(
    st.sampled_from(["x-a", "x-ü"]), st.none() | st.booleans() | st.text(max_size=5) | st.lists(st.integers(-9, 9))
)


def some(**keys):
    return st.fixed_dictionaries({}, optional=keys)


GARDEN = some(
    name=TEXT,
    site=SLUGS,
    latitude=st.sampled_from([46.2, -38.0, 5.5, 0, 51.4779]),
    country=st.sampled_from(["FR", "US-CA", "nz"]),
    time_zone=st.sampled_from(["Europe/Paris", "UTC"]),
    last_spring_frost=st.sampled_from(["05-04", {"p50": "05-04", "p90": "05-20"}]),
    first_autumn_frost=st.sampled_from(["10-02", {"p10": "09-20", "p50": "10-02"}]),
    units=st.sampled_from(["metric", "imperial"]),
    rotation=st.sampled_from(["full", "short"]),
    soil=some(ph=st.just(6.5), texture=st.just("loam"), **{"x-lab": st.just([1])}),
)


@st.composite
def gardens(draw):
    """A document that can be read: every key may be there, every reference leads somewhere."""
    bed_ids = draw(st.lists(SLUGS, min_size=1, max_size=3, unique=True))
    day = DAYS.map(date.isoformat)
    beds = []
    for i, bed_id in enumerate(bed_ids):
        bed = draw(
            some(
                name=TEXT, kind=st.sampled_from(["ground", "raised", "container", "greenhouse"]),
                length=st.sampled_from([300, "10 ft", 2.54]), width=st.just("4 ft 6 in"), depth=st.just(30),
                position=st.just({"x": -1.5, "y": 0.1}), turn=st.sampled_from([0, 90, -33.3]),
                irrigation=st.just({"method": "drip", "emitter_spacing": 30, "lines": 2, "x-pump": "old"}),
                soil=st.just({"ph": 6.1}), until=st.just("2027-12-31"),
            )
        )  # fmt: skip
        if i and draw(st.booleans()):
            bed["replaces"] = draw(st.sampled_from([[bed_ids[0]], [{"bed": bed_ids[0], "from": "2025-01-01"}]]))
        beds.append({"id": bed_id, **bed, **draw(EXTRA)})
    plantings = []
    for i in range(draw(st.integers(0, 5))):
        start = draw(DAYS)
        harvest, end = (
            start + timedelta(days=draw(st.integers(0, 90))),
            start + timedelta(days=draw(st.integers(90, 300))),
        )
        times = draw(
            st.sampled_from(
                [{"start": start.isoformat()}, {"season": str(start.year)}, {"season": f"{start.year}-spring"}]
            )
        )
        more = draw(
            some(
                end=st.just(end.isoformat()), first_harvest=st.just(harvest.isoformat()),
                status=st.sampled_from(["planned", "growing", "done"]), part=st.sampled_from([[0, 0.5], [0.25, 1]]),
                variety=st.just({"name": "own", "resists": ["clubroot"], "x-from": "a swap"}),
                method=st.sampled_from(["sow", "transplant", "set", "volunteer"]), count=st.integers(1, 99),
                spacing=st.sampled_from([30, "1 ft"]),
            )
        )  # fmt: skip
        if "season" in times:
            more = {key: value for key, value in more.items() if key not in ("end", "first_harvest")}
        if draw(st.booleans()):
            more["id"] = f"p{i}"
            if i and "id" in plantings[0]:
                more["replaces"] = draw(st.sampled_from([p["id"] for p in plantings if "id" in p]))
        if draw(st.integers(0, 5)) == 0:
            more |= {"status": "lost", "cause": "slugs"}
        row = {"bed": draw(st.sampled_from(bed_ids)), "crop": draw(st.sampled_from(CROPS)), **times, **more}
        plantings.append({**row, **draw(EXTRA)})
    named = [row["id"] for row in plantings if "id" in row]
    one = some(planting=st.sampled_from(named)) if named else st.just({})
    bed = st.sampled_from(bed_ids)

    def rows(*parts):
        whole = st.tuples(*parts, EXTRA).map(lambda found: {key: v for part in found for key, v in part.items()})
        return draw(st.lists(whole, max_size=3))

    mesh, plants = st.sampled_from([0.8, 7]), st.lists(st.sampled_from(named or ["none"]), max_size=2, unique=True)
    covers = rows(
        st.fixed_dictionaries({"bed": bed, "start": st.just("2026-01-01"), "kind": st.sampled_from(["net", "fleece"])}),
        some(
            mesh=mesh, end=st.just("2026-05-01"), edges=st.just("shut"), open_by_day_from=st.just("2026-02-01"),
            **({"plantings": plants} if named else {}),
        ),
    )  # fmt: skip
    at = {"bed": bed, "date": day}
    sightings = rows(
        st.fixed_dictionaries({**at, "of": st.sampled_from(["clubroot", "Slugs", "potato aphid", "allium white rot"])}),
        some(level=st.sampled_from(["low", "moderate", "severe"])),
        one,
    )
    treatments = rows(st.fixed_dictionaries({**at, "active": TEXT}), some(harvest_interval=st.integers(0, 30)), one)
    amendments = rows(st.fixed_dictionaries({**at, "kind": st.sampled_from(["lime", "raw_manure", "new_soil"])}))
    whole = {
        "garden": draw(GARDEN), "crops": [{"id": "oca", "family": "Oxalidaceae", **draw(EXTRA)}], "beds": beds,
        "plantings": plantings, "covers": covers, "sightings": sightings, "treatments": treatments,
        "amendments": amendments, **draw(EXTRA),
    }  # fmt: skip
    return whole


several = settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


@settings(several)
@given(plan=gardens())
def test_what_is_imported_is_the_same_plan_and_exports_the_same(plan, put, get):
    garden_id = put(plan)
    contents = get(garden_id)
    data = typed(plan)[0]
    for season in ("2026", None):
        straight = straight_plan(data, as_of=TODAY, season=season)
        assert the_plan(contents, as_of=TODAY, season=season) == straight
    out = export(contents)
    assert out.get("crops") == plan["crops"]
    for key in LISTS:
        extras = [{word: v for word, v in row.items() if word.startswith("x-")} for row in plan[key]]
        assert [{w: v for w, v in row.items() if w.startswith("x-")} for row in out.get(key, [])] == extras
    assert {w: v for w, v in out.items() if w.startswith("x-") and w != RECORD} == {
        w: v for w, v in plan.items() if w.startswith("x-")
    }
    assert export(get(put(out))) == out
    out.pop(RECORD, None)  # a reader that does not know the record loses the journal's own words only
    assert the_plan(get(put(out)), as_of=TODAY) == the_plan(contents, as_of=TODAY)


IN_BED = {"bed": st.integers(0, 2), "date": DAYS}
LINES = st.lists(
    st.one_of(
        st.fixed_dictionaries({
            "did": st.sampled_from(["sown", "transplanted", "emerged", "lost", "resown", "harvested", "cleared"]),
            "planting": st.integers(0, 4), "date": DAYS,
        }),
        st.fixed_dictionaries({
            "did": st.sampled_from(["sown", "transplanted", "emerged", "lost", "resown"]),
            "planting": st.integers(0, 4), "date": DAYS, "count": st.integers(1, 99),
        }),
        st.fixed_dictionaries({
            "made": st.sampled_from(["sown", "transplanted"]), "bed": st.integers(0, 2), "date": DAYS,
        }),
        st.fixed_dictionaries(
            {"did": st.just("covered"), "bed": st.integers(0, 2), "date": DAYS, "kind": st.just("net")},
            optional={"plantings": st.lists(st.integers(0, 4), max_size=2, unique=True), "open_by_day_from": DAYS},
        ),
        st.fixed_dictionaries(
            {"did": st.just("uncovered"), "bed": st.integers(0, 2), "date": DAYS},
            optional={"planting": st.integers(0, 4)},
        ),
        st.fixed_dictionaries({
            "did": st.just("harvested"), "planting": st.integers(0, 4), "date": DAYS,
            "amount": st.just(1.5), "unit": st.just("kg"), "note": TEXT,
        }),
        st.fixed_dictionaries({**IN_BED, "did": st.just("watered"), "litres": st.just(20)}),
        st.fixed_dictionaries({**IN_BED, "did": st.just("sighting"), "of": st.just("clubroot")}),
        st.just({"did": "undo"}),
    ),
    min_size=3,
    max_size=14,
)  # fmt: skip


def pointed(line, contents):
    """A line with the ids of beds and plantings for their numbers; one that names nothing is refused."""
    beds, plantings = ([row.id for row in rows] or ["none"] for rows in (contents.beds, contents.plantings))
    named = {key: ids[line[key] % len(ids)] for key, ids in (("bed", beds), ("planting", plantings)) if key in line}
    over = (
        {"plantings": sorted({plantings[n % len(plantings)] for n in line["plantings"]})} if "plantings" in line else {}
    )
    return {**line, **named, **over}


@settings(several)
@given(plan=gardens(), lines=LINES)
def test_a_garden_with_a_journal_comes_back_whole(plan, lines, store, put, get):
    garden_id = put(plan)
    first = get(garden_id)
    with store.write() as session:
        record = Record(Repository(session), garden_id, KNOWLEDGE, today=date(2027, 12, 1), now=NOW)
        for line in lines:
            with suppress(PlanRejected, Conflict):
                if "made" in line:  # as from a phone: a crop that was not planned there
                    bed, day = pointed(line, first)["bed"], line["date"].isoformat()
                    note(record, {"did": line["made"], "bed": bed, "crop": "turnips", "date": day, "count": "7"})
                else:
                    record.undo() if line["did"] == "undo" else record.log(pointed(line, first))
    contents = get(garden_id)
    assert len(contents.journal) >= len(first.journal)
    straight = the_plan(contents, as_of=TODAY)  # whatever was taken can be read as a plan
    out = export(contents)
    again = get(put(out))
    assert export(again) == out
    assert the_plan(again, as_of=TODAY) == straight
    assert document(again) == document(contents)
