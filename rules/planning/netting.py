"""A net on hoops: what to cut for one bed or several.

A hoop is half an ellipse over the bed's width; its legs go into the ground.  The net hangs over
the hoops to the ground on both sides and at both ends, with an edge to bury.  All lengths are in
centimetres.

Sources: an edge buried at least 5 cm (RHS_MESH); the length of the ellipse by Ramanujan's second
approximation (memory); spacing of hoops, legs, clips and pegs are common practice and can be
changed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil, pi, sqrt

from rules.knowledge.shapes import did_you_mean
from rules.model import Bed, Plan

#: A wooden edge or path keeps a hoop from standing wider than this, and a garden hoop from being taller.
WIDEST_CM, TALLEST_CM = 400.0, 250.0
#: Beds that a net on hoops is set over when no bed is named.
_OPEN = ("ground", "raised")


@dataclass(frozen=True, slots=True)
class HoopWork:
    """How hoops and net are to be made; centimetres, except ``clips_per_hoop``.

    ``net_width`` is the width that the net is sold in and ``pipe`` the length of a hoop pipe,
    where they are known: then off-cuts are worked out.
    """

    height: float = 60.0
    spacing: float = 75.0
    leg: float = 20.0
    edge: float = 15.0
    clips_per_hoop: int = 3
    peg_spacing: float = 50.0
    net_width: float | None = None
    pipe: float | None = None


@dataclass(frozen=True, slots=True)
class BedCut:
    """What one bed takes: hoops of ``hoop`` cm each, a net of ``net`` (length, width) cm.

    ``arc`` is the part of a hoop above ground; hoops stand across the bed's shorter side.
    """

    bed: str
    name: str
    length: float
    width: float
    arc: float
    hoops: int
    hoop_gap: float
    hoop: float
    net: tuple[float, float]
    clips: int
    pegs: int


@dataclass(frozen=True, slots=True)
class CutList:
    """The beds' cuts and their totals; ``pipes`` and off-cuts where the stock is known.

    ``net_run`` is the length of net to buy at its sold width; ``net_offcut`` the strip that is left
    beside each bed's piece, ``pipe_offcuts`` what is left of each pipe.  ``lacking`` names beds that
    could not be worked out, each with its reason.
    """

    cuts: tuple[BedCut, ...]
    hoops: int
    pipe_length: float
    net_area_m2: float
    clips: int
    pegs: int
    pipes: int | None
    pipe_offcuts: tuple[float, ...]
    net_run: float | None
    net_offcut: tuple[tuple[str, float], ...]
    lacking: tuple[tuple[str, str], ...]


def half_ellipse(width: float, height: float) -> float:
    """Length of a hoop above ground, for a bed's width and the hoop's height (the same unit in and out).

    >>> round(half_ellipse(120, 60), 1)
    188.5
    """
    a, b = width / 2, height
    h = ((a - b) / (a + b)) ** 2
    return pi * (a + b) * (1 + 3 * h / (10 + sqrt(4 - 3 * h))) / 2


def beds_to_cover(plan: Plan, wanted: Sequence[str]) -> list[Bed]:
    """The beds that are named, in the plan's order; where none is, all that stand in the open and are in use."""
    if wanted:
        return [bed for bed in plan.beds if bed.id in wanted]
    day = plan.as_of
    return [bed for bed in plan.beds if bed.kind in _OPEN and (bed.end is None or bed.end >= day)]


def unknown_beds(plan: Plan, wanted: Sequence[str]) -> list[str]:
    """A line for each name that is no bed of the plan, with the nearest that is."""
    known = [bed.id for bed in plan.beds]
    return [f"no bed is called {name!r}{did_you_mean(name, known)}" for name in wanted if name not in known]


