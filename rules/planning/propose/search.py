"""The search for one proposal: quick answer, better blocks, proof; laid, judged, solved again at a fault."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rules.model import Planting
from rules.planning.propose.building import CAUTION
from rules.planning.propose.catch import catch_crops
from rules.planning.propose.counting import Count, with_counts
from rules.planning.propose.flow import filled_up, quick
from rules.planning.propose.highs import solve
from rules.planning.propose.improve import Clock, improved, searched
from rules.planning.propose.instance import Instance, Limit
from rules.planning.propose.judging import Judge
from rules.planning.propose.laying import Chunk, Laid, lay
from rules.planning.propose.moving import moved
from rules.planning.propose.proposal import Stopped
from rules.planning.propose.question import Question
from rules.report import Report

#: So often a plan that the check finds fault with is solved again before what is at fault is left out.
_REPAIRS = 4
#: Shares of the time: for musts that the quick answer leaves out, for another try at fewer cautions, for what follows
#: what.
_MUSTS, _AGAIN, _MOVED = 0.2, 0.1, 0.3
#: The flow of a quick answer is worth its time where there are so many seconds for each choice.
_FLOW = 2e-4


@dataclass(frozen=True, eq=False)
class Outcome:
    """A laid and judged solution; ``blamed`` are the plantings that had to be left out for a breach."""

    amounts: tuple[int, ...]
    plantings: tuple[Planting, ...]
    laid: Laid
    report: Report
    cost: float
    bound: float
    stopped: Stopped
    dropped: tuple[Chunk, ...]

    musts: int

    @property
    def cautions(self) -> int:
        """Cautions of the ordinary check."""
        return sum(finding.severity == "caution" for finding in self.report.findings)

    @property
    def points(self) -> int:
        """Points of the ordinary check, of all kinds together."""
        return sum(self.report.score.values())


class Search:
    """One question, searched once; ``instance`` may carry more limits than the question's own."""

    def __init__(
        self,
        question: Question,
        counts: Sequence[Count],
        judge: Judge,
        instance: Instance | None = None,
        clock: Clock | None = None,
    ) -> None:
        self.question, self.counts, self.judge, self.clock = question, counts, judge, clock or Clock()
        self.instance = with_counts(instance or question.instance, counts)
        #: Whether no plan can miss less of the musts than is allowed.
        self._surely = True

    def again(self, instance: Instance) -> Search:
        """The search of another instance of the same question."""
        return Search(self.question, self.counts, self.judge, instance, self.clock)

    def run(self, seconds: float, tell: Callable[[Outcome], None] | None = None) -> Outcome:
        """The best outcome within about some seconds from now; 0 for the quick answer alone."""
        until = self.clock.spent + seconds
        amounts = quick(self.instance, hurried=True)
        best = self.judged(amounts, self.instance.floor, "quick")
        if tell:
            tell(best)
        if not 0 < seconds < _FLOW * len(self.instance.choices):
            better = quick(self.instance)
            if self.instance.rank(better) < self.instance.rank(best.amounts):
                amounts, best = better, self.judged(better, self.instance.floor, "quick")
        if seconds <= 0 or self.clock.spent >= until:
            return best
        tried = [best]

        def found(better: tuple[int, ...], bound: float = self.instance.floor) -> None:
            if (
                tell
                and self.instance.possible(better)
                and self.instance.rank(better) < (tried[-1].musts, tried[-1].cost)
            ):
                tried.append(self.judged(better, bound, "time", repairs=0))
                tell(tried[-1])

        amounts = self._with_musts(amounts, seconds, until)
        found(amounts)
        best = self._proven(amounts, until - seconds * (_AGAIN + _MOVED), found if tell else None)
        best, instance = self._with_fewer_cautions(best, until - seconds * _MOVED)
        return self._with_more_points(best, instance, until)

    def _left(self, until: float) -> float:
        return max(0.0, until - self.clock.spent)

    def _with_musts(self, amounts: tuple[int, ...], seconds: float, until: float) -> tuple[int, ...]:
        """Amounts that miss as little of the musts as can be; from now on none may miss more."""
        least = self.instance.rank(amounts)[0]
        if least:
            solved = solve(self.instance.of_musts(), min(seconds * _MUSTS, self._left(until)), amounts)
            self.clock.took(solved.seconds if solved else seconds * _MUSTS)
            self._surely = solved is not None and solved.proven
            if solved is not None and self.instance.rank(solved.amounts)[0] < least:
                chosen = {c for n in self.instance.musts for c in self.instance.demands[n].choices}
                amounts = filled_up(self.instance, [a if c in chosen else 0 for c, a in enumerate(solved.amounts)])
                least = self.instance.rank(amounts)[0]
        if self.instance.musts:
            self.instance = self.instance.with_musts(least)
        return amounts

    def _proven(
        self, amounts: tuple[int, ...], until: float, found: Callable[[tuple[int, ...], float], None] | None
    ) -> Outcome:
        if until <= self.clock.spent:
            return self.judged(amounts, self.instance.floor, "time")
        solved = searched(self.instance, amounts, self.clock, until, found)
        bound = solved.bound if self._surely else self.instance.floor
        return self.judged(solved.amounts, bound, "optimal" if solved.proven and self._surely else "time")

    def _with_fewer_cautions(self, best: Outcome, until: float) -> tuple[Outcome, Instance]:
        """Another solution where cautions that the first stage does not know of cost something, if that is better.

        With it comes the instance in which they do.
        """
        costly = self._presences(best.laid, self.judge.blamed(best.plantings, "caution"))
        new = {n for n in costly if self.instance.presences[n].cost < CAUTION}
        dearer = tuple(
            p._replace(cost=p.cost + CAUTION) if n in new else p for n, p in enumerate(self.instance.presences)
        )
        instance = replace(self.instance, presences=dearer)
        if not new or self.clock.spent >= until:
            return best, instance
        other = self.judged(improved(instance, best.amounts, self.clock, until), best.bound, best.stopped)
        return (other if self._keeps(other, best) and other.cautions < best.cautions else best), instance

    def _with_more_points(self, best: Outcome, instance: Instance, until: float) -> Outcome:
        """A solution no dearer in which crops follow and stand beside each other better, if the check agrees."""
        kept = [best.laid.of[p.id] for p in best.plantings if p.id in best.laid.of]
        laid = moved(self.question, instance, kept, self.clock, until)
        other = self._outcome(laid, best.bound, best.stopped, best.dropped)
        better = (other.cautions, -other.points) < (best.cautions, -best.points)
        return other if self._keeps(other, best) and other.cost <= best.cost and better else best

    def _keeps(self, other: Outcome, best: Outcome) -> bool:
        """Whether an outcome places as much as another."""
        short = [sum(self.instance.short(one.amounts)) for one in (other, best)]
        return other.musts <= best.musts and short[0] <= short[1]

    # -- from amounts to an outcome

    def judged(self, amounts: tuple[int, ...], bound: float, stopped: Stopped, repairs: int = _REPAIRS) -> Outcome:
        """Amounts laid and judged; what brings about a breach is forbidden and at last left out."""
        instance, laid = self.instance, lay(self.question, amounts)
        faults = self.judge.blamed(laid.plantings)
        for _ in range(repairs):
            if not faults:
                break
            owned = [tuple(sorted(self._presences(laid, [names]))) for names in faults]
            instance = instance.with_limits([Limit(own, len(own) - 1) for own in owned if own])
            amounts = self._within(instance, amounts)
            laid = lay(self.question, amounts)
            faults = self.judge.blamed(laid.plantings)
        return self._outcome(laid, bound, stopped)

    def _outcome(self, laid: Laid, bound: float, stopped: Stopped, gone: Sequence[Chunk] = ()) -> Outcome:
        """What was laid, less what brings about a breach; ``gone`` was left out before."""
        dropped, plantings = [*gone, *laid.left], laid.plantings
        while faults := self.judge.blamed(plantings):
            out = {max(names) for names in faults}
            dropped += [laid.of[name] for name in out]
            plantings = tuple(p for p in plantings if p.id not in out)
        kept = {p.id for p in plantings}
        amounts = [0] * len(self.instance.choices)
        for name, chunk in laid.of.items():
            if name in kept:
                amounts[chunk.stand] += chunk.size
        if self.question.wishes.catch_crops:
            plantings = (*plantings, *catch_crops(self.question, plantings, self.judge))
        report = self.judge.report(plantings)
        cost = self.instance.cost(amounts)
        proven: Stopped = "time" if stopped == "optimal" and cost - bound >= 1.0 else stopped
        return Outcome(
            tuple(amounts),
            plantings,
            laid,
            report,
            cost,
            min(cost, max(bound, self.instance.floor)),
            proven,
            tuple(dropped),
            self.instance.rank(amounts)[0],
        )

    def _within(self, instance: Instance, amounts: tuple[int, ...]) -> tuple[int, ...]:
        """Amounts that keep to further limits: what breaks them is taken out, and the year filled up again."""
        return min(quick(instance), filled_up(instance, amounts), key=instance.rank)

    def _presences(self, laid: Laid, faults: Sequence[frozenset[str]]) -> set[int]:
        return {n for names in faults for name in names if (n := self._presence(laid, name)) is not None}

    def _presence(self, laid: Laid, name: str) -> int | None:
        """The family's presence under a planting."""
        chunk = laid.of.get(name)
        if chunk is None:
            return None
        family = self.question.lots[self.question.stands[chunk.stand].lot].family
        holds = self.instance.holds_of[chunk.stand]
        return next(
            (h.presence for h in holds if self.instance.presences[h.presence].key.rpartition(" ")[0] == family), None
        )
