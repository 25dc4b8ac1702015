"""What is asked for when labels are: which plantings, on which sheet, from which place on, with which link."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from rules.planning.netting import unknown_beds
from service.labels.label import Label, labels_of
from service.labels.sheets import SHEETS, Sheet
from service.schemas.words import clean, did_you_mean

if TYPE_CHECKING:
    from rules.model import Plan

Fault = tuple[str, str]
#: A garden's page in the letters of an address (RFC 3986); its key stands behind "#".
_LINK = re.compile(r"https?://[A-Za-z0-9._~:\[\]-]+(/[A-Za-z0-9._~:/?#\[\]@!$&()*+,;=%-]*)?", re.ASCII)
LONGEST_LINK = 500
#: A code takes about 8 ms to make.
MOST_LABELS = 300


class Asked(NamedTuple):
    """Labels to print: on which sheet, from which place on."""

    labels: list[Label]
    sheet: Sheet
    first: int


def labels_asked(
    plan: Plan,
    *,
    beds: Sequence[str] = (),
    plantings: Sequence[str] = (),
    sheet: str = "a4-24",
    first: int = 1,
    link: str | None = None,
) -> tuple[Asked | None, list[Fault]]:
    """What is to be printed, and what is wrong with what was asked: pairs of the parameter and a sentence."""
    known = [planting.id for planting in plan.plantings]
    faults = [("bed", line) for line in unknown_beds(plan, beds)]
    faults += [
        ("planting", f"no planting is called '{clean(name)}'{did_you_mean(name, known)}")
        for name in plantings
        if name not in known
    ]
    found = SHEETS.get(sheet)
    if found is None:
        hint = did_you_mean(sheet, SHEETS)
        faults.append(("sheet", f"no sheet is called '{clean(sheet)}'{hint or '; there are ' + ', '.join(SHEETS)}"))
    elif not 1 <= first <= found.room:
        faults.append(("from", f"the sheet has places 1 to {found.room}, not {first}"))
    if link is not None and not (len(link) <= LONGEST_LINK and _LINK.fullmatch(link)):
        faults.append(("link", "write the garden's page as https://HOST/gardens/ID, with #KEY behind it if you like"))
    if faults or found is None:
        return None, faults
    labels = labels_of(plan, beds=beds, plantings=plantings, garden_url=link)
    if len(labels) > MOST_LABELS:
        said = f"that would be {len(labels):,} labels, and {MOST_LABELS} are made at a time; name some beds"
        return None, [("bed", said)]
    return Asked(labels, found, first), []
