"""What a phone sends, what is written down of it, and the sentence that comes back."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

import service
from rules.model import Cover
from service.encode import to_bytes
from service.exporting import export
from service.importing import read_garden, store_garden
from service.mapping import garden_plan
from service.phonelog import note
from service.reading import PlanRejected
from service.record import Record
from service.store.errors import Conflict, NotFound
from service.store.repository import Repository

DEMO = Path(service.__file__).parent / "demo" / "tannery.yaml"
NOW = datetime(2027, 4, 22, 9, 30, tzinfo=UTC)
TODAY = date(2027, 4, 22)
SPEAKABLE = re.compile(r"(Logged|Taken back): [\w .,?!'’-]+(?:\. Note: [\w .,?!'’-]+)?[.?]")


@pytest.fixture
def demo(store, knowledge):
    """The demo garden's id, in the store."""
    contents = read_garden(DEMO.read_bytes(), "yaml", knowledge=knowledge, today=lambda zone: TODAY, now=NOW)
    with store.write() as session:
        repository = Repository(session)
        club = repository.add_club("Tannery Row", now=NOW)
        return store_garden(repository, contents, club_id=club.id, now=NOW).id


@pytest.fixture
def say(store, demo, knowledge):
    """``say(bed=..., did=..., ...)``: one line in its own transaction, noted."""

    def write(today=TODAY, **flat):
        with store.write() as session:
            noted = note(Record(Repository(session), demo, knowledge, today=today, now=NOW), flat)
        assert SPEAKABLE.fullmatch(noted.say), noted.say
        assert len(noted.say) < 200
        return noted

    return write


@pytest.fixture
def contents(store, demo):
    """``contents()``: all of the demo garden."""

    def read():
        with store.read() as session:
            return Repository(session).contents(demo)

    return read


@pytest.fixture
def the(contents, knowledge):
    """``the(id)``: a planting of the garden as a plan on a day, None where there is none."""

    def find(planting_id, as_of=TODAY):
        plan = garden_plan(contents(), knowledge, as_of=as_of)
        return next((p for p in plan.plantings if p.id == planting_id), None)

    return find


def faults(caught):
    return [(error.pointer, error.detail) for error in caught.value.errors]


#: What was said, the planting it is about, and the whole answer.
SAID = [
    ({"bed": "kiln", "did": "transplanted", "crop": "Cabbages", "count": "12"}, "cabbages",
     "Logged: 12 cabbages planted in Kiln bed today. "
     "Note: Cabbages in Kiln bed too soon after kale, both are of the cabbage family."),
    ({"bed": "the Sluice bed", "did": "planted", "date": "2027-04-20T18:05:00+02:00", "note": ""}, "squash",
     "Logged: winter squashes planted in Sluice bed on 20 April."),
    ({"bed": "lime", "did": "Watered", "litres": "12.5"}, None, "Logged: Lime ground watered with 12.5 litres today."),
    ({"did": "sown", "crop": "leek", "date": "yesterday"}, "leeks",
     "Logged: leeks sown in trays for Quay bed yesterday. "
     "Note: Leeks in Quay bed, where allium white rot was seen in June 2024."),
    ({"bed": "quay", "did": "picked", "crop": "kale", "amount": "2", "unit": "kilos"}, "quay.kale.2026-08-01",
     "Logged: 2 kilograms of kale harvested in Quay bed today."),
    ({"bed": "quay", "did": "harvested", "crop": "kale", "amount": "3", "unit": "pieces"}, "quay.kale.2026-08-01",
     "Logged: 3 kale plants harvested in Quay bed today."),
    ({"bed": "lime", "did": "covered", "kind": "net", "mesh": "0.8"}, None,
     "Logged: Lime ground covered with a net of 0.8 millimetres mesh today."),
    ({"bed": "lime", "did": "manured", "kind": "compost"}, None, "Logged: compost put on Lime ground today."),
    ({"bed": "quay", "did": "sighting", "of": "slug", "level": "Low", "crop": "kale"}, "quay.kale.2026-08-01",
     "Logged: light attack of slugs seen on kale in Quay bed today."),
    ({"bed": "quay", "did": "sprayed", "crop": "kale", "active": "fatty acids"}, "quay.kale.2026-08-01",
     "Logged: kale in Quay bed treated with fatty acids today. "
     "Note: No days before harvest were given, read your label."),
    ({"did": "note", "note": "hedge cut"}, None, "Logged: note about the garden today."),
    ({"bed": "lime", "did": "limed"}, None, "Logged: lime put on Lime ground today."),
    ({"bed": "lime", "did": "netted", "mesh": "0,8 mm", "until": "15 July"}, None,
     "Logged: Lime ground covered with a net of 0.8 millimetres mesh today."),
    ({"bed": "lime", "did": "manured", "kind": "Raw manure", "date": "3 weeks ago"}, None,
     "Logged: raw manure put on Lime ground on 1 April. "
     "Note: Raw manure in Lime ground on 1 April 2027, strawberries and lettuces would be picked from 9 June 2027, "
     "too soon."),
    ({"bed": "quay", "did": "picked", "crop": "kale", "amount": "1 1/2 lbs"}, "quay.kale.2026-08-01",
     "Logged: 1.5 pounds of kale harvested in Quay bed today."),
    ({"bed": "quay", "did": "picked", "crop": "kale", "count": "a dozen"}, "quay.kale.2026-08-01",
     "Logged: 12 kale plants harvested in Quay bed today."),
    ({"bed": "quay", "did": "died", "crop": "kale", "cause": "ran to seed", "date": "last Monday"},
     "quay.kale.2026-08-01", "Logged: kale lost in Quay bed to bolting on 19 April."),
    ({"bed": "sluice", "did": "volunteers", "crop": "potatoes", "count": "three"}, "sluice.potato.2027-04-22",
     "Logged: 3 potato plants up unsown in Sluice bed today."),
    ({"bed": "quay", "did": "cleared", "crop": "kale", "date": "2026-12-31"}, "quay.kale.2026-08-01",
     "Logged: kale cleared from Quay bed on 31 December 2026."),
]  # fmt: skip


