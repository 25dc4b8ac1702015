"""The map: beds to scale, what stands in them on a day, and what the report marks."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from rules.knowledge.known import Knowledge
from rules.model import Plan
from rules.report import Report
from service.lengths import length
from service.pictures import telling
from service.pictures.bedpicture import BedPicture
from service.pictures.cards import Table
from service.pictures.ground import USUAL_LENGTH, USUAL_WIDTH, lay_out
from service.pictures.looks import looks_of
from service.pictures.measure import width
from service.pictures.shapes import Area, Box, Group, Label, MarkKind, cut_to, rectangle
from service.pictures.sheet import MARGIN, SMALL, Sheet
from service.words import as_date

#: Beds that are drawn; a picture of more could not be read.
MOST_BEDS = 300
_ROOM = 680.0
_ROWS_HEAD = 24.0
#: The narrowest column of beds told in words.
_COLUMN = 340.0
_FOOT_M = 0.3048
#: What a scale bar may be long, times powers of ten, and the page units that it should be long at least.
_STEPS, _BAR = (1, 2, 5), 60.0


def map_svg(plan: Plan, report: Report, knowledge: Knowledge, *, day: date) -> str:
    """The beds of a plan on a day as an SVG document; equal values give equal text."""
    there = telling.shown_on(plan, day)
    shown = there[:MOST_BEDS]
    ground = lay_out([one.bed for one in shown], _ROOM, _ROWS_HEAD)
    looks = looks_of((p.crop.family for one in shown for p in one.plantings), knowledge)
    sheet = Sheet("map", ground.width + 2 * MARGIN, looks)
    _head(sheet, plan, report, day, north=any(one.bed.position is not None for one in shown))
    top = sheet.y
    beds = []
    for one in shown:
        spot = ground.spots[one.bed.id]
        x, y = spot.centre
        beds.append(BedPicture(one, spot._replace(centre=(MARGIN + x, top + y)), plan.garden.units))
    sheet.add(rectangle(Box(MARGIN / 2, top - 10, sheet.width - MARGIN / 2, top + ground.height + 10), "soft"))
    sheet.add(*(bed.ground() for bed in beds))
    table = Table()
    if ground.rows_at is not None:
        words = "Beds without a position on record, in rows and not where they lie:"
        head = cut_to(words, MARGIN, top + ground.rows_at + 13, sheet.room, SMALL, "quiet")
        if head is not None:
            table.take(head.box)
            sheet.add(head)
    listed = _write(beds, sheet, table, marks_of(report))
    sheet.y = top + ground.height + 20
    _scale_bar(sheet, ground.scale, plan.garden.units)
    sheet.family_key(looks)
    _signs(sheet, beds, report)
    _notes(sheet, plan, beds, len(there), day)
    if listed:
        sheet.heading("In full, where the map has no room")
        sheet.columns(listed, _COLUMN)
    found = telling.grave(report)
    if found:
        sheet.findings(f"Findings for {telling.season_words(report)}", found)
    return sheet.svg(f"{plan.garden.name}: map of the beds on {as_date(day)}", _described(plan, report, beds, day))


def marks_of(report: Report) -> dict[str, dict[MarkKind, int]]:
    """How many findings of each grave kind touch each bed."""
    found: dict[str, dict[MarkKind, int]] = {}
    kinds: tuple[MarkKind, ...] = ("breach", "caution")
    for kind in kinds:
        for finding in report.findings:
            if finding.severity == kind:
                for bed in finding.beds:
                    counts = found.setdefault(bed, {})
                    counts[kind] = counts.get(kind, 0) + 1
    return found


def _head(sheet: Sheet, plan: Plan, report: Report, day: date, north: bool) -> None:
    under = f"What stands where on {as_date(day)}. Findings are those for {telling.season_words(report)}"
    sheet.head(plan.garden.name, f"{under}, seen from {as_date(report.as_of)}.", keep=56 if north else 0)
    if north:
        x, y = sheet.width - MARGIN - 14, MARGIN + 22.0
        sheet.add(
            Area(((x, y - 20), (x + 8, y + 14), (x, y + 8)), "hollow"),
            Area(((x, y - 20), (x - 8, y + 14), (x, y + 8)), "north"),
            Label(x - width("N", 13, True) / 2, y + 30, "N", 13, bold=True),
        )
        sheet.y = max(sheet.y, y + 44)


def _write(
    beds: list[BedPicture], sheet: Sheet, table: Table, marks: Mapping[str, Mapping[MarkKind, int]]
) -> list[str]:
    """Lay names first, then marks, then crops; what had no room is told in lines below."""
    named, numbers = [], 0
    for bed in beds:
        told = bed.name(table, numbers + 1, [other.called for other in beds if other is not bed])
        numbers += told.number is not None
        named.append(told)
    for bed in beds:
        if bed.bed.id in marks:
            bed.mark(table, marks[bed.bed.id])
    listed = []
    for bed, told in zip(beds, named, strict=True):
        if not bed.fill(table, sheet.looks) or not told.whole:
            number = f"{told.number}  " if told.number else ""
            listed.append(f"{number}{bed.called}: {bed.shown.words}")
        sheet.add(Group(f"words-{bed.bed.id}", shapes=bed.cards))
    return listed


def _scale_bar(sheet: Sheet, scale: float, units: str) -> None:
    """A bar of a round length in the garden's unit."""
    a_unit = scale * (_FOOT_M if units == "imperial" else 1)
    power = 1
    while a_unit * power * _STEPS[-1] < _BAR:
        power *= 10
    step = next(step for step in _STEPS if a_unit * power * step >= _BAR)
    number, x, y = power * step, MARGIN, sheet.y + 8
    long = a_unit * number
    sheet.add(
        rectangle(Box(x, y, x + long / 2, y + 5), "solid"),
        rectangle(Box(x, y, x + long, y + 5), "thin"),
        Label(x + long + 7, y + 8, f"{number} {'ft' if units == 'imperial' else 'm'}", SMALL),
    )
    sheet.y = y + 14


