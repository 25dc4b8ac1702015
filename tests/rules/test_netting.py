"""Hoops and nets: the arithmetic against hand-worked beds and known shapes."""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.model import Bed
from rules.planning.netting import HoopWork, cut_list, half_ellipse

WORK = HoopWork(height=60, spacing=75, leg=20, edge=15)


def bed(length: float | None = 300, width: float | None = 120, name: str = "kiln") -> Bed:
    return Bed(name, name, length=length, width=width)


def test_a_hoop_as_high_as_half_the_width_is_half_a_circle() -> None:
    assert half_ellipse(120, 60) == pytest.approx(pi * 60)  # half of 2 pi r


def test_a_flat_hoop_is_little_longer_than_the_bed_is_wide() -> None:
    assert 120 < half_ellipse(120, 10) < 130


def test_the_ellipse_against_its_integral() -> None:
    # Half the perimeter of an ellipse with semi-axes 60 and 90, by summing short chords.
    from math import cos, dist, sin

    steps = [(60 * cos(pi * n / 20_000), 90 * sin(pi * n / 20_000)) for n in range(20_001)]
    chords = sum(dist(steps[n], steps[n + 1]) for n in range(20_000))
    assert half_ellipse(120, 90) == pytest.approx(chords, rel=1e-6)


def test_a_bed_by_hand() -> None:
    cut = cut_list([bed()], WORK).cuts[0]
    # 300 cm in gaps of 75 cm: 4 gaps, 5 hoops; arc 188.5 + 2 x 20 = 228.5, cut at 229 cm
    assert (cut.hoops, cut.hoop_gap, cut.hoop) == (5, 75, 229)
    # along 300 + 2 x (60 + 15) = 450; across 188.5 + 30 = 218.5, cut at 219 cm
    assert cut.net == (450, 219)
    assert cut.clips == 15
    assert cut.pegs == 2 * 6 + 2 * 3


def test_hoops_stand_across_the_shorter_side() -> None:
    assert cut_list([bed(120, 300)], WORK).cuts[0].net == cut_list([bed(300, 120)], WORK).cuts[0].net


def test_totals_and_offcuts_of_two_beds() -> None:
    found = cut_list([bed(), bed(150, 120, "quay")], replace(WORK, pipe=500, net_width=300))
    assert found.hoops == 5 + 3
    assert found.pipe_length == 8 * 229
    assert found.pipes == 4  # two hoops of 229 cm from each pipe of 500 cm
    assert found.pipe_offcuts == (42, 42, 42, 42)
    assert found.net_run == 450 + 300
    assert found.net_offcut == (("kiln", 81), ("quay", 81))


def test_a_bed_without_size_is_named_and_the_rest_is_worked_out() -> None:
    found = cut_list([bed(), bed(None, 120, "quay")], WORK)
    assert [cut.bed for cut in found.cuts] == ["kiln"]
    assert found.lacking == (("quay", "its length and width are not on record"),)


def test_a_net_that_is_too_narrow_and_a_pipe_that_is_too_short_are_said() -> None:
    lacking = cut_list([bed()], replace(WORK, net_width=200, pipe=200)).lacking
    assert [why for _, why in lacking] == [
        "the net must be 219 cm wide, wider than it is sold",
        "a hoop of 229 cm is longer than a pipe",
    ]


def test_every_fault_of_the_work_is_told_at_once() -> None:
    with pytest.raises(ValueError, match=r"height: .*\nspacing: .*\nedge: .*\npipe: ") as refused:
        cut_list([bed()], HoopWork(height=5, spacing=0, edge=400, pipe=float("nan")))
    assert str(refused.value).count("\n") == 3


@given(st.floats(30, 1000), st.floats(30, 400), st.floats(20, 200), st.floats(30, 150))
def test_the_net_always_covers_hoops_and_ground(length: float, width: float, height: float, spacing: float) -> None:
    work = replace(WORK, height=height, spacing=spacing)
    cut = cut_list([bed(length, width)], work).cuts[0]
    long, short = max(length, width), min(length, width)
    assert cut.hoop_gap <= spacing + 1e-6
    assert cut.hoop_gap * (cut.hoops - 1) == pytest.approx(long)
    assert cut.net[1] >= max(short, 2 * height) + 2 * work.edge
    assert cut.net[0] >= long + 2 * height
    assert cut.hoop >= cut.arc + 2 * work.leg
