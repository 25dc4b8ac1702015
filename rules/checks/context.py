"""What the checks look at: the ground under each bed through time, worked out once a plan."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, timedelta
from functools import cached_property
from typing import Any, Literal, NamedTuple, TypeVar

import networkx as nx

from rules.checks.exposures import Exposure, exposures
from rules.checks.grounds import Ground, build_grounds
from rules.checks.neighbours import Neighbours
from rules.graphs.stays import Stay, linked, segments, stays
from rules.knowledge.known import Knowledge
from rules.knowledge.ruleset import Rule
from rules.model import Bed, Plan, Planting, Treatment
from rules.report import Evidence
from rules.seasons import year_reader

#: A crop set in the half year before the judged window belongs to it when it stands into it.
_HALF_YEAR_DAYS = 184
#: In English whatever the locale, and without the cost of ``strftime``.
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_Made = TypeVar("_Made")
Told = Literal["all", "window", "none"]


class Hit(NamedTuple):
    """What a check found; the runner adds the rule's name, severity and words.

    ``words`` fill the rule's templates, ``because`` is the evidence, ``wait_until`` the day
    from which the same planting would be right in the same ground.  ``unmet`` are conditions,
    each completing "only if ...", without which a help cannot be counted on: such a hit is told
    as advice without points.  ``put_off`` are the days by which the plantings would have to start
    later where days and not years are to be waited for: the rule's own words then say what to do.
    ``moving_helps`` is False where the fault lies not in place or time; ``route`` names the pests
    whose routes the plantings of the hit have to cut.
    """

    beds: tuple[str, ...]
    plantings: tuple[Planting, ...]
    words: Mapping[str, str]
    because: Mapping[str, Evidence]
    in_window: bool = True
    wait_until: date | None = None
    family: str | None = None
    disease: str | None = None
    contested_by: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    unmet: tuple[str, ...] = ()
    moving_helps: bool = True
    route: tuple[str, ...] = ()
    put_off: int | None = None


class Return(NamedTuple):
    """A family (or disease host) that comes back: the earlier and the later stay."""

    earlier: Stay
    later: Stay


class Context:
    """A plan with its grounds, ready for the checks.

    ``told`` says which hits are put into words: all, those of the judged window, or none, where
    a changed plan is only tried.
    """

    def __init__(self, plan: Plan, knowledge: Knowledge, *, told: Told = "all") -> None:
        self.plan, self.knowledge, self._told = plan, knowledge, told
        self.latitude = plan.garden.latitude
        #: The growing year that a day belongs to.
        self.year_of = year_reader(self.latitude)
        #: The pests of the garden's country.
        self.local = knowledge.countries.pests_of(plan.garden.country)
        self.beds: dict[str, Bed] = {bed.id: bed for bed in plan.beds}
        self.rank = bed_ranks(plan.beds)
        #: What is set before this day does not belong to the judged window, even if it stands into it.
        self._since = plan.judge.start - timedelta(days=_HALF_YEAR_DAYS)
        self._intervals: dict[str, tuple[int, int] | None] = {}
        self._hits: dict[str, list[Hit]] = {}
        self._made: dict[Callable[[Context], object], Any] = {}

    def once(self, make: Callable[[Context], _Made]) -> _Made:
        """What a function makes of this context, made when it is first asked for."""
        if make not in self._made:
            self._made[make] = make(self)
        made: _Made = self._made[make]
        return made

    def hits(self, check: Callable[[Context, Rule], Iterator[Hit]], rule: Rule) -> list[Hit]:
        """What a check finds by a rule, worked out when it is first asked for: some checks ask what others say."""
        found = self._hits.get(rule.id)
        if found is None:
            found = self._hits[rule.id] = list(check(self, rule))
        return found

    # -- words and dates

    def bed_name(self, bed: str) -> str:
        """A bed as it stands in a sentence."""
        name = self.beds[bed].name
        return name if name != bed else f"bed {bed}"

    def interval(self, family: str) -> tuple[int, int] | None:
        """Host-free years (least, better) for a family in this garden; None outside the rotation."""
        if family in self._intervals:
            return self._intervals[family]
        known = self.knowledge.family(family)
        found = None if known.least is None or known.better is None else (known.least, known.better)
        if found is not None and self.plan.garden.rotation == "short":
            found = min(found[0], 1), min(found[1], 2)
        self._intervals[family] = found
        return found

    def in_window(self, start: date, end: date) -> bool:
        """True for what belongs to the judged window: set in it, or in the half year before and standing into it."""
        window = self.plan.judge
        return self._since <= start <= window.end and end >= window.start

    def is_told(self, in_window: bool) -> bool:
        """Whether a hit is put into words; else the plantings that it names are all that is asked for."""
        return self._told == "all" or (in_window and self._told == "window")

    # -- grounds

    @cached_property
    def own(self) -> dict[str, list[Planting]]:
        """Each bed's own plantings, sorted by start."""
        own: dict[str, list[Planting]] = {bed: [] for bed in self.beds}
        for planting in self.plan.plantings:
            own[planting.bed].append(planting)
        return own

    @cached_property
    def grounds(self) -> dict[str, Ground]:
        """The ground under each bed."""
        return build_grounds(self.plan, self.knowledge.diseases, self.own)

    @cached_property
    def judged(self) -> list[Planting]:
        """The plantings that belong to the judged window, sorted by start."""
        since, window = self._since, self.plan.judge  # ``in_window`` without a call for every row
        return [p for p in self.plan.plantings if since <= p.start <= window.end and p.end >= window.start]

    @cached_property
    def judged_ids(self) -> frozenset[str]:
        """The same by id."""
        return frozenset(p.id for p in self.judged)

    @cached_property
    def exposures(self) -> list[Exposure]:
        """Hosts that come back to ground where their disease was seen."""
        diseases = self.knowledge.diseases
        return [found for ground in self.grounds.values() if ground.sightings for found in exposures(ground, diseases)]

    @cached_property
    def neighbours(self) -> Neighbours:
        """Which plantings stand together, and how near."""
        return Neighbours(self)

    @cached_property
    def treatments(self) -> dict[str, list[Treatment]]:
        """Treatments on record or planned, by bed."""
        done: dict[str, list[Treatment]] = {}
        for treatment in self.plan.treatments:
            done.setdefault(treatment.bed, []).append(treatment)
        return done

    @cached_property
    def plantings(self) -> dict[str, Planting]:
        """Plantings by id."""
        return {p.id: p for p in self.plan.plantings}

    # -- returns of families

    @cached_property
    def stays(self) -> list[list[Stay]]:
        """The stays of each family that stood more than once in a ground, those of one stretch of ground together."""
        runs: list[list[Stay]] = []
        for bed, ground in self.grounds.items():
            for family, hosts in ground.hosts.items():
                if len(hosts) > 1 and self.interval(family) is not None:
                    runs += [stays(bed, family, here) for here in segments(hosts)]
        return runs

    @cached_property
    def successors(self) -> nx.DiGraph[Stay]:
        """Which stay follows which."""
        return linked(self.stays)

    @property
    def returns(self) -> list[Return]:
        """Each family's return to a ground, once, with the host that ended last before it."""
        return self._following["break"]

    @property
    def besides(self) -> list[Return]:
        """Each annual set where a perennial of its family still stood."""
        return self._following["beside"]

    @cached_property
    def _following(self) -> dict[str, list[Return]]:
        worst: dict[tuple[str, str, str, str], Return] = {}
        edges: Iterable[tuple[Stay, Stay, str]] = self.successors.edges(data="kind")
        for earlier, later, kind in edges:
            key = (kind, later.bed, later.key, later.plantings[0].id)
            known = worst.get(key)
            if known is None or earlier.end > known.earlier.end:
                worst[key] = Return(earlier, later)
        found: dict[str, list[Return]] = {"break": [], "beside": []}
        for (kind, *_), back in worst.items():
            found[kind].append(back)
        return found


def bed_ranks(beds: tuple[Bed, ...]) -> dict[str, int]:
    """The order beds are told in: by position where all have one, else as listed."""
    placed = [(bed.position, i) for i, bed in enumerate(beds)]
    if all(position is not None for position, _ in placed):
        order = sorted(range(len(beds)), key=lambda i: (*reversed(beds[i].position or (0, 0)), beds[i].id))
        return {beds[i].id: rank for rank, i in enumerate(order)}
    return {bed.id: i for i, bed in enumerate(beds)}


def month_year(day: date) -> str:
    """A day as "October 2025"."""
    return f"{MONTHS[day.month - 1]} {day.year}"


def names_of(plantings: tuple[Planting, ...]) -> str:
    """The crops of some plantings as they stand in a sentence, each once."""
    names = list(dict.fromkeys(p.crop.plural for p in plantings))
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


def sentence(text: str) -> str:
    """A text with its first letter raised."""
    return text[:1].upper() + text[1:]
