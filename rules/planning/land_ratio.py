"""Land equivalent ratio: how much ground the same yields would take if each crop stood alone.

Sources: Mead and Willey 1980, Experimental Agriculture 16:217-228 (abstract read), for the concept and
its name; the formula as Wikipedia quotes it from FAO.  Crops that stand for different times make the
ratio flatter the mixture: Odulaja, Tropical Agriculture 73(3) (abstract read).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import fsum, isfinite

#: Rounding in the last places is no reason for doubt or refusal.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class LandRatio:
    """A land equivalent ratio; all figures are plain ratios without a unit.

    ``total`` above 1 means that the mixture made better use of its ground than the sole crops.
    ``partial`` holds each crop's own ratio, which add up to the total: a good total says
    nothing about which crop paid for it.  ``reason`` is given where the total is doubtful.
    """

    total: float
    partial: Mapping[str, float]
    reason: str | None = None

    @property
    def doubtful(self) -> bool:
        """True where the total is above the number of crops."""
        return self.reason is not None


def land_equivalent_ratio(
    yields: Mapping[str, tuple[float, float]], share: Mapping[str, float] | None = None
) -> LandRatio:
    """The sum, over the crops of a mixture, of the yield in the mixture divided by the yield alone.

    ``yields`` holds (in the mixture, alone) by crop, both in one unit of weight or number for a
    unit of the whole bed's ground.  For yields per row, per plant or per own area, ``share``
    holds each crop's share of the mixture's ground (above 0, together at most 1), by which its
    yield in the mixture is multiplied.  One crop of a mixture gives its partial ratio alone.

    A total above the number of crops is doubtful: on average each crop would have to beat its
    own sole crop.  Published values somewhat above it exist (``anais_da2011``, ``hata2019``), so
    it is told, not refused.  Time on the ground is not weighed.

    Raises ValueError where there are no yields, where a sole yield is not above 0, a yield in
    the mixture is below 0, either is not finite, or the shares do not fit the crops.

    >>> land_equivalent_ratio({"grain": (4000, 5000), "fruit": (9000, 15000)}).total
    1.4
    """
    if not yields:
        raise ValueError("no yields: give at least one crop with its yields in the mixture and alone")
    if share is not None:
        _check_shares(share, yields)
    partial = {}
    for crop, (mixed, alone) in yields.items():
        _check_yields(crop, mixed, alone)
        partial[crop] = mixed / alone * (1 if share is None else share[crop])
    total = fsum(partial.values())
    if not isfinite(total):
        raise ValueError("the yields in the mixture and alone are too far apart to be divided")
    return LandRatio(total, partial, _doubt(total, len(partial)))


def _check_yields(crop: str, mixed: float, alone: float) -> None:
    if not isfinite(alone) or alone <= 0:
        raise ValueError(f"{crop}: the yield alone must be a number above 0, not {alone}")
    if not isfinite(mixed) or mixed < 0:
        raise ValueError(f"{crop}: the yield in the mixture must be a number, 0 or more, not {mixed}")


def _check_shares(share: Mapping[str, float], yields: Mapping[str, object]) -> None:
    if share.keys() != yields.keys():
        odd = ", ".join(sorted(share.keys() ^ yields.keys()))
        raise ValueError(f"shares of ground and yields must name the same crops; only in one of them: {odd}")
    for crop, part in share.items():
        if not 0 < part <= 1:
            raise ValueError(f"{crop}: the share of ground must be above 0 and at most 1, not {part}")
    if fsum(share.values()) > 1 + _ROUNDING:
        raise ValueError(f"the shares of ground add up to {fsum(share.values()):g}, more than the whole bed")


def _doubt(total: float, crops: int) -> str | None:
    if total <= crops * (1 + _ROUNDING):
        return None
    if crops == 1:
        return (
            f"{total:.2f} is above 1: the crop would have yielded more in the mixture than on the whole ground alone. "
            "Check that both yields are for the same area."
        )
    return (
        f"{total:.2f} is above {crops}, the number of crops: on average each would have yielded more in the mixture "
        "than on the whole ground alone. Such values are rare; check that all yields are per unit of the whole bed's "
        "ground, or give the shares of ground."
    )
