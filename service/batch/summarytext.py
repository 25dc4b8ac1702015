"""The summary of a batch as a page that a coordinator can print: plain text, at most 80 columns."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from service.batch.summary import NEAR_M
from service.text import WIDTH, Page
from service.words import as_date, as_list, as_month, as_season, capital, family_name, tame

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

#: Names of gardens in one list on paper; the summary's JSON has more of them.
MOST_NAMES = 300
MOST_FAILURES = 100
#: A blank at which no line is broken.
_KEPT = "\u00a0"
_MANY = 4
_NUMBERED = re.compile("(.*[^0-9] )([0-9]+[a-z]?)", re.IGNORECASE)
_VERDICTS = {
    "breach": "something planned breaks a rule",
    "caution": "nothing breaks a rule, but something works against the plan",
    "unknown": "no fault found, but not enough is on record to be sure, or nothing is planned",
    "clear": "nothing against the plan on record",
    "not checked": "a row could not be read; see the end of this page",
}


def summary_text(summary: Mapping[str, Any], knowledge: Knowledge, *, width: int = WIDTH, colour: bool = False) -> str:
    """The page for a summary line."""
    page = Page(width, colour)
    season = f", {as_season(summary['season'])}" if summary["season"] else ""
    page.head(f"{_gardens(summary['gardens'])}{season}")
    versions = as_list(one["version"] for one in summary["rules"])
    page.say(f"Checked as of {as_date(date.fromisoformat(summary['as_of']))}{versions and f' by rules {versions}'}.")
    page.lines.append("")
    counts = {**summary["verdicts"], **({"not checked": summary["failed"]} if summary["failed"] else {})}
    wide = max(len(f"{count:,}") for count in counts.values())
    for verdict, count in counts.items():
        page.say(_VERDICTS[verdict], f"{count:>{wide},} {verdict}: ")
    _breaches(page, summary["breaches"])
    _no_free_bed(page, summary["no_free_bed"], knowledge)
    _diseases(page, summary["diseases"], knowledge)
    _named(page, "Without records", summary["no_records"], "Nothing is on record from before the season for")
    _named(page, "Nothing planned", summary["nothing_planned"], "There is no planting in the season for")
    _failures(page, summary)
    return "\n".join(page.lines) + "\n"


def _gardens(count: int) -> str:
    return "1 garden" if count == 1 else f"{count:,} gardens"


def _listed(page: Page, lead: str, names: Sequence[str], count: int, indent: int = 0) -> None:
    """A sentence that ends in names; no name is broken over two lines."""
    shown = [name.replace(" ", _KEPT) for name in _brief([tame(name) for name in names[:MOST_NAMES]])]
    left = count - len(names[:MOST_NAMES])
    told = ", ".join(shown) + f" and {left:,} more" if left > 0 else as_list(shown)
    margin = " " * indent
    lines = textwrap.wrap(
        f"{lead} {told}.", page.width, initial_indent=margin, subsequent_indent=margin + "    ", break_on_hyphens=False
    )
    page.lines += [line.replace(_KEPT, " ") for line in lines]


def _brief(names: Sequence[str]) -> list[str]:
    """Names of which the first words are said once where there are many: Plot 3, 6, 9, 12."""
    if len(names) < _MANY or any(name[:1].isdigit() for name in names):  # a garden called 3 is not plot 3
        return list(names)
    told, before = [], ""
    for name in names:
        found = _NUMBERED.fullmatch(name)
        told.append(found[2] if found and found[1] == before else name)
        before = found[1] if found else ""
    return told


def _breaches(page: Page, breaches: Sequence[Mapping[str, Any]]) -> None:
    if breaches:
        page.head("Commonest breaches")
    for one in breaches:
        kind, _, name = one["rule"].partition(".")
        page.say(f"{capital(kind)}: {name.replace('-', ' ')} [{one['rule']}]", hang=4)
        example = one["example"]
        page.say(f"such as {tame(example['garden'])}: {example['title']}.", indent=4, hang=4)
        _listed(page, f"{_gardens(one['gardens'])}:", one["names"], one["gardens"], 4)


def _no_free_bed(page: Page, families: Sequence[Mapping[str, Any]], knowledge: Knowledge) -> None:
    if not families:
        return
    page.head("Families with no free bed")
    page.say(
        "By what is on record, every bed of these gardens is in its break until past the middle of the season.", hang=0
    )
    for one in families:
        family = capital(family_name(one["family"], knowledge))
        _listed(page, f"{family}, {_gardens(one['gardens'])}:", one["names"], one["gardens"])


def _diseases(page: Page, diseases: Mapping[str, Any], knowledge: Knowledge) -> None:
    plots = diseases["plots"]
    if not plots:
        return
    page.head("Plots that had a disease, and their neighbours")
    if any(one["by"] == "position" for one in plots):
        page.say(f"Beside: plots of the same site whose beds lie within {NEAR_M:.0f} m.", hang=0)
    if any(one["by"] == "sheet" for one in plots):
        page.say("Next in the sheet: where these plots lie is not known, so the ones before and after them.", hang=0)
    for one in plots:
        page.say(f"{tame(one['garden'])}: {as_list(_seen(seen, knowledge) for seen in one['seen'])}.", hang=4)
        lead = "Beside:" if one["by"] == "position" else "Next in the sheet:"
        _listed(page, lead, one["neighbours"] or ["none"], len(one["neighbours"] or ["none"]), 4)
    left = diseases["gardens"] - len(plots)
    if left > 0:
        page.say(f"and {left:,} more plots; the report tells which.")


def _seen(seen: Mapping[str, Any], knowledge: Knowledge) -> str:
    disease = knowledge.diseases.get(seen["of"])
    name = disease.name if disease else seen["of"]
    return f"{name} in {tame(seen['where'])}, last in {as_month(date.fromisoformat(seen['last']))}"


def _named(page: Page, title: str, told: Mapping[str, Any], why: str) -> None:
    if told["gardens"]:
        page.head(title)
        _listed(page, f"{why} {_gardens(told['gardens'])}:", told["names"], told["gardens"])


def _failures(page: Page, summary: Mapping[str, Any]) -> None:
    shown = summary["failures"][:MOST_FAILURES]
    if shown:
        page.head("To mend in the sheet")
    for one in shown:
        sheet = f"Sheet of {one['sheet']}, line" if one.get("sheet") else "Line"
        column = f", {one['column']}" if one.get("column") else ""
        more = f" (and {one['faults'] - 1:,} more)" if one["faults"] > 1 else ""
        place = f"{sheet} {one['line']}{column}, {tame(one['garden'] or 'no name')}"
        page.say(f"{place}: {one['detail']}{more}", hang=4)
    left = summary["failed"] + summary["strays"] - len(shown)
    if left > 0:
        page.say(f"and {left:,} more; the report lists all.")
