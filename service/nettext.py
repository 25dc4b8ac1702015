"""A cut list for hoops and nets in words, with its arithmetic, in the garden's units."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

from rules.knowledge.known import Knowledge
from rules.model import Plan
from rules.planning.netting import BedCut, CutList, HoopWork
from service.lengths import area, length
from service.text import WIDTH, Page
from service.words import as_list

#: Goes with every cut list: who must not come to harm.
CAUTION = "netting_and_wildlife"
_CM = re.compile(r"\b([0-9]+) cm\b")


def net_text(cut: CutList, work: HoopWork, plan: Plan, knowledge: Knowledge, *, width: int = WIDTH) -> str:
    """The cut list to read and to take to the shed, at most ``width`` (40 to 80) columns."""
    page, units = Page(width, colour=False), plan.garden.units
    names = {bed.id: bed.name for bed in plan.beds}
    for one in cut.cuts:
        page.head(f"{one.name}, {length(one.length, units)} by {length(one.width, units)}")
        _tell(page, _bed(one, work, units))
    if len(cut.cuts) > 1:
        page.head("All beds")
    _tell(page, _totals(cut, work, names, units))
    if not cut.cuts and not cut.lacking:
        page.say("No bed stands in the open; name one with its id.", hang=0)
    worked_out = {one.bed for one in cut.cuts}
    if cut.lacking and cut.cuts:
        page.lines.append("")
    for bed, why in cut.lacking:
        said = _CM.sub(lambda found: length(float(found[1]), units), why)
        page.say(f"{names.get(bed, bed)}: {said}.", "Does not fit: " if bed in worked_out else "Not worked out: ")
    caution = knowledge.cautions[CAUTION]
    page.lines.append("")
    page.say(f"{caution.text.rstrip('.')}. Defer to: {caution.defer_to}.", "Caution: ")
    return "\n".join(page.lines) + "\n"


def _tell(page: Page, lines: Iterator[str]) -> None:
    """Each line, the arithmetic under its piece set in."""
    for line in lines:
        text = line.lstrip()
        head, mark, rest = text.partition(": ")
        label = f"{head}: ".ljust(len(text) - len(rest.lstrip())) if mark else ""
        page.say(rest.lstrip() if mark else text, label, len(line) - len(text))


def _bed(cut: BedCut, work: HoopWork, units: str) -> Iterator[str]:
    def say(cm: float) -> str:
        return length(cm, units)

    yield f"Hoops: {cut.hoops} of {say(cut.hoop)}, {say(cut.hoop_gap)} apart"
    yield f"  {say(cut.arc)} over the bed, {say(work.height)} high, and 2 x {say(work.leg)} in the ground"
    yield f"Net:   {say(cut.net[0])} by {say(cut.net[1])}"
    yield f"  along:  {say(cut.length)} + 2 x ({say(work.height)} down + {say(work.edge)} to bury)"
    yield f"  across: {say(cut.arc)} + 2 x {say(work.edge)} to bury"
    yield f"Clips: {cut.clips}, {work.clips_per_hoop} a hoop"
    yield f"Pegs:  {cut.pegs}, one every {say(work.peg_spacing)} round the bed"


def _totals(cut: CutList, work: HoopWork, names: dict[str, str], units: str) -> Iterator[str]:
    def say(cm: float) -> str:
        return length(cm, units)

    if len(cut.cuts) > 1:
        yield f"Hoops: {cut.hoops}, {say(cut.pipe_length)} of pipe in all"
        yield f"Net:   {area(cut.net_area_m2, units)}"
        yield f"Clips: {cut.clips}"
        yield f"Pegs:  {cut.pegs}"
    if cut.pipes is not None and work.pipe is not None:
        alike = Counter(say(rest) for rest in cut.pipe_offcuts)
        left = as_list(rest if n == 1 else f"{n} of {rest}" for rest, n in alike.items())
        yield f"Pipes: {cut.pipes} of {say(work.pipe)}; left over: {left or 'nothing'}"
    if cut.net_run and work.net_width is not None:
        yield f"Buy:   {say(cut.net_run)} of net {say(work.net_width)} wide"
        for bed, strip in cut.net_offcut:
            if strip:
                yield f"  left beside the piece for {names[bed]}: a strip {say(strip)} wide"


def net_dict(cut: CutList, work: HoopWork, knowledge: Knowledge) -> dict[str, Any]:
    """The cut list as plain values, lengths in cm."""
    caution = knowledge.cautions[CAUTION]
    return {
        "units": "cm",
        "work": {
            "height": work.height,
            "spacing": work.spacing,
            "leg": work.leg,
            "edge": work.edge,
            "clips_per_hoop": work.clips_per_hoop,
            "peg_spacing": work.peg_spacing,
            "net_width": work.net_width,
            "pipe": work.pipe,
        },
        "beds": [
            {
                "bed": one.bed,
                "name": one.name,
                "hoops": {
                    "count": one.hoops,
                    "length": one.hoop,
                    "arc": round(one.arc, 1),
                    "apart": round(one.hoop_gap, 1),
                },
                "net": {"length": one.net[0], "width": one.net[1]},
                "clips": one.clips,
                "pegs": one.pegs,
            }
            for one in cut.cuts
        ],
        "totals": {
            "hoops": cut.hoops,
            "pipe_length": cut.pipe_length,
            "net_area_m2": round(cut.net_area_m2, 2),
            "clips": cut.clips,
            "pegs": cut.pegs,
            "pipes": cut.pipes,
            "pipe_offcuts": list(cut.pipe_offcuts),
            "net_run": cut.net_run,
            "net_offcuts": [{"bed": bed, "width": width} for bed, width in cut.net_offcut],
        },
        "lacking": [{"bed": bed, "why": why} for bed, why in cut.lacking],
        "cautions": [{"id": CAUTION, "text": caution.text, "defer_to": caution.defer_to}],
    }
