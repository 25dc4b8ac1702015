"""Keys: what must keep a break in a plot. Families, hosts of a disease that was seen, groups that share one unseen."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date
from typing import Any, NamedTuple

from rules.checks.context import Context
from rules.checks.cross_break import belongs
from rules.checks.exposures import is_hosted
from rules.knowledge.facts import Crop, Disease
from rules.planning.propose.lots import Lot
from rules.planning.propose.plots import Plot
from rules.planning.propose.stands import Break, Past, Rests, of_disease
from rules.planning.propose.times import LAST_DAY

#: Points for each further place that a family is spread over: relatives are best kept together (judgement).
SPREAD = 2.0
Means = Callable[[Crop], bool]


class Crossing(NamedTuple):
    """The key of the other group that shares a lasting disease, and the crops that it means."""

    other: str
    means: Means


class Key(NamedTuple):
    """A family, a disease that was seen, or one of two groups that share one; ``lots`` are those meant here.

    ``cost`` is paid for each place and year where it stands.
    """

    rest: Break
    means: Means
    lots: frozenset[int]
    cost: float = 0.0
    disease: str | None = None
    crossing: Crossing | None = None


class Keys:
    """The keys of each plot of a garden; ``less_rest`` takes years off families' breaks."""

    def __init__(self, context: Context, lots: Sequence[Lot], rests: Rests, less_rest: Mapping[str, int]) -> None:
        self.context, self.lots, self.less_rest = context, lots, less_rest
        self.past = Past(context, rests)

    def of(self, plot: Plot, lots: Collection[int]) -> dict[str, Key]:
        """The keys that some lots fall under in a plot."""
        keys: dict[str, Key] = {}
        for family in dict.fromkeys(self.lots[n].family for n in sorted(lots) if self.lots[n].family):
            interval, less = self.context.interval(family), self.less_rest.get(family, 0)
            rest = Break(*(max(0, years - less) for years in interval)) if interval else Break(0, 0)
            means = _of_family(family)
            keys[family] = Key(rest, means, self._meant(means, lots), SPREAD)
        for disease in self.past.sighted(plot):
            means = _hosts_of(disease)
            keys[disease.id] = Key(of_disease(disease), means, self._meant(means, lots), disease=disease.id)
        seen = self.context.grounds[plot.bed.id].sightings
        for rule in self.context.knowledge.by_kind.get("cross-break", ()):
            if rule.options["disease"] not in seen:
                for side, other in (("one", "other"), ("other", "one")):
                    means = _of_side(rule.options[side])
                    crossing = Crossing(f"{rule.id} {other}", _of_side(rule.options[other]))
                    rest = _between(rule.options)
                    keys[f"{rule.id} {side}"] = Key(rest, means, self._meant(means, lots), crossing=crossing)
        return {name: key for name, key in keys.items() if key.lots}

    def kept(self, plot: Plot, key: Key, start: date, end: date, years: int) -> bool:
        """Whether so many years lie between what a plot's past holds of a key and a stand from start to end."""
        if key.disease is not None:
            return self.past.clear(plot, self.context.knowledge.diseases[key.disease], start, end, years)
        means = key.means if key.crossing is None else key.crossing.means
        hosts = [p for p in plot.hosts_before(LAST_DAY) if means(p.crop)]
        return self.past.kept(hosts, start, end, years, same=key.crossing is None)

    def _meant(self, means: Means, lots: Collection[int]) -> frozenset[int]:
        return frozenset(n for n in lots if any(map(means, self.lots[n].crops.values())))


def _of_family(family: str) -> Means:
    return lambda crop: crop.family == family


def _hosts_of(disease: Disease) -> Means:
    return lambda crop: is_hosted(crop, disease)


def _of_side(side: dict[str, list[str]]) -> Means:
    return lambda crop: belongs(crop, side)


def _between(options: Mapping[str, Any]) -> Break:
    """Two rules stand for one pair: the grave one sees to the least break, the other to the better."""
    return Break(options["least"], 0) if options["below"] == "least" else Break(0, options["better"])
