"""What a label says: crop, variety, bed, date and the address of the planting's record."""

from __future__ import annotations

from collections.abc import Container
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from rules.knowledge.facts import FALLOW
from service.words import as_date, as_season, capital, tame

if TYPE_CHECKING:
    from rules.model import Plan, Planting


class Label(NamedTuple):
    """One label; ``season`` stands where the plan has no day, ``link`` is "" where there is no record to open."""

    crop: str
    variety: str
    bed: str
    start: date
    season: str | None = None
    link: str = ""

    @property
    def when(self) -> str:
        """ "20 April 2027"; where no day is known "spring 2027" or "2027"."""
        return as_season(self.season).removeprefix("season ") if self.season else as_date(self.start)


def labels_of(
    plan: Plan, *, beds: Container[str] = (), plantings: Container[str] = (), garden_url: str | None = None
) -> list[Label]:
    """The labels of a plan, bed by bed in the plan's order, earliest first.

    Parameters
    ----------
    beds, plantings
        Ids to make labels for.  Without plantings, everything gets one that is planned or stands on
        the plan's day; a planting that is named gets one whatever became of it.
    garden_url
        The page of the garden's record, with its key behind "#" if it shall open without being asked.
    """
    places = {bed.id: place for place, bed in enumerate(plan.beds)}
    names = {bed.id: bed.name for bed in plan.beds}
    chosen = [
        planting
        for planting in plan.plantings
        if (not beds or planting.bed in beds)
        and (planting.id in plantings if plantings else planting.crop.id != FALLOW and _wanted(planting, plan.as_of))
    ]
    chosen.sort(key=lambda one: (places[one.bed], one.start, one.part, one.id))
    return [
        Label(
            crop=tame(capital(one.crop.name)),
            variety=tame((one.variety.name if one.variety else None) or ""),
            bed=tame(names[one.bed]),
            start=one.start,
            season=None if one.exact == "day" else one.season or str(one.start.year),
            link=record_link(garden_url, one.id) if garden_url else "",
        )
        for one in chosen
    ]


def record_link(garden_url: str, planting_id: str) -> str:
    """The page of a planting's record; a key stays behind "#", where no server and no log sees it.

    >>> record_link("https://plots.example/gardens/b2c3#KEY", "kale")
    'https://plots.example/gardens/b2c3/plantings/kale#KEY'
    """
    page, mark, key = garden_url.partition("#")
    return f"{page.rstrip('/')}/plantings/{planting_id}{mark}{key}"


def _wanted(planting: Planting, today: date) -> bool:
    return planting.status in ("planned", "growing") and planting.end >= today
