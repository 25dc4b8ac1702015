"""A planting's state: a table of lives, and what holds for every life."""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.store.journal import Journal
from service.store.projection import LIFE, MOST_PLANTS, Act, Attempt, Planned, project


def d(text):
    return date.fromisoformat(f"2027-{text}")


def life(*lines):
    """Acts of a day, a word, and a cause (text) or number where one is given."""
    acts = []
    for day, did, *more in lines:
        cause = next((word for word in more if isinstance(word, str)), None)
        count = next((number for number in more if isinstance(number, int)), None)
        acts.append(Act(d(day), did, cause, count))
    return acts


def planned(start="05-01", **more):
    dates = {key: d(value) for key, value in more.items() if key in ("end", "first_harvest")}
    return Planned(d(start), **{"start": d(start), **more, **dates})


SEASON = Planned(d("03-01"), season="2027-spring")

#: What was planned, what was logged, and status, start, end, first harvest and cause after it.
LIVES = {
    "nothing is logged": (planned(), [], (None, "05-01", None, None, None)),
    "as planned": (
        planned(end="09-30", first_harvest="07-01"), [], (None, "05-01", "09-30", "07-01", None)),
    "sown late": (planned(), [("05-09", "sown")], ("growing", "05-09", None, None, None)),
    "sown after its planned end": (
        planned(end="06-01"), [("06-20", "sown")], ("growing", "06-20", None, None, None)),
    "sown twice": (
        planned(), [("05-02", "sown"), ("05-04", "sown")], ("growing", "05-02", None, None, None)),
    "sown in trays": (
        planned(method="transplant"), [("03-10", "sown"), ("03-20", "emerged")], (None, "05-01", None, None, None)),
    "transplanted out of trays": (
        planned(method="transplant"), [("03-10", "sown"), ("05-04", "transplanted")],
        ("growing", "05-04", None, None, None)),
    "lost in trays": (
        planned(method="transplant"), [("03-10", "sown"), ("03-30", "lost", "slugs")],
        ("lost", "03-30", "03-30", None, "slugs")),
    "moved here from a seed bed": (
        planned(), [("04-01", "sown"), ("05-20", "transplanted")], ("growing", "05-20", None, None, None)),
    "came up unseen": (planned(), [("05-10", "emerged")], ("growing", "05-01", None, None, None)),
    "came up before it was planned": (planned(), [("04-20", "emerged")], ("growing", "04-20", None, None, None)),
    "picked": (
        planned(first_harvest="07-01"), [("05-01", "sown"), ("06-20", "harvested"), ("06-27", "harvested")],
        ("growing", "05-01", None, "06-20", None)),
    "picked after its planned end": (
        planned(end="06-01"), [("06-20", "harvested")], ("growing", "05-01", None, "06-20", None)),
    "cleared before the first planned harvest": (
        planned(first_harvest="07-01"), [("05-01", "sown"), ("06-20", "cleared")],
        ("done", "05-01", "06-20", None, None)),
    "cleared and picked later by a slip": (
        planned(), [("05-01", "sown"), ("06-20", "cleared"), ("06-25", "harvested")],
        ("done", "05-01", "06-20", None, None)),
    "cleared twice": (
        planned(), [("06-20", "cleared"), ("06-25", "cleared")], ("done", "05-01", "06-20", None, None)),
    "lost": (
        planned(end="09-30"), [("05-02", "sown"), ("05-20", "lost", "slugs")],
        ("lost", "05-02", "05-20", None, "slugs")),
    "lost, then the bed was cleared": (
        planned(), [("05-20", "lost", "slugs"), ("06-01", "cleared")], ("lost", "05-01", "05-20", None, "slugs")),
    "a season's crop is cleared": (SEASON, [("06-20", "cleared")], ("done", None, "06-20", None, None)),
    "a season's crop is cleared before it": (
        SEASON, [("02-10", "cleared")], ("done", "02-10", "02-10", None, None)),
    "written down as done": (
        planned(status="done", end="09-30"), [("07-20", "harvested")], ("done", "05-01", "09-30", "07-20", None)),
    "written down as lost": (
        planned(status="lost", cause="slugs", end="05-20"), [("06-01", "cleared")],
        ("lost", "05-01", "05-20", None, "slugs")),
    "lost by the plan, planted after that and cleared": (
        planned(status="lost", cause="slugs", end="05-20"), [("06-01", "transplanted"), ("06-09", "cleared")],
        ("lost", "06-01", "06-09", None, "slugs")),
}  # fmt: skip


