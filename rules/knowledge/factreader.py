"""Builds the values of one set of fact files and collects what is wrong with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rules.knowledge.facts import Caution, Crop, Disease, Family, Maturity, OtherView, Source, Traits
from rules.knowledge.factshapes import NEEDED, OTHER_FAMILIES, STANDS
from rules.knowledge.names import Names
from rules.knowledge.shapes import Checker, Key, Problem, did_you_mean
from rules.knowledge.traits import read_traits, shared, trait_sources
from rules.knowledge.yamlfile import Located


class FactReader:
    """Builds the values of one set of fact files and collects what is wrong with them."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.sources: Mapping[str, Source] = {}
        self._where: dict[str, tuple[Located, tuple[str, ...]]] = {}

    def add(self, located: Located, path: tuple[str | int, ...], message: str) -> None:
        """Note a problem at a path of a file."""
        self.problems.append(Problem(located.at(*path), message))

    def fault(self, entry: str, path: tuple[str | int, ...], message: str) -> None:
        """Note a problem at a path below an entry."""
        located, base = self._where[entry]
        self.add(located, (*base, *path), message)

    def entries(
        self, located: Located, key: str, shape: Mapping[str, Key], beside: tuple[str, ...] = ()
    ) -> list[tuple[str, dict[str, Any]]]:
        """The well-formed entries of a file's one map."""
        checker = Checker(located)
        top: dict[str, Key] = {key: Key("maps", needed=True)} | dict.fromkeys(beside, NEEDED)
        good: list[tuple[str, dict[str, Any]]] = []
        if checker.mapping(located.value, top, ()):
            for entry, value in located.value[key].items():
                self._where[entry] = (located, (key, entry))
                if checker.mapping(value, shape, (key, entry)):
                    good.append((entry, value))
        self.problems += checker.problems
        return good

    def src(self, keys: Iterable[str], entry: str, *path: str) -> tuple[str, ...]:
        """The source keys of a value, each of them known."""
        keys = tuple(key for key in keys if isinstance(key, str)) if isinstance(keys, list) else ()
        if not keys:
            self.fault(entry, path, "a list of source keys is needed")
        for key in keys:
            if key not in self.sources:
                self.fault(entry, path, f"unknown source {key!r}{did_you_mean(key, self.sources)}")
        return keys

    def srcs(self, by_field: Mapping[str, list[str]], entry: str) -> dict[str, tuple[str, ...]]:
        """The source keys of each value of an entry."""
        return {name: self.src(keys, entry, "src", name) for name, keys in by_field.items()}

    def known(
        self, words: Iterable[str], known: Mapping[str, Any], entry: str, what: str, *path: str
    ) -> tuple[str, ...]:
        """Those of some words that are known; a fault with the nearest known one for each other."""
        words = tuple(words)
        for i, word in enumerate(words):
            if word not in known:
                self.fault(entry, (*path, i), f"unknown {what} {word!r}{did_you_mean(word, known)}")
        return tuple(word for word in words if word in known)

    def names(self, names: Names[Any], thing: Any, entry: str, words: Iterable[str]) -> None:
        """Register the names of a thing; a fault for each that belongs to another already."""
        for word, other in names.add(thing, words):
            if entry in self._where:
                owner = other if isinstance(other, str) else other.id
                self.fault(entry, (), f"the name {word!r} belongs to {owner} already")

    def family(self, i: str, v: dict[str, Any]) -> Family:
        """A family from its entry."""
        least, better, exempt = v.get("least"), v.get("better"), v.get("exempt")
        if (least is None) != (better is None) or (least is None) == (exempt is None):
            self.fault(i, (), "give least and better, or else exempt with its reason")
        elif least is not None and not 0 <= least <= (better or 0):
            self.fault(i, ("least",), "least must be 0 or more and not above better")
        view = v.get("other_view")
        other = view and OtherView(
            frozenset(view["crops"]), view["text"], self.src(view["src"], i, "other_view", "src")
        )
        return Family(
            i,
            v["name"],
            v.get("old_name"),
            least,
            better,
            exempt,
            v.get("confused"),
            other or None,
            self.srcs(v["src"], i),
        )

    def views(self, located: Located, families: Mapping[str, Family], crops: Mapping[str, Crop]) -> None:
        """Hold each family's other view and its crops against the catalogue."""
        for family in families.values():
            for crop in sorted(family.other_view.crops if family.other_view else ()):
                if crop not in crops or crops[crop].family != family.id:
                    self.add(
                        located,
                        ("families", family.id, "other_view", "crops"),
                        f"{crop!r} is not a crop of {family.id}{did_you_mean(crop, crops)}",
                    )
            if family.id != OTHER_FAMILIES and not any(crop.family == family.id for crop in crops.values()):
                self.add(located, ("families", family.id), f"no crop belongs to {family.id}")

    def days(self, i: str, v: dict[str, Any], key: str) -> Maturity | None:
        """Days to harvest under one key of a crop."""
        if key not in v:
            return None
        days = v[key]["days"]
        pair = isinstance(days, list) and len(days) == 2 and all(isinstance(d, int) for d in days)
        if pair and 0 < days[0] <= days[1]:
            return Maturity(days[0], days[1], v[key]["from"])
        self.fault(i, (key, "days"), "two whole numbers of days are needed, the smaller first")
        return None

    def crop(self, i: str, v: dict[str, Any], family: str) -> Crop:
        """A crop from its entry."""
        maturity, over_winter = self.days(i, v, "maturity"), self.days(i, v, "over_winter")
        stands = v.get("stands_days")
        if v["lifecycle"] == "perennial":
            if stands is not None:
                self.fault(i, ("stands_days",), "a perennial stays until it is cleared; leave stands_days out")
        elif maturity is None:
            self.fault(i, (), "a crop that is cleared needs maturity and stands_days, or no end can be assumed")
        elif not (stands in STANDS or (isinstance(stands, int) and 0 <= stands <= 366)):
            self.fault(i, ("stands_days",), f"days (0 to 366) or one of {', '.join(STANDS)} is needed")
            stands = None
        return Crop(
            i,
            v["name"],
            v["plural"],
            family,
            v["kind"],
            tuple(v.get("aliases", ())),
            v.get("scientific"),
            v["lifecycle"],
            maturity,
            stands,
            v.get("note"),
            (),
            (family,),
            self.srcs(v["src"], i) | trait_sources(self, i, v.get("traits")),
            over_winter,
            read_traits(self, i, v.get("traits")),
        )

    def group(self, i: str, v: dict[str, Any], crops: Mapping[str, Crop]) -> Crop:
        """A word for several crops: only what all members share, and the longest stay."""
        members = self.known(v["members"], crops, i, "crop", "members")
        found = [crops[m] for m in members]
        families = tuple(dict.fromkeys(c.family for c in found))
        cycles = {c.lifecycle for c in found}
        longest = max((c for c in found if c.maturity), key=_stay_key, default=None)
        traits = shared(found)
        sources = {"members": self.src(v["src"], i, "src")}
        return Crop(
            i,
            v["name"],
            v["plural"],
            families[0] if len(families) == 1 else "",
            "group",
            tuple(v.get("aliases", ())),
            None,
            cycles.pop() if len(cycles) == 1 else "annual",
            longest.maturity if longest else None,
            longest.stands if longest else None,
            None,
            members,
            families,
            sources if traits == Traits() else sources | {"traits": ("derived",)},
            longest.over_winter if longest else None,
            traits,
        )

    def disease(
        self,
        i: str,
        v: dict[str, Any],
        crops: Mapping[str, Crop],
        groups: Mapping[str, Crop],
        families: Mapping[str, Family],
        cautions: Mapping[str, Caution],
    ) -> Disease:
        """A disease from its entry, its hosts worked out over crops and groups."""
        hosts_of, carriers_of = v["hosts"], v.get("carriers", {})
        host_families = self.known(hosts_of.get("families", ()), families, i, "family", "hosts", "families")
        named = self.known(hosts_of.get("crops", ()), crops, i, "crop", "hosts", "crops")
        spared = set(self.known(hosts_of.get("except", ()), crops, i, "crop", "hosts", "except"))
        hosts = ({c.id for c in crops.values() if c.family in host_families} - spared) | set(named)
        if not hosts:
            self.fault(i, ("hosts",), "no crop of the catalogue is a host")
        carriers = set(self.known(carriers_of.get("crops", ()), crops, i, "crop", "carriers", "crops")) - hosts
        reduced = v.get("reduced_by", {})
        reducing = frozenset(self.known(reduced.get("crops", ()), crops, i, "crop", "reduced_by", "crops"))
        years = v["years"]
        never, least = years.get("never", False), years.get("least")
        if never == (least is not None) or (least is None) != (years.get("better") is None):
            self.fault(i, ("years",), "give least and better, or never: true")
        srcs = self.srcs(v["src"], i)
        for part, value in (("hosts", hosts_of), ("years", years), ("carriers", carriers_of), ("reduced_by", reduced)):
            if value:
                srcs[part] = self.src(value["src"], i, part, "src")
        self.known(v.get("cautions", ()), cautions, i, "caution", "cautions")
        whole = {g.id for g in groups.values() if g.members and hosts.issuperset(g.members)}
        partly = {g.id for g in groups.values() if g.id not in whole and not hosts.isdisjoint(g.members)}
        carrying = {g.id for g in groups.values() if g.members and carriers.issuperset(g.members)}
        return Disease(
            i,
            v["name"],
            tuple(v.get("aliases", ())),
            v["pathogen"],
            v["kind"],
            host_families,
            frozenset(hosts | whole),
            frozenset(partly),
            frozenset(carriers | carrying),
            tuple(carriers_of.get("plants", ())),
            reducing,
            least,
            years.get("better"),
            never,
            v["in_soil"],
            tuple(v["survives_in"]),
            v.get("survival"),
            v["advice"],
            v["rotation_value"],
            v.get("resistance_holds", False),
            v.get("notes", {}) | ({"reduced_by": reduced["text"]} if "text" in reduced else {}),
            tuple(v.get("cautions", ())),
            srcs,
        )


def _stay_key(crop: Crop) -> tuple[int, int]:
    """Orders crops by how long they stand: to the cold season's end, to frost, then by days."""
    most = crop.maturity.most if crop.maturity else 0
    if crop.stands == "winter_end":
        return (2, most)
    if crop.stands == "first_frost":
        return (1, most)
    return (0, most + (crop.stands or 0))
