"""Reads ``rules/facts`` and holds every reference against what it refers to."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from rules.knowledge.facts import (
    FALLOW,
    Caution,
    Crop,
    Disease,
    Family,
    Maturity,
    OtherView,
    Pest,
    Source,
)
from rules.knowledge.names import Names
from rules.knowledge.shapes import Checker, Key, KnowledgeError, Problem, did_you_mean
from rules.knowledge.yamlfile import Located

_TEXT, _NEED = Key("text"), Key("text", needed=True)
_WORDS, _WHOLE = Key("words"), Key("whole")
_SRC = Key("maps", needed=True)
_SRC_LIST = Key("words", needed=True)
#: Stands for every family that the facts do not list (a grower's own crop).
OTHER_FAMILIES = "other"
KINDS = ("vegetable", "herb", "flower", "fruit", "green_manure")
LIFECYCLES = ("annual", "biennial", "perennial")
STANDS = ("first_frost", "winter_end")

_SOURCE = {"publisher": _NEED, "title": _NEED, "year": _TEXT, "url": _TEXT, "seen": _TEXT}
_CAUTION = {"text": _NEED, "defer_to": _NEED, "src": _SRC_LIST}
_FAMILY = {
    "name": _NEED,
    "old_name": _TEXT,
    "least": _WHOLE,
    "better": _WHOLE,
    "exempt": _TEXT,
    "confused": _TEXT,
    "other_view": Key("map", shape={"crops": Key("words", needed=True), "text": _NEED, "src": _SRC_LIST}),
    "src": _SRC,
}
_CROP = {
    "name": _NEED,
    "plural": _NEED,
    "aliases": _WORDS,
    "scientific": _TEXT,
    "kind": Key("text", needed=True, among=KINDS),
    "lifecycle": Key("text", needed=True, among=LIFECYCLES),
    "maturity": Key(
        "map",
        shape={
            "days": Key("any", needed=True),
            "from": Key("text", needed=True, among=("sowing", "transplanting", "planting")),
        },
    ),
    "stands_days": Key("any"),
    "note": _TEXT,
    "src": _SRC,
}
_GROUP = {"name": _NEED, "plural": _NEED, "aliases": _WORDS, "members": Key("words", needed=True), "src": _SRC_LIST}
_DISEASE = {
    "name": _NEED,
    "aliases": _WORDS,
    "pathogen": _NEED,
    "kind": Key("text", needed=True, among=("fungus", "bacterium", "oomycete", "nematode", "protist", "virus")),
    "hosts": Key("map", needed=True, shape={"families": _WORDS, "crops": _WORDS, "except": _WORDS, "src": _SRC_LIST}),
    "carriers": Key("map", shape={"crops": _WORDS, "plants": _WORDS, "src": _SRC_LIST}),
    "reduced_by": Key("map", shape={"crops": Key("words", needed=True), "text": _TEXT, "src": _SRC_LIST}),
    "years": Key(
        "map", needed=True, shape={"least": _WHOLE, "better": _WHOLE, "never": Key("yes/no"), "src": _SRC_LIST}
    ),
    "in_soil": Key("yes/no", needed=True),
    "survives_in": Key("words", needed=True),
    "survival": _TEXT,
    "advice": _NEED,
    "rotation_value": Key("text", needed=True, among=("strong", "partial", "weak", "none")),
    "resistance_holds": Key("yes/no"),
    "notes": Key("any"),
    "cautions": _WORDS,
    "src": _SRC,
}
_PEST = {"name": _NEED, "aliases": _WORDS, "scientific": _TEXT, "group": _NEED, "src": _SRC}
_LOSS = {"name": _NEED, "aliases": _WORDS}


@dataclass(frozen=True, slots=True)
class Facts:
    """All facts, each map keyed by id in file order."""

    sources: Mapping[str, Source]
    families: Mapping[str, Family]
    crops: Mapping[str, Crop]
    groups: Mapping[str, Crop]
    diseases: Mapping[str, Disease]
    pests: Mapping[str, Pest]
    losses: Mapping[str, str]
    cautions: Mapping[str, Caution]
    crop_names: Names[Crop]
    trouble_names: Names[Disease | Pest]
    loss_names: Names[str]


def read_facts(files: Mapping[str, Located]) -> Facts:
    """Facts from the located files, keyed by path below ``facts/`` ("crops/apiaceae.yaml").

    Raises
    ------
    KnowledgeError
        with every unknown key, unknown reference, name used twice and orphan source found.
    """
    reader = _Reader()
    sources = {
        i: Source(i, v["publisher"], v["title"], v.get("year"), v.get("url"), v.get("seen"))
        for i, v in reader.entries(files["sources.yaml"], "sources", _SOURCE)
    }
    reader.sources = sources
    cautions = {
        i: Caution(i, v["text"], v["defer_to"], reader.src(v["src"], i, "src"))
        for i, v in reader.entries(files["cautions.yaml"], "cautions", _CAUTION)
    }
    families = {i: reader.family(i, v) for i, v in reader.entries(files["families.yaml"], "families", _FAMILY)}
    crops: dict[str, Crop] = {}
    for path in sorted(name for name in files if name.startswith("crops/")):
        located = files[path]
        family = located.value.get("family") if isinstance(located.value, dict) else None
        if family not in families:
            reader.add(located, ("family",), f"unknown family {family!r}{did_you_mean(str(family), families)}")
        for i, v in reader.entries(located, "crops", _CROP, beside=("family",)):
            if i in crops:
                reader.add(located, ("crops", i), f"the crop {i!r} stands in two files")
            crops[i] = reader.crop(i, v, str(family))
    crops[FALLOW] = Crop(
        FALLOW,
        "fallow",
        "fallow",
        "",
        "fallow",
        aliases=("empty", "nothing", "bare", "bare soil", "rest", "resting", "unplanted", "none"),
    )
    groups = {i: reader.group(i, v, crops) for i, v in reader.entries(files["groups.yaml"], "groups", _GROUP)}
    diseases = {
        i: reader.disease(i, v, crops, groups, families, cautions)
        for i, v in reader.entries(files["diseases.yaml"], "diseases", _DISEASE)
    }
    pests = {
        i: Pest(i, v["name"], tuple(v.get("aliases", ())), v.get("scientific"), v["group"], reader.srcs(v["src"], i))
        for i, v in reader.entries(files["pests.yaml"], "pests", _PEST)
    }
    losses = {i: v["name"] for i, v in reader.entries(files["losses.yaml"], "losses", _LOSS)}
    reader.views(files["families.yaml"], families, crops)
    crop_names: Names[Crop] = Names()
    for crop in [*crops.values(), *groups.values()]:
        reader.names(crop_names, crop, crop.id, (crop.id, crop.name, crop.plural, *crop.aliases))
    trouble_names: Names[Disease | Pest] = Names()
    troubles: list[Disease | Pest] = [*diseases.values(), *pests.values()]
    for thing in troubles:
        words = (thing.id, thing.name, *thing.aliases)
        if isinstance(thing, Pest):  # nematodes are both; as a disease they carry host-free years
            words = tuple(word for word in words if not isinstance(trouble_names.find(word), Disease))
        reader.names(trouble_names, thing, thing.id, words)
    loss_names: Names[str] = Names()
    for i, v in reader.entries(files["losses.yaml"], "losses", _LOSS):
        reader.names(loss_names, i, i, (i, v["name"], *v.get("aliases", ())))
    if reader.problems:
        raise KnowledgeError(sorted(set(reader.problems)))
    return Facts(
        sources, families, crops, groups, diseases, pests, losses, cautions, crop_names, trouble_names, loss_names
    )


class _Reader:
    """Builds the values of one set of fact files and collects what is wrong with them."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.sources: Mapping[str, Source] = {}
        self._where: dict[str, tuple[Located, tuple[str, ...]]] = {}

    def add(self, located: Located, path: tuple[str | int, ...], message: str) -> None:
        self.problems.append(Problem(located.at(*path), message))

    def fault(self, entry: str, path: tuple[str | int, ...], message: str) -> None:
        located, base = self._where[entry]
        self.add(located, (*base, *path), message)

    def entries(
        self, located: Located, key: str, shape: Mapping[str, Key], beside: tuple[str, ...] = ()
    ) -> list[tuple[str, dict[str, Any]]]:
        """The well-formed entries of a file's one map."""
        checker = Checker(located)
        top: dict[str, Key] = {key: Key("maps", needed=True)} | dict.fromkeys(beside, _NEED)
        good: list[tuple[str, dict[str, Any]]] = []
        if checker.mapping(located.value, top, ()):
            for entry, value in located.value[key].items():
                self._where[entry] = (located, (key, entry))
                if checker.mapping(value, shape, (key, entry)):
                    good.append((entry, value))
        self.problems += checker.problems
        return good

    def src(self, keys: Iterable[str], entry: str, *path: str) -> tuple[str, ...]:
        keys = tuple(key for key in keys if isinstance(key, str)) if isinstance(keys, list) else ()
        if not keys:
            self.fault(entry, path, "a list of source keys is needed")
        for key in keys:
            if key not in self.sources:
                self.fault(entry, path, f"unknown source {key!r}{did_you_mean(key, self.sources)}")
        return keys

    def srcs(self, by_field: Mapping[str, list[str]], entry: str) -> dict[str, tuple[str, ...]]:
        return {name: self.src(keys, entry, "src", name) for name, keys in by_field.items()}

    def known(
        self, words: Iterable[str], known: Mapping[str, Any], entry: str, what: str, *path: str
    ) -> tuple[str, ...]:
        words = tuple(words)
        for i, word in enumerate(words):
            if word not in known:
                self.fault(entry, (*path, i), f"unknown {what} {word!r}{did_you_mean(word, known)}")
        return tuple(word for word in words if word in known)

    def names(self, names: Names[Any], thing: Any, entry: str, words: Iterable[str]) -> None:
        for word, other in names.add(thing, words):
            if entry in self._where:
                owner = other if isinstance(other, str) else other.id
                self.fault(entry, (), f"the name {word!r} belongs to {owner} already")

    def family(self, i: str, v: dict[str, Any]) -> Family:
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

    def crop(self, i: str, v: dict[str, Any], family: str) -> Crop:
        days = v.get("maturity", {}).get("days")
        maturity = None
        if days is not None:
            if not (
                isinstance(days, list)
                and len(days) == 2
                and all(isinstance(d, int) for d in days)
                and 0 < days[0] <= days[1]
            ):
                self.fault(i, ("maturity", "days"), "two whole numbers of days are needed, the smaller first")
            else:
                maturity = Maturity(days[0], days[1], v["maturity"]["from"])
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
            self.srcs(v["src"], i),
        )

    def group(self, i: str, v: dict[str, Any], crops: Mapping[str, Crop]) -> Crop:
        """A word for several crops: only what all members share, and the longest stay."""
        members = self.known(v["members"], crops, i, "crop", "members")
        found = [crops[m] for m in members]
        families = tuple(dict.fromkeys(c.family for c in found))
        cycles = {c.lifecycle for c in found}
        longest = max((c for c in found if c.maturity), key=_stay_key, default=None)
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
            {"members": self.src(v["src"], i, "src")},
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
