"""The timeline: beds and years, what stood where and for how long, and when a family may return."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rules.checks.context import Context
from rules.knowledge.known import Knowledge
from rules.model import Plan, Planting
from rules.report import Report
from rules.seasons import growing_year, year_reader
from service.pictures import telling
from service.pictures.axis import Axis
from service.pictures.bars import Bar, bar_words, bars, breaks, moments
from service.pictures.looks import looks_of
from service.pictures.map import MOST_BEDS, marks_of
from service.pictures.markup import SILENT
from service.pictures.measure import width
from service.pictures.row import Row, RowPicture
from service.pictures.shapes import Label, Shape, line
from service.pictures.sheet import MARGIN, SMALL, TEXT, Sheet
from service.words import as_date, as_list, capital, family_name

FEWEST_YEARS, USUAL_YEARS, MOST_YEARS = 1, 6, 20
_NAMES = 128.0
_USUAL_WIDTH, _LEAST_YEAR = 840.0, 92.0
_SEASON_SIZE = 10.0


def timeline_svg(plan: Plan, report: Report, knowledge: Knowledge, *, years: int = USUAL_YEARS) -> str:
    """The beds of a plan over ``years`` growing years, the last being the one after the judged season's.

    Raises
    ------
    ValueError
        where ``years`` is not from 1 to 20.
    """
    if not FEWEST_YEARS <= years <= MOST_YEARS:
        raise ValueError(f"years must be from {FEWEST_YEARS} to {MOST_YEARS}, not {years}")
    last = growing_year(report.judged.end, plan.garden.latitude) + 1
    each = max(_LEAST_YEAR, (_USUAL_WIDTH - 2 * MARGIN - _NAMES) / years)
    axis = Axis(last - years + 1, last, MARGIN + _NAMES, each, plan.garden.latitude)
    rows = list(_rows(plan, report, knowledge, axis))
    shown = rows[:MOST_BEDS]
    families = {bar.family for row in shown for bar, _ in row.bars} | {
        one.family for row in shown for one in row.breaks
    }
    sheet = Sheet("timeline", axis.right + MARGIN, looks_of((f for f in families if f is not None), knowledge))
    span = f"{axis.year_name(axis.first)} to {axis.year_name(last)}" if years > 1 else axis.year_name(last)
    seen = as_date(report.as_of)
    sheet.head(plan.garden.name, f"What stood and will stand where, {span}, as known on {seen}.")
    _axis(sheet, axis, report)
    marks, picture, at, top = marks_of(report), RowPicture(sheet, axis), len(sheet.shapes), sheet.y
    edges = [top]
    for row in shown:
        picture.draw(row, marks.get(row.bed.id, {}))
        edges.append(sheet.y)
    sheet.shapes[at:at] = _grid(axis, edges, report)
    sheet.y += 6
    sheet.family_key(sheet.looks)
    _signs(sheet, shown, report)
    if len(rows) > len(shown):
        sheet.write(f"Only the first {len(shown)} of {len(rows)} beds are drawn.", SMALL, "quiet")
    if found := telling.grave(report):
        sheet.findings(f"Findings for {telling.season_words(report)}", found)
    desc = " ".join([*(_row_words(row, knowledge) for row in shown), telling.findings_words(report)])
    return sheet.svg(f"{plan.garden.name}: timeline of the beds, {span}", desc)


def _rows(plan: Plan, report: Report, knowledge: Knowledge, axis: Axis) -> Iterator[Row]:
    """A row for every bed, but for those whose ground another has taken over before the judged season."""
    context = Context(plan, knowledge)
    outlooks = {outlook.bed: outlook for outlook in report.beds}
    taken_over = {replaced.bed for bed in plan.beds for replaced in bed.replaces}
    for bed in plan.beds:
        if bed.id in taken_over and bed.end is not None and bed.end < report.judged.start:
            continue
        ground = context.grounds[bed.id]
        stood = {p.id: p for p in (*ground.plantings, *context.own[bed.id]) if axis.window.touches(p.start, p.end)}
        told = [(bar, bar_words(bar, bed.id, plan, knowledge)) for bar in bars(list(stood.values()), knowledge)]
        days = [m for m in moments(plan, ground, knowledge) if axis.window.touches(m.day, m.day)]
        running = list(breaks(ground, outlooks[bed.id], report.judged, knowledge))
        yield Row(bed, told, days, running, list(_silent(stood.values(), report, axis)))


def _silent(stood: Iterable[Planting], report: Report, axis: Axis) -> Iterator[tuple[int, int]]:
    """Runs of growing years on the axis, before the judged season, of which nothing is on record."""
    year = year_reader(axis.latitude)
    told = {y for p in stood for y in range(year(p.start), year(p.end) + 1)}
    silent = [y for y in axis.years if y not in told and y < year(report.judged.start)]
    while silent:
        first = last = silent.pop(0)
        while silent and silent[0] == last + 1:
            last = silent.pop(0)
        yield first, last


def _axis(sheet: Sheet, axis: Axis, report: Report) -> None:
    """The names of the years and of their quarters, and the day from which all is seen."""
    day = report.as_of
    if axis.window.touches(day, day):
        words = f"seen from {as_date(day)}"
        x = axis.x(day)
        long = width(words, SMALL)
        start = x + 4 if x + 4 + long <= axis.right else x - 4 - long
        sheet.add(Label(start, sheet.y + 12, words, SMALL))
        sheet.y += 18
    for year in axis.years:
        left, right = axis.of_year(year)
        name = axis.year_name(year)
        sheet.add(Label((left + right - width(name, TEXT, True)) / 2, sheet.y + 13, name, TEXT, bold=True))
    sheet.y += 18
    for word, left, right in axis.seasons():
        short = capital(word[:2])
        long = width(short, _SEASON_SIZE)
        if long + 2 <= right - left:
            sheet.add(Label((left + right - long) / 2, sheet.y + 10, short, _SEASON_SIZE, "quiet"))
    sheet.y += 15


def _grid(axis: Axis, edges: list[float], report: Report) -> list[Shape]:
    """Lines between rows, years and quarters, and the line of the day from which all is seen."""
    top, bottom = edges[0], edges[-1]
    shapes: list[Shape] = [line(((MARGIN, y), (axis.right, y)), "faint") for y in edges]
    for year in axis.years:
        x = axis.of_year(year)[0]
        shapes.append(line(((x, top - 33), (x, bottom)), "faint"))
    shapes.append(line(((axis.right, top - 33), (axis.right, bottom)), "faint"))
    shapes += [line(((s.left, top), (s.left, bottom)), "fainter") for s in axis.seasons() if s.left > axis.left]
    if axis.window.touches(report.as_of, report.as_of):
        x = axis.x(report.as_of)
        shapes.append(line(((x, top - 49), (x, bottom)), "today"))
    return shapes


def _signs(sheet: Sheet, rows: list[Row], report: Report) -> None:
    severities = {finding.severity for finding in report.findings}
    all_bars = [bar for row in rows for bar, _ in row.bars]
    sheet.signs(
        [
            ("soil framed", "on record", any(not bar.planned for bar in all_bars)),
            ("soil framed dashed", "planned", any(bar.planned for bar in all_bars)),
            ("soil framed dotted", "known by its year alone", any(_by_year(bar) for bar in all_bars)),
            (SILENT, "not on record", any(row.silent for row in rows)),
            (
                "break",
                "a break: free from the first tick, better from the second",
                any(row.breaks for row in rows),
            ),
            ("sighting", "seen there", any(m.mark == "sighting" for row in rows for m in row.moments)),
            ("soil", "new soil", any(m.mark == "soil" for row in rows for m in row.moments)),
            ("breach", "findings: breaks a rule", "breach" in severities),
            ("caution", "findings: works against you", "caution" in severities),
        ]
    )


def _by_year(bar: Bar) -> bool:
    return bar.plantings[0].exact == "year"


def _row_words(row: Row, knowledge: Knowledge) -> str:
    """A bed's row in sentences."""
    told = [words for _, words in row.bars]
    parts = [f"{capital(row.bed.name)}: {'; '.join(told) if told else 'nothing on record in these years'}."]
    if row.silent:
        years = as_list(str(first) if first == last else f"{first} to {last}" for first, last in row.silent)
        parts.append(f"Not on record: {years}.")
    parts += [f"Seen: {m.text}, {as_date(m.day)}." for m in row.moments if m.mark == "sighting"]
    parts += [f"{capital(family_name(one.family, knowledge))}: {one.text}." for one in row.breaks]
    return " ".join(parts)
