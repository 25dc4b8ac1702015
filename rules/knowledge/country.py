"""The pests of one country, and what they feed on: tables made once for each set of pests."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar, cast

from rules.knowledge.facts import Crop, Pest

_Made = TypeVar("_Made")


def hosted_by(crop: Crop, pest: Pest) -> bool:
    """True when a pest feeds on a crop for certain; a grower's own crop goes by its family."""
    return crop.id in pest.hosts or (crop.kind == "own" and crop.family in pest.host_families)


class LocalPests:
    """The pests that live in a country, in the order of the facts."""

    def __init__(self, pests: tuple[Pest, ...]) -> None:
        self.pests = pests
        #: The pests that feed on a crop or group word for certain, by its id.
        self.by_crop: dict[str, tuple[Pest, ...]] = {}
        for pest in pests:
            for crop in pest.hosts:
                self.by_crop[crop] = (*self.by_crop.get(crop, ()), pest)
        self._made: dict[Hashable, object] = {}

    def feeding(self, crop: Crop) -> tuple[Pest, ...]:
        """The pests that feed on a crop; on a grower's own also those that feed on its family."""
        if crop.kind == "own":
            return tuple(pest for pest in self.pests if hosted_by(crop, pest))
        return self.by_crop.get(crop.id, ())

    def once(self, name: Hashable, make: Callable[[], _Made]) -> _Made:
        """What is made of these pests for a rule or a check, made when it is first asked for."""
        if name not in self._made:
            self._made[name] = make()
        return cast(_Made, self._made[name])


class Countries:
    """The pests of every country; countries with the same pests share their tables."""

    def __init__(self, pests: Iterable[Pest]) -> None:
        self._pests = tuple(pests)
        self._by_code: dict[str | None, LocalPests] = {}
        self._by_pests: dict[tuple[str, ...], LocalPests] = {}

    def pests_of(self, country: str | None) -> LocalPests:
        """The pests that may be met in a country (ISO 3166-1 or -2); all where it is not known."""
        code = None if country is None else country.partition("-")[0].upper()
        known = self._by_code.get(code)
        if known is None:
            here = tuple(pest for pest in self._pests if pest.lives_in(code))
            known = self._by_pests.setdefault(tuple(pest.id for pest in here), LocalPests(here))
            self._by_code[code] = known
        return known
