"""When each bed is free again."""

from datetime import date

from judged_rows import FILLED, judged, outlook, seen
from tiny_plans import grew

from rules.report import Free


def test_the_outlook_knows_from_when_and_which_years_are_missing():
    found = outlook(judged(grew("a", "kale", "2022"), grew("a", "pea", "2024"), grew("a", "onion", "2027")))
    assert (found.known_from, found.years_missing) == (2022, (2023, 2025, 2026))
    empty = outlook(judged(grew("a", "onion", "2027")))
    assert (empty.known_from, empty.years_missing) == (None, ())


def test_a_dated_host_frees_its_family_on_a_day():
    found = outlook(judged(grew("a", "kale", "2025-05-01", "2025-10-31"), grew("a", "pea", "2027")))
    assert found.free_from["Brassicaceae"] == Free(date(2027, 11, 1), date(2028, 11, 1))


def test_a_year_only_host_frees_its_family_with_a_growing_year():
    found = outlook(judged(grew("a", "kale", "2025"), grew("a", "pea", "2027")))
    assert found.free_from["Brassicaceae"] == Free(date(2028, 1, 1), date(2029, 1, 1))


def test_open_needs_the_years_on_record():
    rows = [grew("b", "kale", "2026"), grew("a", "pea", "2027")]
    assert outlook(judged(*FILLED, *rows)).free_from["Brassicaceae"] == "open"
    assert outlook(judged(*FILLED[:-1], *rows)).free_from["Brassicaceae"] == "unknown"
    assert outlook(judged(*rows)).free_from["Brassicaceae"] == "unknown"


def test_the_outlook_leaves_out_what_the_window_itself_plans():
    assert outlook(judged(*FILLED, grew("a", "kale", "2027"))).free_from["Brassicaceae"] == "open"


def test_a_disease_for_good_closes_its_family():
    found = outlook(
        judged(
            grew("a", "onion", "2015"), grew("a", "carrot", "2027"), sightings=[seen("a", "2015-07-01", "white rot")]
        )
    )
    assert found.free_from["Amaryllidaceae"] == "never"
    (closure,) = found.closed_to
    assert (closure.until, closure.because) == (None, "allium_white_rot")
    assert {"leek", "garlic"} <= set(closure.crops)
    assert "carrot" not in closure.crops


def test_a_disease_closes_its_hosts_until_its_better_break():
    found = outlook(
        judged(
            grew("a", "kale", "2024-05-01", "2024-10-31"),
            grew("a", "carrot", "2027"),
            sightings=[seen("a", "2024-09-01")],
        )
    )
    (closure,) = found.closed_to
    assert (closure.until, closure.because) == (date(2031, 11, 1), "clubroot")
    assert found.free_from["Brassicaceae"] == Free(date(2031, 11, 1), date(2031, 11, 1))


def test_a_sighting_without_a_host_counts_from_its_own_day():
    found = outlook(judged(grew("a", "carrot", "2027"), grew("b", "kale", "2026"), sightings=[seen("a", "2024-09-01")]))
    assert found.closed_to[0].until == date(2031, 9, 2)


def test_a_closure_that_is_over_is_not_told():
    found = outlook(judged(grew("a", "kale", "2015"), grew("a", "carrot", "2027"), sightings=[seen("a", "2015-09-01")]))
    assert found.closed_to == ()


def test_a_sighting_in_the_window_is_no_outlook_before_it():
    found = outlook(judged(*FILLED, grew("a", "kale", "2027"), sightings=[seen("a", "2027-09-01")]))
    assert found.closed_to == ()
