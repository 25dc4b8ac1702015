"""When crops usually go into the ground where they are to grow: by frost dates, hardiness and days to harvest.

A grower's rule of thumb, and no more: it knows nothing of this year's weather, of varieties or of covers.  Where a
crop is set at another time than frost alone would have it, ``facts/setting.yaml`` says so.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from rules.knowledge.common import Hardiness
from rules.knowledge.facts import FALLOW, Crop
from rules.knowledge.known import Knowledge
from rules.model import Garden
from rules.seasons import FIRST_YEAR, add_years, first_frost, in_tropics, next_on, season_window

#: Under glass without heating the first day comes so much earlier, and the last so much later (judgement).
_UNDER_GLASS = timedelta(days=28)
#: The latest day to begin picking what has days of its own in ``facts/setting.yaml``, after first frost (judgement).
_PICKED_BY = timedelta(days=28)
#: Crops that can stand over winter and have no days of their own for it are set from the first of these days to the
#: second, counted from the first autumn frost (judgement).
_OVER_WINTER = (timedelta(days=-28), timedelta(days=42))
#: Green manures are sown up to so long before the first autumn frost; they have nothing to ripen (judgement).
_GREEN_BY = timedelta(days=28)
#: Crops that need more days than this are not picked in the season in which they are set.
_ONE_SEASON = 200


class Span(NamedTuple):
    """First and last day on which a crop is usually set.

    ``sure`` is the last day that leaves time for its slow kinds too; None where another time is the commoner one.
    """

    first: date
    last: date
    sure: date | None


class Season:
    """The growing season that a day belongs to, from the last spring frost to the first autumn frost.

    ``frost_known`` is False where either date is not on record and the main season stands in for it
    (April to October in the north, October to April in the south).
    """

    def __init__(self, day: date, garden: Garden) -> None:
        self.day, self.latitude = day, garden.latitude
        self.frost_known = garden.last_spring_frost is not None and garden.first_autumn_frost is not None
        self.frostless = in_tropics(garden.latitude) and not self.frost_known
        self.autumn = first_frost(day, garden.first_autumn_frost, garden.latitude)
        self.autumn_before = add_years(self.autumn, -1)
        if garden.last_spring_frost is not None:
            spring = garden.last_spring_frost.p50
        else:
            begins = season_window(max(day.year, FIRST_YEAR), None, garden.latitude).start
            spring = (begins.month, begins.day)
        self.spring = next_on(self.autumn_before + timedelta(days=1), spring)


def hardiness(crop: Crop, knowledge: Knowledge) -> Hardiness:
    """How much frost a crop stands; for crops without the fact, judged by how long they stand."""
    known, setting = knowledge.facts.common.get(crop.id), knowledge.facts.setting.get(crop.id)
    if known is not None:
        return known.hardiness
    if setting is not None and setting.hardiness is not None:
        return setting.hardiness
    classes = knowledge.facts.hardiness
    if crop.stands == "first_frost":
        return classes["tender"]
    through = crop.stands == "winter_end" or crop.over_winter is not None or crop.lifecycle in ("biennial", "perennial")
    return classes["hardy" if through else "half_hardy"]


def usual_times(
    crop: Crop, day: date, garden: Garden, knowledge: Knowledge, *, glass: bool = False
) -> tuple[Span, ...] | None:
    """The spans of days around a day on which a crop is usually set, by their first day.

    They are widened to thirds of a month (1st, 11th, 21st), which is as exact as the rule of thumb is.

    Parameters
    ----------
    crop
        Of a word for several crops, the times of all of them.
    glass
        Whether it is set in a greenhouse without heating.

    Returns
    -------
    tuple or None
        None where it is not known: no frost dates on record, a perennial (sold in pots all year), or a crop whose
        days to harvest are not on record or more than a season.  Empty where the season is too short for the crop.
    """
    season = Season(day, garden)
    if not season.frost_known:
        return None
    found: set[Span] = set()
    for one in [knowledge.crops[key] for key in crop.members] or [crop]:
        spans = _spans(one, season, knowledge, glass)
        if spans is None:
            return None
        found.update(Span(_third(span.first), _third_end(span.last), span.sure) for span in spans)
    return _merged(sorted(found, key=lambda span: span.first))


def in_time(season: Season, knowledge: Knowledge, *, glass: bool = False) -> Iterator[Crop]:
    """The common crops whose time it is, in the order of the facts; in a greenhouse those that do well there."""
    for crop in (common.crop for common in knowledge.facts.common.values()):
        setting = knowledge.facts.setting.get(crop.id)
        if glass and (setting is None or setting.glass == "no"):
            continue
        spans = _spans(crop, season, knowledge, glass) or ()
        if season.frostless or any(s.sure and s.first <= season.day <= s.sure for s in spans):
            yield crop


def _spans(crop: Crop, season: Season, knowledge: Knowledge, glass: bool) -> list[Span] | None:
    if crop.perennial or crop.maturity is None or crop.id == FALLOW:
        return None
    setting, common = knowledge.facts.setting.get(crop.id), knowledge.facts.common.get(crop.id)
    autumn = (setting and setting.autumn) or (common and common.autumn)
    main = None if setting and setting.autumn and not setting.spring else _main(crop, season, knowledge)
    found = [main] if main is not None else []
    for frost in (season.autumn_before, season.autumn):
        if autumn:
            first, last = (frost + timedelta(days=days) for days in autumn)
            found.append(Span(first, last, last))
        elif crop.over_winter is not None:
            found.append(Span(frost + _OVER_WINTER[0], frost + _OVER_WINTER[1], None))
    if glass:
        found = [Span(s.first - _UNDER_GLASS, s.last + _UNDER_GLASS, s.sure and s.sure + _UNDER_GLASS) for s in found]
    if not found and crop.maturity.least >= _ONE_SEASON:
        return None
    return [span for span in found if span.first <= span.last]


def _main(crop: Crop, season: Season, knowledge: Knowledge) -> Span | None:
    """The days between the frosts; None for what is not picked in the season in which it is set."""
    assert crop.maturity is not None
    setting, hardy = knowledge.facts.setting.get(crop.id), hardiness(crop, knowledge)
    first = season.spring + timedelta(days=hardy.from_last_frost)
    least, most = timedelta(days=crop.maturity.least), timedelta(days=crop.maturity.most)
    picked_by = season.autumn - timedelta(days=hardy.before_first_frost)
    if setting is not None and setting.spring is not None:
        begin, end = (season.spring + timedelta(days=days) for days in setting.spring)
        ripe = timedelta(0) if crop.maturity.least >= _ONE_SEASON or crop.stands == "winter_end" else least
        last = min(end, season.autumn + _PICKED_BY - ripe)
        return Span(max(first, begin), last, last if not ripe else min(last, picked_by - most))
    if crop.maturity.least >= _ONE_SEASON:
        return None
    if crop.kind == "green_manure":
        last = season.autumn - _GREEN_BY - (least if hardy.from_last_frost >= 0 else timedelta(0))
        return Span(first, last, last)
    return Span(first, picked_by - least, picked_by - most)


def _merged(spans: list[Span]) -> tuple[Span, ...]:
    """Spans that touch or overlap made one."""
    found: list[Span] = []
    for span in spans:
        if found and span.first <= found[-1].last + timedelta(days=1):
            found[-1] = found[-1]._replace(last=max(span.last, found[-1].last))
        else:
            found.append(span)
    return tuple(found)


def _third(day: date) -> date:
    """The first day of the third of a month."""
    return day.replace(day=1 if day.day <= 10 else 11 if day.day <= 20 else 21)


def _third_end(day: date) -> date:
    """The last day of the third of a month."""
    return day.replace(day=10 if day.day <= 10 else 20 if day.day <= 20 else monthrange(day.year, day.month)[1])