def cut_list(beds: Iterable[Bed], work: HoopWork) -> CutList:
    """The cuts for some beds.

    Raises
    ------
    ValueError
        where a measure of ``work`` makes no hoop: every fault in one message, a line each.
    """
    faults = work_faults(work)
    if faults:
        raise ValueError("\n".join(faults))
    cuts: list[BedCut] = []
    lacking: list[tuple[str, str]] = []
    for bed in beds:
        why = _cannot(bed)
        if why:
            lacking.append((bed.id, why))
        else:
            cuts.append(_cut(bed, work))
    hoops = [cut.hoop for cut in cuts for _ in range(cut.hoops)]
    pipes = _from_stock(hoops, work.pipe) if work.pipe is not None else None
    too_narrow = [cut for cut in cuts if work.net_width is not None and cut.net[1] > work.net_width]
    lacking += [(cut.bed, f"the net must be {cut.net[1]:.0f} cm wide, wider than it is sold") for cut in too_narrow]
    lacking += [
        (cut.bed, f"a hoop of {cut.hoop:.0f} cm is longer than a pipe")
        for cut in cuts
        if work.pipe is not None and cut.hoop > work.pipe
    ]
    narrow = {cut.bed for cut in too_narrow}
    return CutList(
        tuple(cuts),
        len(hoops),
        sum(hoops),
        sum(length * width for length, width in (cut.net for cut in cuts)) / 10_000,
        sum(cut.clips for cut in cuts),
        sum(cut.pegs for cut in cuts),
        None if pipes is None else len(pipes),
        () if pipes is None else tuple(pipes),
        None if work.net_width is None else sum(cut.net[0] for cut in cuts if cut.bed not in narrow),
        ()
        if work.net_width is None
        else tuple((cut.bed, work.net_width - cut.net[1]) for cut in cuts if cut.bed not in narrow),
        tuple(lacking),
    )


def _cannot(bed: Bed) -> str | None:
    if bed.length is None or bed.width is None:
        return "its length and width are not on record"
    if min(bed.length, bed.width) > WIDEST_CM:
        return f"it is wider than {WIDEST_CM:.0f} cm, too wide for hoops"
    return None


def work_faults(work: HoopWork) -> list[str]:
    """A line for each measure of the work that makes no hoop: ``name: what it may be, not what it is``."""
    faults = []
    for name, value, most in (
        ("height", work.height, TALLEST_CM),
        ("spacing", work.spacing, 300.0),
        ("peg_spacing", work.peg_spacing, 300.0),
    ):
        if not 10 <= value <= most:
            faults.append(f"{name}: 10 to {most:.0f} cm, not {value:g}")
    for name, value in (("leg", work.leg), ("edge", work.edge)):
        if not 5 <= value <= 100:
            faults.append(f"{name}: 5 to 100 cm, not {value:g}")
    if not 1 <= work.clips_per_hoop <= 20:
        faults.append(f"clips_per_hoop: 1 to 20, not {work.clips_per_hoop}")
    for name, stock in (("net_width", work.net_width), ("pipe", work.pipe)):
        if stock is not None and not 30 <= stock <= 10_000:
            faults.append(f"{name}: 30 to 10000 cm, not {stock:g}")
    return faults


def _cut(bed: Bed, work: HoopWork) -> BedCut:
    """One bed's cut; hoops stand across its shorter side."""
    length, width = max(bed.length or 0, bed.width or 0), min(bed.length or 0, bed.width or 0)
    arc = half_ellipse(width, work.height)
    gaps = max(1, ceil(length / work.spacing - 1e-9))
    hoops = gaps + 1
    hoop = _up(arc + 2 * work.leg)
    net = (_up(length + 2 * (work.height + work.edge)), _up(arc + 2 * work.edge))
    pegs = 2 * ceil(length / work.peg_spacing) + 2 * ceil(width / work.peg_spacing)
    return BedCut(
        bed.id, bed.name, length, width, arc, hoops, length / gaps, hoop, net, hoops * work.clips_per_hoop, pegs
    )


def _from_stock(pieces: Sequence[float], stock: float) -> list[float]:
    """What is left of each pipe when the pieces are cut from the fewest that first-fit finds, longest first."""
    left: list[float] = []
    for piece in sorted((p for p in pieces if p <= stock), reverse=True):
        fits = next((n for n, rest in enumerate(left) if rest >= piece), None)
        if fits is None:
            left.append(stock - piece)
        else:
            left[fits] -= piece
    return left


def _up(length: float) -> float:
    """Rounded up to a whole centimetre: a piece is never cut short."""
    return float(ceil(length - 1e-9))