@pytest.mark.parametrize(("flat", "planting", "wanted"), SAID)
def test_a_line_is_written_down_and_told_back(say, flat, planting, wanted):
    noted = say(**flat)
    assert (noted.planting, noted.say, noted.ok) == (planting, wanted, True)
    assert (noted.entry.planting, noted.entry.note) == (planting, flat.get("note") or None)


#: What cannot be written down, by the word at fault and the sentence that says so.
REFUSED = [
    ({}, "/did", "Say what was done, such as sown, transplanted, harvested or cleared."),
    ({"did": "dugg"}, "/did", "The journal has no word dugg, the nearest is dug."),
    ({"did": "watered", "bed": "kilm"}, "/bed", "No bed is called kilm, the nearest name is Kiln bed."),
    ({"did": "sown", "bed": "kiln", "crop": "kail"}, "/crop", "No crop is called kail, the nearest name is kale."),
    ({"did": "sown", "bed": "old kiln", "crop": "kale"}, "/bed",
     "Old kiln bed is no more since 14 February 2026, its ground is now Kiln bed."),
    ({"did": "sighting", "bed": "kiln", "of": "clubrot"}, "/of",
     "No pest or disease is known as 'clubrot', did you mean clubroot?"),
    ({"did": "watered", "bed": "kiln", "litres": "lots"}, "/litres",
     "Litres must be a number more than 0 and at most 1,000,000, got 'lots'."),
    ({"did": "treated", "bed": "kiln", "active": "soap", "harvest_interval": "x"}, "/harvest_interval",
     "Harvest interval must be a whole number, from 0 to 365, got 'x'."),
    ({"did": "sown", "bed": "kiln", "crop": "kale", "date": "30.2."}, "/date",
     "That is no date, write year, month and day in figures with hyphens, 1900 to 2199."),
    ({"did": "sown", "bed": "kiln", "crop": "kale", "date": "2027-04-23"}, "/date",
     "Sown on 23 April 2027 lies ahead, log it when it is done."),
    ({"did": "sown", "crop": "onions"}, "/bed", "Name the bed that the onions went into."),
    ({"did": "sown", "bed": "bark", "date": "2026-07-01"}, "/crop", "Name the crop that was sown."),
    ({"did": "harvested", "bed": "bark"}, "/bed",
     "Nothing stands in Bark tub on 22 April 2027, by what is on record."),
    ({"did": "harvested", "bed": "quay", "crop": "beans"}, "/crop",
     "No beans stand in Quay bed on 22 April 2027, by what is on record, kale and strawberries do."),
    ({"did": "harvested", "bed": "quay"}, "/crop", "Kale and strawberries could be meant in Quay bed, name the crop."),
    ({"did": "cleared", "planting": "leek"}, "/planting", "No planting has the id leek, the nearest is leeks."),
    ({"did": "cleared", "planting": "leeks", "bed": "kiln"}, "/bed",
     "Planting leeks stands in Quay bed, not in Kiln bed."),
    ({"did": "watered", "bed": "kiln", "colour": "blue"}, "/colour", None),
    ({"did": "watered", "bed": ["kiln"]}, "/bed", "The bed must be a name, not a list."),
    ({"did": "undo", "crop": "kale", "count": "3"}, "/count", "Undo takes no count."),
    ({"did": "uncovered", "bed": "sluice"}, "/did", "No cover is on record there on 22 April 2027."),
    ({"did": "uncovered"}, "/bed", "Name the bed where that was."),
    ({"did": "sprayed", "bed": "kiln"}, "/active",
     "Say what it was treated with, the active ingredient on the label."),
    ({"did": "covered", "bed": "kiln"}, "/kind", "Say which kind, fleece, net, cage, fence or collar."),
    ({"did": "manured", "bed": "kiln", "kind": "manure"}, "/kind",
     "Say which kind, compost, lime, fertiliser, new soil, broke sod or raw manure, "
     "raw manure where it was fresh and compost where it was well rotted."),
    ({"did": "volunteers", "bed": "kiln"}, "/crop", "Name the crop that came up."),
    ({"did": "undo", "planting": "leeks"}, "/planting", "Undo takes no planting."),
]  # fmt: skip


