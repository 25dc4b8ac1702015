"""Which common crops' time it is: by frost dates, how much frost a crop stands, and its days to harvest.

A grower's rule of thumb, and no more: it knows nothing of this year's weather, of varieties or of covers.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from rules.knowledge.common import Common
from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.model import Garden
from rules.seasons import FIRST_YEAR, add_years, first_frost, in_tropics, next_on, season_window


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

    def suits(self, common: Common) -> bool:
        """True where a crop set on the day comes after the frost that it fears and is picked before the next."""
        maturity = common.crop.maturity
        if common.autumn is not None:
            first, last = (timedelta(days=days) for days in common.autumn)
            if any(frost + first <= self.day <= frost + last for frost in (self.autumn_before, self.autumn)):
                return True
        if maturity is None:
            return False
        if self.frostless:
            return True
        first_day = self.spring + timedelta(days=common.hardiness.from_last_frost)
        last_day = self.autumn - timedelta(days=maturity.most + common.hardiness.before_first_frost)
        return first_day <= self.day <= last_day


def in_time(season: Season, knowledge: Knowledge) -> Iterator[Crop]:
    """The common crops whose time it is, in the order of the facts."""
    return (common.crop for common in knowledge.facts.common.values() if season.suits(common))
