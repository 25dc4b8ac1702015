"""Builds pests and controls from their entries, and holds what they name against what is known."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

from rules.knowledge.factreader import FactReader
from rules.knowledge.facts import Caution, Control, Crop, Family, Pest
from rules.knowledge.pestshapes import REGIONS

_COUNTRY = re.compile(r"[A-Z]{2}\Z")
#: Values of a pest or control that carry their sources under ``src``.
PEST_VALUES = (
    "name", "scientific", "overwinters", "emerges_from_bed", "emerges_same_season", "mobility", "season",
    "susceptible_stage", "max_mesh_mm", "rotation_helps", "carries", "notes",
)  # fmt: skip
CONTROL_VALUES = ("name", "when", "how", "acts", "reapply", "before_harvest", "conditions", "mind")


class PestReader:
    """Builds pests and controls over one catalogue of crops."""

    def __init__(
        self,
        reader: FactReader,
        crops: Mapping[str, Crop],
        groups: Mapping[str, Crop],
        families: Mapping[str, Family],
        cautions: Mapping[str, Caution],
    ) -> None:
        self._reader = reader
        self._crops, self._groups, self._families, self._cautions = crops, groups, families, cautions

    def pest(self, i: str, v: dict[str, Any]) -> Pest:
        """A pest from its entry, its hosts worked out over crops and groups."""
        reader, hosts_of, bridges = self._reader, v["hosts"], v.get("bridge_plants", {})
        families = reader.known(hosts_of.get("families", ()), self._families, i, "family", "hosts", "families")
        hosts = self._members(families) - self._named(hosts_of, i, "hosts", "except")
        hosts |= self._named(hosts_of, i, "hosts", "crops")
        if not hosts:
            reader.fault(i, ("hosts",), "no crop of the catalogue is a host")
        preferred = self._named(hosts_of, i, "hosts", "preferred")
        for crop in sorted(preferred - hosts):
            reader.fault(i, ("hosts", "preferred"), f"{crop!r} is preferred but not among the hosts")
        spared_of = v.get("non_hosts", {})
        spared = self._named(spared_of, i, "non_hosts", "crops") | self._members(
            reader.known(spared_of.get("families", ()), self._families, i, "family", "non_hosts", "families")
        )
        for crop in sorted(spared & hosts):
            reader.fault(i, ("non_hosts",), f"{crop!r} is both a host and not a host")
        mesh = v.get("max_mesh_mm")
        if mesh is not None and not 0 < mesh <= 100:
            reader.fault(i, ("max_mesh_mm",), "a width in millimetres (above 0, at most 100) is needed")
        srcs = self._srcs(i, v, PEST_VALUES, ("preferred",) if preferred else ())
        for part in ("hosts", "non_hosts", "bridge_plants", "regions"):
            if part in v:
                srcs[part] = reader.src(v[part]["src"], i, part, "src")
        places = v.get("regions", {})
        reader.known(v.get("cautions", ()), self._cautions, i, "caution", "cautions")
        return Pest(
            i,
            v["name"],
            tuple(v.get("aliases", ())),
            v.get("scientific"),
            v["group"],
            families,
            frozenset(hosts | {g.id for g in self._groups.values() if g.members and hosts.issuperset(g.members)}),
            frozenset(
                g.id
                for g in self._groups.values()
                if not hosts.isdisjoint(g.members) and not hosts.issuperset(g.members)
            ),
            frozenset(preferred),
            hosts_of.get("wide", False),
            frozenset(spared),
            frozenset(self._named(bridges, i, "bridge_plants", "crops")),
            tuple(bridges.get("plants", ())),
            v["overwinters"],
            v["emerges_from_bed"],
            v.get("emerges_same_season"),
            v["mobility"],
            v["season"],
            v["susceptible_stage"],
            mesh,
            v["rotation_helps"],
            v.get("carries"),
            tuple(places.get("in", ())),
            tuple(places.get("absent_from", ())),
            places.get("text"),
            self._countries(i, places, "in"),
            self._countries(i, places, "absent_from"),
            v.get("notes", {}),
            tuple(v.get("cautions", ())),
            srcs,
        )

    def control(self, i: str, v: dict[str, Any], pests: Mapping[str, Pest]) -> Control:
        """A control from its entry, with the pests that it is meant for by id."""
        reader, evidence, weak = self._reader, v["evidence"], v.get("weak_on", {})
        against = self._aim(i, v.get("against", {}), "against", pests)
        weak_on = self._aim(i, weak, "weak_on", pests)
        if bool(against) == (v["kind"] == "avoid"):
            reader.fault(i, ("against",), "give the pests it is for; a control to avoid is for none")
        for pest in sorted(against & weak_on):
            reader.fault(i, ("weak_on",), f"{pest!r} is among those it is for")
        srcs = self._srcs(i, v, CONTROL_VALUES)
        for part in ("against", "weak_on", "evidence"):
            if part in v:
                srcs[part] = reader.src(v[part]["src"], i, part, "src")
        reader.known(v.get("cautions", ()), self._cautions, i, "caution", "cautions")
        return Control(
            i,
            v["name"],
            tuple(v.get("aliases", ())),
            v["step"],
            v["kind"],
            against,
            weak_on,
            weak.get("text"),
            v["when"],
            v["how"],
            v.get("acts"),
            v.get("reapply"),
            v.get("before_harvest"),
            tuple(v.get("conditions", ())),
            evidence["grade"],
            evidence.get("text"),
            v.get("mind", {}),
            tuple(v.get("cautions", ())),
            srcs,
        )

    def _named(self, part: Mapping[str, Any], i: str, *path: str) -> set[str]:
        """The crops named in a part of an entry, each of them known."""
        return set(self._reader.known(part.get(path[-1], ()), self._crops, i, "crop", *path))

    def _members(self, families: Iterable[str]) -> set[str]:
        wanted = set(families)
        return {crop.id for crop in self._crops.values() if crop.family in wanted}

    def _aim(self, i: str, part: Mapping[str, Any], name: str, pests: Mapping[str, Pest]) -> frozenset[str]:
        """Pests named one by one and those of whole groups."""
        named = self._reader.known(part.get("pests", ()), pests, i, "pest", name, "pests")
        groups = part.get("groups", ())
        return frozenset(named) | {pest.id for pest in pests.values() if pest.group in groups}

    def _srcs(
        self, i: str, v: Mapping[str, Any], values: Iterable[str], more: tuple[str, ...] = ()
    ) -> dict[str, tuple[str, ...]]:
        """The sources of each value; a fault for a value without one, and for one without a value."""
        wanted = {name for name in values if name in v} | set(more)
        for name in sorted(wanted - set(v["src"])):
            self._reader.fault(i, ("src",), f"the source of {name!r} is missing")
        for name in v["src"]:
            if name not in wanted:
                self._reader.fault(i, ("src", name), f"{name!r} has a source but no value")
        return self._reader.srcs(v["src"], i)

    def _countries(self, i: str, part: Mapping[str, Any], name: str) -> frozenset[str]:
        """Country codes of regions and countries."""
        codes: set[str] = set()
        for n, word in enumerate(part.get(name, ())):
            if word in REGIONS:
                codes.update(REGIONS[word][1].split())
            elif _COUNTRY.match(word):
                codes.add(word)
            else:
                listed = ", ".join(REGIONS)
                self._reader.fault(
                    i, ("regions", name, n), f"{word!r} is neither a region ({listed}) nor a country code such as FR"
                )
        return frozenset(codes)