@pytest.mark.parametrize("backend", ["sqlite"], indirect=True)  # words, not the store
@pytest.mark.parametrize(("flat", "place", "wanted"), REFUSED)
def test_what_cannot_be_written_down_says_why_and_leaves_nothing(say, contents, flat, place, wanted):
    before = contents()
    with pytest.raises(PlanRejected) as caught:
        say(**flat)
    assert place in [pointer for pointer, _ in faults(caught)]
    assert wanted is None or (place, wanted) in faults(caught)
    assert all(re.fullmatch(r"[\w .,?!'’-]+[.?]", detail) and len(detail) < 200 for _, detail in faults(caught))
    after = contents()
    assert (after.garden.revision, len(after.journal), len(after.plantings)) == (
        before.garden.revision, len(before.journal), len(before.plantings),
    )  # fmt: skip


def test_all_faults_are_told_at_once(say):
    with pytest.raises(PlanRejected) as caught:
        say(did="sown", bed="kilm", crop="kail", count="many")
    assert [pointer for pointer, _ in faults(caught)] == ["/count", "/bed", "/crop"]


@pytest.mark.parametrize("body", [None, [], "sown", 3])
def test_a_body_that_is_no_group_of_keys_is_refused(store, demo, knowledge, body):
    with pytest.raises(PlanRejected) as caught, store.write() as session:
        note(Record(Repository(session), demo, knowledge, today=TODAY, now=NOW), body)
    assert faults(caught)[0] == ("", "Send one flat group of keys and values.")


def test_a_crop_that_was_not_planned_there_becomes_a_planting_and_an_undo_takes_it_away(say, contents, the):
    before, plantings = garden_rows(contents()), len(contents().plantings)
    noted = say(did="sown", bed="lime", crop="turnips", count="30")
    made = the(noted.planting)
    assert (made.bed, made.crop.id, made.start, made.method, made.plants, made.status) == (
        "lime", "turnip", TODAY, "sow", 30, "growing",
    )  # fmt: skip
    assert say(did="undo").say == "Taken back: 30 turnips sown in Lime ground today."
    assert the(noted.planting) is None
    assert garden_rows(contents()) == before
    assert len(contents().plantings) == plantings + 1  # the journal still names it
    again = say(did="sown", bed="lime", crop="turnips")
    assert again.planting != noted.planting


def garden_rows(contents):
    return {key: value for key, value in export(contents).items() if key != "x-record"}


def test_what_was_made_and_then_logged_about_stays_when_its_sowing_is_taken_back(say, the):
    sown = say(did="sown", bed="lime", crop="turnips", date="2027-04-01")
    say(did="emerged", bed="lime", crop="turnips")
    say(did="undo", corrects=str(sown.entry.id))
    assert the(sown.planting).status == "growing"


def test_a_withdrawn_planting_comes_back_from_an_export(say, contents, store, knowledge):
    say(did="sown", bed="lime", crop="turnips", count="30")
    say(did="undo")
    say(did="sown", bed="lime", crop="turnips", count="20")
    out = export(contents())
    read = read_garden(to_bytes(out), "json", knowledge=knowledge, today=lambda zone: TODAY, now=NOW)
    with store.write() as session:
        repository = Repository(session)
        garden = store_garden(repository, read, club_id=contents().garden.club_id, now=NOW)
        assert export(repository.contents(garden.id)) == out
    withdrawn = out["x-record"]["withdrawn"]
    assert [row["count"] for row in withdrawn] == [30]
    for wrong in ([], [*withdrawn, {**withdrawn[0], "id": "more"}], [{**withdrawn[0], "bed": "none"}]):
        bad = {**out, "x-record": {**out["x-record"], "withdrawn": wrong}}
        with pytest.raises(PlanRejected):
            read_garden(to_bytes(bad), "json", knowledge=knowledge, today=lambda zone: TODAY, now=NOW)


