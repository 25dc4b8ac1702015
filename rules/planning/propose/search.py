"""The search for one proposal: quick answer, better blocks, proof; laid, judged, solved again at a fault."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rules.model import Planting
from rules.planning.propose.building import CAUTION
from rules.planning.propose.catch import catch_crops
from rules.planning.propose.counting import Count, with_counts
from rules.planning.propose.flow import Filling, quick
from rules.planning.propose.highs import solve
from rules.planning.propose.improve import followed, improved
from rules.planning.propose.instance import Instance, Limit
from rules.planning.propose.judging import Judge
from rules.planning.propose.laying import Chunk, Laid, lay
from rules.planning.propose.proposal import Stopped
from rules.planning.propose.question import Question
from rules.report import Report

#: So often a plan that the check finds fault with is solved again before what is at fault is left out.
_REPAIRS = 4
#: Shares of the time: for blocks where the quick answer leaves something out, for another try at fewer cautions, for
#: what follows what.
_BLOCKS, _AGAIN, _FOLLOWED = 0.4, 0.3, 0.1


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
    seconds: float

    @property
    def rank(self) -> tuple[float, int, int]:
        """What is compared, lower being better: what is missing or pinches, then cautions, then points."""
        return self.cost, _cautions(self.report), -sum(self.report.score.values())


class Search:
    """One question, searched once; ``instance`` may carry more limits than the question's own."""

    def __init__(
        self, question: Question, counts: Sequence[Count], judge: Judge, instance: Instance | None = None
    ) -> None:
        self.question, self.judge = question, judge
        self.rich = with_counts(instance or question.instance, counts)
        #: What is proven: without the bonuses for what follows what, which are sought afterwards.
        self.instance = replace(self.rich, bonuses=())

    def run(self, seconds: float, tell: Callable[[Outcome], None] | None = None) -> Outcome:
        """The best outcome within about some seconds of solving; 0 for the quick answer alone."""
        amounts = quick(self.instance)
        best = self.judged(amounts, self.instance.floor, "quick", 0.0)
        if tell:
            tell(best)
        if seconds <= 0:
            return best
        used, tried = 0.0, [best]

        def found(better: tuple[int, ...], bound: float = self.instance.floor) -> None:
            if tell and self.instance.possible(better) and self.instance.cost(better) < tried[-1].cost:
                tried.append(self.judged(better, bound, "time", used, repairs=0))
                tell(tried[-1])

        if any(self.instance.short(amounts)):
            amounts, took = improved(self.instance, amounts, seconds * _BLOCKS, found)
            used += took
        best = self._proven(amounts, seconds * (1.0 - _FOLLOWED) - used, used, found)
        return self._with_fewer_cautions(self._with_more_points(best, seconds), seconds)

    def _proven(
        self, amounts: tuple[int, ...], seconds: float, used: float, found: Callable[[tuple[int, ...], float], None]
    ) -> Outcome:
        solved = solve(self.instance, seconds, amounts, found=found)
        if solved is None:
            return self.judged(amounts, self.instance.floor, "time", used + seconds)
        stopped: Stopped = "optimal" if solved.proven else "time"
        return self.judged(solved.amounts, solved.bound, stopped, used + solved.seconds)

    def _with_more_points(self, best: Outcome, seconds: float) -> Outcome:
        """A solution of the same cost in which families follow each other better, if the check agrees."""
        left = max(0.0, min(seconds - best.seconds, 2 * seconds * _FOLLOWED))
        amounts, took = followed(self.rich, best.amounts, left)
        if amounts == best.amounts:
            return best
        other = self.judged(amounts, best.bound, best.stopped, best.seconds + took)
        return other if other.rank < best.rank else best

    def _with_fewer_cautions(self, best: Outcome, seconds: float) -> Outcome:
        """Another solution where cautions that the first stage does not know of cost something, if that is better."""
        left = min(seconds - best.seconds, seconds * _AGAIN)
        costly = self._presences(best.laid, self.judge.blamed(best.plantings, "caution"))
        known = {n for n in costly if self.instance.presences[n].cost >= CAUTION}
        if left <= 0.1 or not costly - known:
            return best
        dearer = [
            p._replace(cost=p.cost + CAUTION) if n in costly - known else p
            for n, p in enumerate(self.instance.presences)
        ]
        solved = solve(replace(self.instance, presences=tuple(dearer)), left, best.amounts)
        if solved is None:
            return best
        other = self.judged(solved.amounts, best.bound, best.stopped, best.seconds + solved.seconds)
        same = sum(self.instance.short(other.amounts)) <= sum(self.instance.short(best.amounts))
        return other if same and _cautions(other.report) < _cautions(best.report) else best

    # -- from amounts to an outcome

    def judged(
        self, amounts: tuple[int, ...], bound: float, stopped: Stopped, seconds: float, repairs: int = _REPAIRS
    ) -> Outcome:
        """Amounts laid and judged; what brings about a breach is forbidden and at last left out."""
        instance, laid = self.instance, lay(self.question, amounts)
        faults = self.judge.blamed(laid.plantings)
        for _ in range(repairs):
            if not faults:
                break
            limits = [Limit(tuple(self._own(laid, names)), len(names) - 1) for names in faults]
            instance = instance.with_limits([limit for limit in limits if limit.presences])
            amounts = self._within(instance, amounts)
            laid = lay(self.question, amounts)
            faults = self.judge.blamed(laid.plantings)
        dropped, plantings = list(laid.left), laid.plantings
        while faults:
            out = {max(names) for names in faults}
            dropped += [laid.of[name] for name in out]
            plantings = tuple(p for p in plantings if p.id not in out)
            faults = self.judge.blamed(plantings)
        amounts = _without(amounts, dropped)
        if self.question.wishes.catch_crops:
            plantings = (*plantings, *catch_crops(self.question, plantings, self.judge))
        report = self.judge.report(plantings)
        cost = self.instance.cost(amounts)
        proven: Stopped = "time" if stopped == "optimal" and cost - bound >= 1.0 else stopped
        return Outcome(
            amounts,
            plantings,
            laid,
            report,
            cost,
            min(cost, max(bound, self.instance.floor)),
            proven,
            tuple(dropped),
            seconds,
        )

    def _within(self, instance: Instance, amounts: tuple[int, ...]) -> tuple[int, ...]:
        """Amounts that keep to further limits: what breaks them is taken out, and the year filled up again."""
        again = quick(instance)
        kept = _kept(instance, amounts)
        return min(again, kept, key=instance.cost)

    def _own(self, laid: Laid, names: frozenset[str]) -> list[int]:
        return [n for name in sorted(names) if (n := self._presence(laid, name)) is not None]

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


def _kept(instance: Instance, amounts: tuple[int, ...]) -> tuple[int, ...]:
    """What of some amounts keeps to an instance, filled up again."""
    filling = Filling(instance, amounts)
    filling.top_up(range(len(instance.demands)))
    return tuple(filling.amounts)


def _without(amounts: tuple[int, ...], chunks: Sequence[Chunk]) -> tuple[int, ...]:
    left = list(amounts)
    for chunk in chunks:
        left[chunk.stand] = max(0, left[chunk.stand] - chunk.size)
    return tuple(left)


def _cautions(report: Report) -> int:
    return sum(finding.severity == "caution" for finding in report.findings)
