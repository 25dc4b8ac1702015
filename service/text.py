"""The report as a page of plain text, at most 80 columns wide."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from rules.report import Finding, Free, Outlook, Report, counts_for
from rules.seasons import LAST_YEAR
from service.cautiontext import Cautions
from service.speech import speak
from service.tables import blocks, columns
from service.words import (
    as_date,
    as_list,
    as_month,
    as_season,
    as_span,
    capital,
    crop_plural,
    evidence_words,
    family_name,
    tally,
    tame,
)

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Bed, Plan, Window

__all__ = ["Page", "report_text", "speak"]

WIDTH = 80
#: The cell for a family that a perennial keeps in the ground until somebody clears it.
STANDING = "standing"
VERDICTS = {
    "breach": "breach - something planned breaks a rule",
    "caution": "caution - nothing breaks a rule, but something works against you",
    "clear": "clear - nothing against the plan on record",
    "unknown": "unknown - no fault found, but years that matter are not on record",
}
#: The other reason for the verdict "unknown".
NOTHING_PLANNED = "unknown - nothing is planned, so there was nothing to judge"
COLOURS = {"breach": "31;1", "caution": "33;1", "advice": "36", "benefit": "32", "head": "1"}


class Page:
    """Lines of text at a fixed width, with optional colour."""

    def __init__(self, width: int, colour: bool) -> None:
        self.width = max(40, min(WIDTH, width))
        self.colour = colour
        self.lines: list[str] = []

    def paint(self, text: str, how: str) -> str:
        """The text in the colour of ``how`` when colours are wanted."""
        return f"\x1b[{COLOURS[how]}m{text}\x1b[0m" if self.colour else text

    def say(self, text: str, label: str = "", indent: int = 0, how: str | None = None, hang: int = 2) -> None:
        """Add a paragraph: ``label`` first, later lines under its text (or ``hang`` in)."""
        first = " " * indent + label
        later = " " * (len(first) if label and how is None else indent + hang)
        wrapped = textwrap.wrap(
            tame(text), self.width, initial_indent=first, subsequent_indent=later, break_on_hyphens=False
        ) or [first.rstrip()]
        if how and label:
            # Painted after wrapping, so that the marks do not count as width.
            head = wrapped[0]
            wrapped[0] = head[:indent] + self.paint(label.rstrip(), how) + head[indent + len(label.rstrip()) :]
        self.lines += wrapped

    def head(self, text: str) -> None:
        """Add a blank line and a ruled heading."""
        lines = textwrap.wrap(tame(text), self.width) or [""]
        if self.lines:
            self.lines.append("")
        self.lines += [self.paint(line, "head") for line in lines]
        self.lines.append("-" * max(len(line) for line in lines))


def report_text(
    report: Report,
    plan: Plan,
    knowledge: Knowledge,
    *,
    width: int = WIDTH,
    colour: bool = False,
    hidden: int = 0,
) -> str:
    """The whole report as plain text of at most ``width`` (40 to 80) columns.

    ``hidden`` is the number of findings that the reader chose not to see.
    """
    page = Page(width, colour)
    _head(page, report, plan, hidden)
    _beds(page, report, plan, knowledge)
    _outlook(page, report, plan, knowledge)
    _small_print(page, report)
    return "\n".join(page.lines) + "\n"


def _head(page: Page, report: Report, plan: Plan, hidden: int) -> None:
    page.head(plan.garden.name)
    season = f"{as_season(report.judged_season)}, " if report.judged_season else ""
    page.say(f"{season}{as_span(report.judged)}, seen from {as_date(report.as_of)}", "Judged:   ")
    nothing_planned = report.verdict == "unknown" and not report.not_checked
    page.say(NOTHING_PLANNED if nothing_planned else VERDICTS[report.verdict], "Verdict:  ")
    now = [finding for finding in report.findings if finding.in_window]
    if now:
        page.say(tally(now), "Findings: ")
    points = [f"{effect} {sum_:+d}" for effect, sum_ in report.score.items() if sum_]
    if points:
        page.say(", ".join(points), "Points:   ")
    if hidden:
        page.say(f"{hidden} of lesser severity not shown", "Hidden:   ")
    overlay = f", changed by {report.overlay}" if report.overlay else ""
    page.say(f"rule set {report.rules_version}{overlay}", "Rules:    ")


def _standing(bed: Bed, window: Window) -> bool:
    """False for a bed that is gone before, or made after, the window."""
    return not ((bed.end and bed.end < window.start) or (bed.start and bed.start > window.end))


def _quiet(beds: list[Bed], report: Report, plan: Plan) -> Iterator[tuple[Bed, str]]:
    """What to say of each bed without findings."""
    planned = {p.bed for p in plan.plantings if report.judged.touches(p.start, p.end)}
    unsure = {bed for skipped in report.not_checked for bed in skipped.beds}
    for bed in beds:
        if bed.id not in planned:
            yield bed, "Nothing is planned here."
        elif bed.id in unsure:
            yield bed, "Nothing found, but not enough is on record to be sure; see Not checked."
        else:
            yield bed, "Nothing against it on record."


def _beds(page: Page, report: Report, plan: Plan, knowledge: Knowledge) -> None:
    names = {bed.id: bed.name for bed in plan.beds}
    place = {bed.id: at for at, bed in enumerate(plan.beds)}
    under: dict[str | None, list[Finding]] = {}
    touched = {bed for finding in report.findings for bed in finding.beds}
    for finding in report.findings:
        first = min(finding.beds, key=lambda bed: place.get(bed, len(place)), default=None)
        under.setdefault(first, []).append(finding)
    cautions = Cautions((finding.cautions for finding in report.findings), knowledge)
    said: dict[tuple[object, ...], str] = {}
    for key, name in ((None, "The whole garden"), *names.items()):
        if key in under:
            page.head(name)
            for at, finding in enumerate(under[key]):
                if at:
                    page.lines.append("")
                others = [names.get(bed, bed) for bed in finding.beds if bed != key]
                if as_list([name, *others]) in finding.title:
                    others = []
                words = (finding.rule, finding.why, finding.fix.text, finding.evidence)
                _finding(page, finding, others, knowledge, cautions, said.get(words))
                said.setdefault(words, name)
    quiet = [bed for bed in plan.beds if bed.id not in touched and _standing(bed, report.judged)]
    if quiet:
        page.head("Other beds" if report.findings else "Beds")
        for bed, said in _quiet(quiet, report, plan):
            page.say(said, f"{tame(bed.name)[:30]}: ", hang=4)


def _finding(
    page: Page, finding: Finding, others: list[str], knowledge: Knowledge, cautions: Cautions, under: str | None
) -> None:
    """One finding; ``under`` is the heading under which its why and fix stand already."""
    then = "" if finding.in_window else ", in an earlier season"
    page.say(finding.title, f"{capital(finding.severity)}{then}: ", how=finding.severity)
    if others:
        page.say(as_list(others) + ".", "also: ", 2)
    if under is not None:
        page.say(f"as above, under {under}.", "Why, fix: ", 2)
    else:
        page.say(finding.why, "Why:      ", 2)
        if finding.fix.text:
            page.say(finding.fix.text, "Fix:      ", 2)
        page.say(evidence_words(finding.evidence, knowledge), "Evidence: ", 2)
    if finding.points:
        page.say(f"{finding.points:+d} ({counts_for(finding.rule, finding.effect)})", "Points:   ", 2)
    cautions.tell(page, finding.cautions)


def _cell(outlook: Outlook, start: date) -> str:
    """Two lines of short months, least and better; "open" for what is past before ``start``."""
    if not isinstance(outlook, Free):
        return outlook
    if outlook.least.year > LAST_YEAR:
        return STANDING
    if outlook.better <= start:
        return "open"
    shown = []
    for day in (outlook.least, outlook.better):
        month, year = as_month(day).split()
        shown.append("open" if day <= start else f"{month[:3]} {year}")
    return "\n".join(shown)


def _outlook(page: Page, report: Report, plan: Plan, knowledge: Knowledge) -> None:
    beds = {bed.id: bed for bed in plan.beds if _standing(bed, report.judged)}
    rows = [outlook for outlook in report.beds if outlook.bed in beds]
    families = sorted({key for row in rows for key in row.free_from}, key=lambda key: family_name(key, knowledge))
    told = [key for key in families if any(row.free_from.get(key, "open") != "open" for row in rows)]
    if families:
        page.head("Free again")
    if told:
        page.say(
            "From when each family may return, by what stands on record before the judged season: "
            "after the least break, and after the better one.",
            hang=0,
        )
        shorten = {key: family_name(key, knowledge).removesuffix(" family") for key in told}
        header = ["bed", "break", *("\n".join(textwrap.wrap(shorten[key], 12)) for key in told)]
        body = []
        for row in rows:
            cells = [_cell(row.free_from.get(key, "open"), report.judged.start) for key in told]
            label = "\n".join(textwrap.wrap(tame(beds[row.bed].name), 14)[:3]) or row.bed
            body.append([label, "least\nbetter" if any("\n" in cell for cell in cells) else "", *cells])
        for block in blocks(header, body, width=page.width, keep=2):
            page.lines += ["", *block]
        page.lines.append("")
        if any(STANDING in row for row in body):
            page.say(
                "Standing: a host of the family or of its disease stays there with no date of clearing.",
                hang=0,
            )
    always = [family_name(key, knowledge).removesuffix(" family") for key in families if key not in told]
    if always:
        page.say(f"Open in every bed: {as_list(always)}.", hang=0)
    closures = [(beds[row.bed], closure) for row in rows for closure in row.closed_to]
    if closures:
        page.head("Closed because of disease")
    for bed, closure in closures:
        disease = knowledge.diseases.get(closure.because)
        why = disease.name if disease else closure.because.replace("_", " ")
        until = "ever again"
        if closure.until:
            standing = closure.until.year > LAST_YEAR
            until = "while its host stands there" if standing else f"until {as_month(closure.until)}"
        crops = as_list(_closed_crops(closure.crops, plan, knowledge))
        page.say(f"because of {why} no {crops} {until}.", f"{tame(bed.name)[:30]}: ", hang=4)


def _closed_crops(keys: Sequence[str], plan: Plan, knowledge: Knowledge) -> list[str]:
    """Plural names, a family in one word where all its crops are meant."""
    left = {key for key in keys if key not in knowledge.groups} or set(keys)
    whole = []
    for family in knowledge.families:
        members = {crop.id for crop in knowledge.crops.values() if crop.family == family}
        if len(members) > 1 and members <= left:
            whole.append(family_name(family, knowledge).removesuffix(" family"))
            left -= members
    said = [f"crop of the {as_list(whole)} {'families' if len(whole) > 1 else 'family'}"] if whole else []
    return said + sorted(crop_plural(key, plan, knowledge) for key in left)


def _small_print(page: Page, report: Report) -> None:
    if report.not_checked:
        page.head("Not checked")
        for skipped in report.not_checked:
            times = "once" if skipped.count == 1 else f"{skipped.count} times"
            page.say(f"{capital(skipped.why.rstrip('.'))} ({skipped.rule}, {times}).")
    if report.seasons_read:
        page.head("How seasons were read")
        page.lines += columns(
            ("written", "read as"),
            [(tame(word), as_span(window)) for word, window in sorted(report.seasons_read.items())],
            rule=False,
        )[1:]
    if report.notes:
        page.head("Notes")
        for note in report.notes:
            page.say(note)