def test_a_part_lost_leaves_the_rest_alive_and_all_lost_ends_it(say, the):
    say(did="transplanted", bed="kiln", crop="cabbage", count="12", date="2027-04-18")
    assert say(did="lost", crop="cabbage", count="5", cause="slugs", date="2027-04-19").say == (
        "Logged: 5 cabbages lost in Kiln bed to slugs on 19 April, 7 left."
    )
    assert (the("cabbages").status, the("cabbages").plants) == ("growing", 7)
    say(did="transplanted", crop="cabbage", bed="kiln", count="4", date="2027-04-20")
    assert the("cabbages").plants == 11
    assert say(did="lost", crop="cabbage", count="11", date="2027-04-21").say == (
        "Logged: 11 cabbages lost in Kiln bed yesterday, none left."
    )
    assert (the("cabbages").status, the("cabbages").end) == ("lost", date(2027, 4, 21))
    say(did="sown", bed="kiln", crop="cabbage", count="9")
    assert (the("cabbages").status, the("cabbages").plants, the("cabbages").start) == ("growing", 9, TODAY)
    assert the("cabbages.lost1").end == date(2027, 4, 21)


def test_of_an_unknown_number_some_are_lost_and_nobody_knows_how_many_are_left(say, the):
    assert say(did="lost", bed="quay", crop="kale", count="2").say == (
        "Logged: 2 kale plants lost in Quay bed today, how many are left is not on record."
    )
    assert (the("quay.kale.2026-08-01").status, the("quay.kale.2026-08-01").plants) == ("growing", None)


def test_the_nearest_of_two_that_were_planned_is_meant_and_two_as_near_are_listed(store, demo, say, knowledge):
    with store.write() as session:
        record = Record(Repository(session), demo, knowledge, today=TODAY, now=NOW)
        for name, start in (("early", "2027-04-01"), ("middle", "2027-05-10"), ("late", "2027-05-14")):
            record.add_planting({"id": name, "bed": "lime", "crop": "lettuce", "start": date.fromisoformat(start)})
    assert say(did="sown", bed="lime", crop="lettuces", date="2027-04-03").planting == "early"
    with pytest.raises(PlanRejected) as caught:
        say(did="sown", bed="lime", crop="lettuces", date="2027-05-12", today=date(2027, 5, 12))
    assert faults(caught) == [
        ("/planting", "2 plantings of lettuces fit in Lime ground, "
                      "say planting middle of 10 May 2027 or late of 14 May 2027.")
    ]  # fmt: skip
    noted = say(did="sown", planting="late", date="2027-05-12", today=date(2027, 5, 12))
    assert noted.planting == "late"


def test_sown_in_trays_is_the_planting_that_is_to_be_set_out(say, the):
    say(did="sown", crop="leeks", bed="quay", count="60", date="2027-04-01")
    assert (the("leeks").status, the("leeks").start, the("leeks").plants) == ("planned", date(2027, 6, 10), 40)
    day = date(2027, 6, 12)
    assert say(did="lost", crop="leeks", bed="quay", count="25", date="2027-06-01", today=day).planting == "leeks"
    say(did="transplanted", crop="leeks", bed="quay", count="35", today=day)
    assert (the("leeks", day).status, the("leeks", day).start, the("leeks", day).plants) == ("growing", day, 35)


def test_a_crop_of_the_growers_own_is_found_before_it_was_ever_planted(store, demo, say, the, knowledge):
    with store.write() as session:
        record = Record(Repository(session), demo, knowledge, today=TODAY, now=NOW)
        record.add_crop({"id": "mashua", "family": "Tropaeolaceae", "name": "Our mashua"})
    assert say(did="sown", bed="lime", crop="our mashua", count="1").say == (
        "Logged: 1 Our mashua plant sown in Lime ground today."
    )
    assert the("lime.mashua.2027-04-22").crop.family == "Tropaeolaceae"


def test_a_rule_that_is_broken_by_a_harvest_is_told_once(say):
    say(did="treated", bed="quay", crop="kale", active="azadirachtin", harvest_interval="7", date="2027-04-20")
    first = say(did="harvested", bed="quay", crop="kale")
    assert first.say == (
        "Logged: kale harvested in Quay bed today. "
        "Note: Kale in Quay bed are picked from 22 April 2027, too early after azadirachtin on 20 April 2027."
    )
    assert "Note" not in say(did="watered", bed="quay", crop="kale").say