@pytest.mark.parametrize("name", LIVES)
def test_a_life_and_what_came_of_it(name):
    plan, lines, wanted = LIVES[name]
    state = project(plan, life(*lines))
    days = tuple(None if day is None else d(day) for day in wanted[1:4])
    assert (state.status, state.start, state.end, state.first_harvest, state.cause) == (wanted[0], *days, wanted[4])
    assert state.attempts == ()
    assert state.season == (plan.season if state.start is None else None)


def test_a_resowing_keeps_the_attempt_before_it_apart():
    state = project(planned(), life(("05-01", "sown"), ("05-20", "lost", "slugs"), ("05-25", "resown")))
    assert (state.status, state.start, state.end, state.cause) == ("growing", d("05-25"), None, None)
    assert state.attempts == (Attempt(d("05-01"), d("05-20"), "slugs"),)


def test_sown_again_after_a_loss_is_a_resowing_and_may_fail_again():
    lines = life(("05-01", "sown"), ("05-20", "lost"), ("05-25", "sown"), ("06-02", "lost", "frost"))
    state = project(planned(), lines)
    assert (state.status, state.start, state.end, state.cause) == ("lost", d("05-25"), d("06-02"), "frost")
    assert state.attempts == (Attempt(d("05-01"), d("05-20"), None),)


def test_resown_over_what_stands_ends_it_that_day():
    state = project(planned(end="09-30", first_harvest="07-01"), life(("05-01", "sown"), ("05-20", "resown")))
    assert state.attempts == (Attempt(d("05-01"), d("05-20"), None),)
    assert (state.status, state.start, state.end, state.first_harvest) == ("growing", d("05-20"), None, None)


TRAYS = planned(method="transplant", count=8)

#: What was planned, what was logged, and the status and number of plants after it.
NUMBERS = {
    "as planned": (planned(count=8), [], (None, 8)),
    "sown without a number": (planned(count=8), [("05-02", "sown")], ("growing", 8)),
    "sown with one": (planned(count=8), [("05-02", "sown", 40)], ("growing", 40)),
    "what came up takes its place": (planned(), [("05-02", "sown", 40), ("05-12", "emerged", 31)], ("growing", 31)),
    "some are lost": (planned(), [("05-02", "sown", 40), ("05-20", "lost", 5, "slugs")], ("growing", 35)),
    "some of the planned are lost": (planned(count=8), [("05-02", "sown"), ("05-20", "lost", 3)], ("growing", 5)),
    "the rest is lost": (
        planned(count=8), [("05-02", "sown"), ("05-20", "lost", 3), ("05-21", "lost", 5, "slugs")], ("lost", 5)),
    "more are lost than there are": (planned(count=8), [("05-02", "sown"), ("05-20", "lost", 99)], ("lost", 8)),
    "all are lost": (planned(count=8), [("05-02", "sown", 6), ("05-20", "lost", "frost")], ("lost", 6)),
    "some of an unknown number are lost": (planned(), [("05-02", "sown"), ("05-20", "lost", 3)], ("growing", None)),
    "some are lost unseen": (planned(count=8), [("05-20", "lost", 3)], ("growing", 5)),
    "gaps are filled": (
        planned(count=8), [("05-02", "transplanted"), ("05-20", "lost", 3), ("05-22", "transplanted", 2)],
        ("growing", 7)),
    "gaps of an unknown number are filled": (
        planned(), [("05-02", "transplanted"), ("05-22", "transplanted", 2)], ("growing", None)),
    "never more than a plan can say": (
        planned(), [("05-02", "transplanted", 900_000), ("05-22", "transplanted", 900_000)], ("growing", 1_000_000)),
    "moved from a seed bed": (planned(), [("05-02", "sown", 90), ("05-20", "transplanted", 12)], ("growing", 12)),
    "in trays": (TRAYS, [("03-10", "sown", 30), ("03-20", "emerged", 25)], (None, 8)),
    "lost in part in trays": (TRAYS, [("03-10", "sown", 30), ("03-20", "lost", 12)], (None, 8)),
    "all lost in trays": (TRAYS, [("03-10", "sown", 30), ("03-20", "lost", 30)], ("lost", 30)),
    "some of an unknown number lost in trays": (TRAYS, [("03-10", "sown"), ("03-20", "lost", 30)], (None, 8)),
    "set out of trays": (TRAYS, [("03-10", "sown", 30), ("05-04", "transplanted")], ("growing", 8)),
    "resown": (
        planned(count=8), [("05-02", "sown", 40), ("05-20", "lost"), ("05-25", "resown", 50)], ("growing", 50)),
    "resown as planned": (
        planned(count=8), [("05-02", "sown", 40), ("05-20", "lost"), ("05-25", "sown")], ("growing", 8)),
    "cleared": (planned(), [("05-02", "sown", 40), ("06-20", "cleared"), ("06-21", "emerged", 9)], ("done", 40)),
}  # fmt: skip


