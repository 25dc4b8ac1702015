"""Published rotations as plans: what a proposal for the same wishes is held against.

Each order is the order of groups in one bed; the next bed is one step ahead.  Sources (as in the project's reference
on rotation): ``coleman8`` = E. Coleman, The New Organic Grower, the eight-crop rotation, seen as quoted on two
secondary pages; ``longcroft`` = Longcroft Allotment Association, "Crop rotation", its four-year order.  Which crops
stand for a group, and their days, is our choice.
"""

from datetime import date
from typing import NamedTuple

from invented import CROPS, KNOWLEDGE, bed, garden_of

from rules.model import Planting
from rules.planning.propose import Wish, Wishes
from rules.planning.propose.judging import horizon
from rules.planning.propose.times import timings

FIRST = 2027


class Published(NamedTuple):
    """A rotation: its beds, the order of groups in one bed, and the crops of each group with their share of a bed."""

    name: str
    source: str
    order: tuple[str, ...]
    groups: dict[str, tuple[tuple[str, float], ...]]

    @property
    def beds(self):
        return [f"bed{n}" for n in range(len(self.order))]

    def garden(self):
        """Empty beds in a row."""
        return garden_of(*(bed(name, position=(2.0 * n, 0.0)) for n, name in enumerate(self.beds)))

    def wishes(self, years):
        """All groups on a bed each, every year."""
        wants = [Wish(CROPS[crop], share) for group in self.order for crop, share in self.groups[group]]
        return Wishes(tuple(wants), FIRST, years)

    def plantings(self, years):
        """The rotation as it was published, with the days that we give its crops."""
        plan = self.garden()
        for n, name in enumerate(self.beds):
            for t in range(years):
                low = 0.0
                for crop, share in self.groups[self.order[(n + t) % len(self.order)]]:
                    way = min(timings(CROPS[crop], FIRST + t, plan.garden, KNOWLEDGE), key=lambda w: w.cost)
                    end = min(way.end, date(FIRST + t, 12, 31)) if way.end.year > FIRST + t + 1 else way.end
                    end = min(end, date(FIRST + t + 1, 3, 15))
                    part = (low, low + share)
                    yield Planting(f"{name}.{crop}.{FIRST + t}", name, CROPS[crop], way.start, end, part=part)
                    low += share

    def window(self, years):
        """All days of its years."""
        return horizon(self.wishes(years), self.garden().garden.latitude)


EIGHT = Published(
    "eight beds, eight years",
    "coleman8",
    ("potatoes", "squash", "root crops", "beans", "tomatoes", "peas", "cabbage family", "sweet corn"),
    {
        "potatoes": (("potato", 1.0),),
        "squash": (("winter_squash", 1.0),),
        "root crops": (("carrot", 0.5), ("beet", 0.5)),
        "beans": (("bush_bean", 1.0),),
        "tomatoes": (("tomato", 1.0),),
        "peas": (("pea", 1.0),),
        "cabbage family": (("cabbage", 0.5), ("kale", 0.5)),
        "sweet corn": (("sweet_corn", 1.0),),
    },
)
FOUR = Published(
    "four beds, four years",
    "longcroft",
    ("roots", "potatoes", "legumes", "brassicas"),
    {
        "roots": (("carrot", 0.5), ("parsnip", 0.5)),
        "potatoes": (("potato", 1.0),),
        "legumes": (("pea", 0.5), ("bush_bean", 0.5)),
        "brassicas": (("cabbage", 0.5), ("kale", 0.5)),
    },
)