def _signs(sheet: Sheet, beds: list[BedPicture], report: Report) -> None:
    """What the marks and dashed lines mean, as far as there are any."""
    severities = {finding.severity for finding in report.findings}
    sheet.signs(
        [
            ("breach", "breaks a rule", "breach" in severities),
            ("caution", "works against you", "caution" in severities),
            ("cover", "covered by net, fleece or the like", any(bed.shown.covers for bed in beds)),
            ("soil framed dotted", "some time in the season", any(bed.by_year for bed in beds)),
        ]
    )


def _notes(sheet: Sheet, plan: Plan, beds: list[BedPicture], there: int, day: date) -> None:
    """What the drawing cannot show as it is."""
    units = plan.garden.units
    notes = []
    if any(not (bed.bed.length and bed.bed.width) for bed in beds):
        usual = f"{length(USUAL_LENGTH, units)} by {length(USUAL_WIDTH, units)}"
        notes.append(f"Dashed outline: length or width is not on record, drawn as in a bed of {usual}.")
    if any(bed.shares_ground for bed in beds):
        notes.append("Crops that share ground are drawn side by side.")
    if there > len(beds):
        notes.append(f"Only the first {len(beds)} of {there} beds are drawn.")
    if gone := telling.not_there(plan, day):
        notes.append(telling.gone_words(gone, day))
    sheet.y += 10 if notes else 0
    for note in notes:
        sheet.write(note, SMALL, "quiet")


def _described(plan: Plan, report: Report, beds: list[BedPicture], day: date) -> str:
    units = plan.garden.units
    count = "1 bed" if len(beds) == 1 else f"{len(beds)} beds"
    told = " ".join(f"{bed.bed.name} ({telling.size_words(bed.bed, units)}): {bed.shown.words}." for bed in beds)
    return f"{count} on {as_date(day)}. {told} {telling.findings_words(report)}"