@pytest.mark.parametrize("name", NUMBERS)
def test_how_many_plants_there_are(name):
    plan, lines, wanted = NUMBERS[name]
    state = project(plan, life(*lines))
    assert (state.status, state.count) == wanted


def test_a_line_that_was_taken_back_says_nothing():
    class Line:
        def __init__(self, id, day, did, corrects=None):
            self.id, self.date, self.did, self.corrects = id, d(day), did, corrects

    lines = [
        Line(1, "05-20", "cleared"),
        Line(2, "05-02", "sown"),
        Line(3, "05-21", "undo", 1),
        Line(4, "05-02", "emerged"),
    ]
    assert [(line.id, line.did) for line in Journal(lines).said(LIFE)] == [(2, "sown"), (4, "emerged")]


DAYS = st.integers(0, 60).map(lambda n: date(2027, 4, 1) + timedelta(days=n))

COUNTS = st.none() | st.integers(1, 12) | st.just(MOST_PLANTS)


@st.composite
def plans(draw):
    opens = draw(DAYS)
    by_season = draw(st.booleans())
    first = draw(st.none() | DAYS.filter(lambda day: day >= opens))
    end = draw(st.none() | DAYS.filter(lambda day: day >= (first or opens)))
    status = draw(st.sampled_from([None, "planned", "growing", "done", "lost"]))
    cause = draw(st.sampled_from([None, "slugs"])) if status == "lost" else None
    start, season = (None, "2027") if by_season else (opens, None)
    method, count = draw(st.sampled_from([None, "transplant"])), draw(COUNTS)
    return Planned(opens, start, season, end, first, status, cause, method, count)


@settings(max_examples=800, deadline=None)
@given(plans(), st.lists(st.builds(Act, DAYS, st.sampled_from(sorted(LIFE)), st.sampled_from([None, "frost"]), COUNTS)))
def test_no_life_contradicts_itself(plan, acts):
    state = project(plan, sorted(acts, key=lambda act: act.date))
    opens = state.start or plan.opens
    assert (state.start is None) == (state.season is not None)
    assert state.end is None or state.end >= opens
    assert state.first_harvest is None or opens <= state.first_harvest <= (state.end or date.max)
    assert state.cause is None or state.status == "lost"
    assert state.count is None or 1 <= state.count <= MOST_PLANTS
    spans = [*state.attempts, Attempt(opens, opens, None)]
    for earlier, later in pairwise(spans):
        assert earlier.start <= earlier.end <= later.start
