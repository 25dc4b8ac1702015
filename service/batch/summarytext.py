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
#: Places at which one and the same fault is told.
MOST_PLACES = 30
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

Fault = Mapping[str, Any]


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
    _first(page, summary)
    _breaches(page, summary["breaches"])
    _no_free_bed(page, summary["no_free_bed"], knowledge)
    _diseases(page, summary["diseases"], knowledge)
    _named(page, "Without records", summary["no_records"], "Nothing is on record from before the season for")
    _named(page, "Nothing planned", summary["nothing_planned"], "There is no planting in the season for")
    _failures(page, summary)
    return "\n".join(page.lines) + "\n"


def _first(page: Page, summary: Mapping[str, Any]) -> None:
    """What to do, in the order in which it is best done."""
    failed, broken = summary["failed"], summary["verdicts"]["breach"]
    ill, plots = summary["diseases"]["gardens"], summary["diseases"]["plots"]
    beside = {name for one in plots for name in one["neighbours"]} - {one["garden"] for one in plots}
    beside = beside if ill == len(plots) else set()  # of a list that was cut the number would be too small
    empty, unrecorded = summary["nothing_planned"]["gardens"], summary["no_records"]["gardens"]
    things = [
        failed and f"Mend the sheet: {_gardens(failed)} could not be checked. Then run this again.",
        summary["strays"] and "Mend the names in the sheet of sightings: a disease is passed over until then.",
        broken and f"Change what is planned in {_gardens(broken)}: the report has a way out beside each breach.",
        ill
        and f"Look at {_gardens(ill)} with a disease on record{_and_beside(len(beside))}. Clean boots and tools "
        "between plots.",
        empty and f"Ask what {_gardens(empty)} will plant.",
        unrecorded and f"Ask what grew before in {_gardens(unrecorded)}: until then a fault there goes unseen.",
    ]
    if any(things):
        page.head("What to do first")
    for number, thing in enumerate(filter(None, things), 1):
        page.say(thing, f"{number}. ")


def _and_beside(count: int) -> str:
    return "" if count == 0 else ", and at the plot beside" if count == 1 else f", and at the {count:,} plots beside"


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
    """Each fault once, with all the lines that have it, the commonest first."""
    alike: dict[tuple[Any, ...], list[Fault]] = {}
    for one in summary["failures"]:
        alone = one["line"] if one["faults"] > 1 else None
        alike.setdefault((one.get("sheet"), one.get("column"), one["detail"], alone), []).append(one)
    shown = sorted(alike.values(), key=lambda several: -len(several))[:MOST_FAILURES]
    if shown:
        page.head("To mend in the sheet")
    for several in shown:
        more = f" (and {several[0]['faults'] - 1:,} more)" if several[0]["faults"] > 1 else ""
        page.say(f"{_place(several)}: {several[0]['detail']}{more}", hang=4)
    left = summary["failed"] + summary["strays"] - sum(map(len, shown))
    if left > 0:
        page.say(f"and {left:,} more; the report lists all.")


def _place(several: Sequence[Fault]) -> str:
    """ "Line 12, crop, Plot 3", or "Lines 12 (Plot 3) and 40 (Plot 9), crop"."""
    first = several[0]
    sheet = f"Sheet of {first['sheet']}, line" if first.get("sheet") else "Line"
    column = f", {first['column']}" if first.get("column") else ""
    if len(several) == 1:
        return f"{sheet} {first['line']}{column}, {tame(first['garden'] or 'no name')}"
    told = [f"{one['line']} ({tame(one['garden'] or 'no name')})" for one in several[:MOST_PLACES]]
    left = len(several) - len(told)
    return f"{sheet}s {as_list([*told, f'{left:,} more'] if left else told)}{column}"
