"""Catch crops: green manures for the gaps that a plan leaves, each kept only if nothing counts against it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from rules.knowledge.facts import Crop
from rules.model import Planting
from rules.planning.propose.judging import Judge
from rules.planning.propose.laying import runs, unused
from rules.planning.propose.plots import Plot
from rules.planning.propose.question import Question
from rules.planning.propose.times import LATE, is_tender, season, slot_days
from rules.reading import assumed_end
from rules.seasons import growing_year

#: A gap shorter than this is left alone; before the next crop ground rests some days (both judgement).
_LEAST_DAYS, _ROTS = 45, timedelta(days=15)
#: For summer and for winter gaps, those outside all rotations first (the choice and its order: judgement).
_SUMMER = ("phacelia", "buckwheat", "oats", "crimson_clover", "white_mustard")
_WINTER = ("cereal_rye", "hairy_vetch", "ryegrass", "crimson_clover")
#: From so long before the first autumn frost until so long after it, what is sown is to stand over winter (judgement).
_BEFORE_FROST, _AFTER_FROST = timedelta(days=45), timedelta(days=14)
_ONE_DAY = timedelta(days=1)


def catch_crops(question: Question, plantings: Sequence[Planting], judge: Judge) -> tuple[Planting, ...]:
    """Green manures for the gaps, after the ordinary check has thrown out what it speaks against."""
    unwanted = {(d.crop.id, d.bed) for d in question.wishes.dislikes}
    taken = {p.id for p in (*question.context.plan.plantings, *plantings)}
    found: list[Planting] = []
    for plot in question.plots:
        here: dict[tuple[str, date, date], list[int]] = {}
        for cell, start, end in _gaps(question, plot, [p for p in plantings if p.bed == plot.bed.id]):
            crop = _chosen(question, plot, start, end, unwanted)
            if crop is not None:
                gone = min(end, assumed_end(crop, start, question.context.plan.garden))
                here.setdefault((crop.id, start, gone), []).append(cell)
        for (name, start, end), cells in here.items():
            for low, high in runs(cells):
                part = plot.cell(low, high)
                crop, free = question.context.knowledge.crops[name], unused(f"{plot.bed.id}.{name}.{start}", taken)
                found.append(Planting(free, plot.bed.id, crop, start, end, part=part, method="sow"))
    both = ("breach", "caution")
    bad = {name for severity in both for names in judge.blamed([*plantings, *found], severity) for name in names}
    return tuple(p for p in found if p.id not in bad)


def _gaps(question: Question, plot: Plot, own: Iterable[Planting]) -> Iterator[tuple[int, date, date]]:
    """The cells and days that nothing fills, from midsummer to spring."""
    own, garden = list(own), question.context.plan.garden
    for n in range(plot.cells):
        low, high = plot.cell(n, n + 1)
        standing = sorted(
            (p.start, p.end) for p in (*plot.past, *own) if p.part[0] < high - 1e-6 and p.part[1] > low + 1e-6
        )
        for year in question.wishes.horizon:
            first = max(slot_days(year, LATE, garden).start, plot.opens)
            last = min(season(year + 1, garden).early - _ROTS, plot.closes)
            day = first
            for start, end in [*standing, (last + _ROTS, last + _ROTS)]:
                until = min(start - _ROTS, last)
                if start > day and (until - day).days >= _LEAST_DAYS:
                    yield n, day, until
                day = max(day, end + _ONE_DAY)
                if day > last:
                    break


def _chosen(
    question: Question, plot: Plot, start: date, end: date, unwanted: set[tuple[str, str | None]]
) -> Crop | None:
    """The first green manure that has time to grow in a gap and whose family may stand there."""
    context, garden = question.context, question.context.plan.garden
    points = season(growing_year(start, garden.latitude), garden)
    winter = start > points.autumn - _BEFORE_FROST
    for name in _WINTER if winter else _SUMMER:
        crop = context.knowledge.crops.get(name)
        if crop is None or {(name, None), (name, plot.bed.id)} & unwanted:
            continue
        if winter and start > points.autumn + _AFTER_FROST:
            continue  # too late for it to cover the ground before winter
        if not winter and (crop.maturity is None or start + timedelta(days=crop.maturity.least) > end):
            continue
        if is_tender(crop, context.knowledge) and not points.spring <= start <= points.autumn:
            continue
        return crop
    return None