def test_undo_takes_back_the_last_line_of_a_bed_or_one_by_its_number(say, contents, knowledge):
    first = say(did="covered", bed="lime", kind="fleece")
    second = say(did="watered", bed="quay")
    assert say(did="undo", bed="Lime ground").say == "Taken back: Lime ground covered with fleece today."
    fleece = Cover("lime", "fleece", TODAY)
    assert fleece not in garden_plan(contents(), knowledge, as_of=TODAY).covers
    assert say(did="undo", corrects=second.entry.id).entry.corrects == second.entry.id
    with pytest.raises(Conflict):
        say(did="undo", corrects=first.entry.id)
    with pytest.raises(NotFound):
        say(did="undo", corrects=first.entry.id + 1000)


def test_a_garden_without_beds_says_so(store, demo, knowledge, contents):
    with store.write() as session:
        empty = Repository(session).add_garden(contents().garden.club_id, {}, now=NOW).id
    with pytest.raises(PlanRejected) as caught, store.write() as session:
        note(Record(Repository(session), empty, knowledge, today=TODAY, now=NOW), {"did": "note", "note": "a"})
    assert faults(caught) == [("", "This garden has no beds yet, add one first.")]


def test_long_names_keep_the_sentence_short(store, demo, say, knowledge):
    with store.write() as session:
        record = Record(Repository(session), demo, knowledge, today=TODAY, now=NOW)
        record.add_bed({"id": "x" * 64, "name": "Bed " + "behind the wall & the old shed " * 2})
    noted = say(did="sown", bed="x" * 64, crop="Brussels sprouts", count="1000000", note="y" * 900)
    assert noted.say.startswith("Logged: 1,000,000 Brussels sprouts sown in Bed behind the wall")


def test_phones_that_log_at_once_lose_nothing(store, demo, say, the, knowledge):
    say(did="transplanted", bed="kiln", crop="cabbage", count="12")

    def lose(number):
        with store.write() as session:
            record = Record(Repository(session), demo, knowledge, today=TODAY, now=NOW)
            return note(record, {"did": "lost", "bed": "kiln", "crop": "cabbage", "count": "1"}).say

    with ThreadPoolExecutor(4) as phones:
        said = list(phones.map(lose, range(8)))
    left = sorted(int(re.search(r"(\d+) left", one)[1]) for one in said)
    assert left == [4, 5, 6, 7, 8, 9, 10, 11]
    assert the("cabbages").plants == 4


def test_a_sowing_that_is_said_twice_asks_for_what_makes_it_another(say):
    say(did="sown", bed="lime", crop="turnips", count="30")
    with pytest.raises(PlanRejected) as caught:
        say(did="sowed", bed="lime", crop="turnip", count="30")
    said = "Turnips were sown in Lime ground on 22 April 2027 already"
    more = "if this is another row, name its variety or its part of the bed"
    assert faults(caught) == [("/did", f"{said}, {more}.")]


def test_more_that_is_sown_in_trays_is_of_the_same_planting(say):
    said = [say(did="sown", bed="quay", crop="leeks", count="60", date=day) for day in ("2027-03-20", "yesterday")]
    assert [noted.planting for noted in said] == ["leeks", "leeks"]


def test_of_two_sowings_the_day_it_began_names_one(say):
    early = say(did="sown", bed="lime", crop="turnips", date="2027-03-30").planting
    say(did="sown", bed="lime", crop="turnips", date="2027-04-20")
    with pytest.raises(PlanRejected) as caught:
        say(did="watered", bed="lime", crop="turnips")
    assert faults(caught) == [
        ("/planting", "2 plantings of turnips fit in Lime ground, say planting 30 March 2027 or 20 April 2027.")
    ]
    assert say(did="died", bed="lime", crop="turnips", planting="30 March 2027", cause="slugs").planting == early
    assert say(did="resown", bed="lime", crop="turnips").planting == early


def test_other_work_is_a_note_in_its_own_words(say):
    noted = say(did="Thinned out", bed="quay", crop="kale", count="4", note="leaves eaten")
    assert (noted.entry.did, noted.entry.note) == ("note", "Thinned out, 4 plants: leaves eaten")


def test_an_undo_takes_back_the_last_line_about_a_crop(say):
    say(did="watered", bed="quay", crop="kale")
    say(did="sighting", bed="kiln", of="slugs")
    assert say(did="undo", crop="kale").say == "Taken back: kale in Quay bed watered today."
    with pytest.raises(Conflict, match="nothing about that to take back"):
        say(did="undo", crop="kale")
