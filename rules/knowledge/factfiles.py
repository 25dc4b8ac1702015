"""Reads ``rules/facts`` and holds every reference against what it refers to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from rules.knowledge.common import Common, Hardiness, read_common, read_hardiness
from rules.knowledge.factreader import FactReader
from rules.knowledge.facts import (
    FALLOW,
    Caution,
    Control,
    Crop,
    Disease,
    Family,
    Pest,
    Source,
)
from rules.knowledge.factshapes import CAUTION, CROP, DISEASE, FAMILY, GROUP, LOSS, SOURCE
from rules.knowledge.names import Names
from rules.knowledge.pestreader import PestReader
from rules.knowledge.pestshapes import CONTROL, PEST
from rules.knowledge.reach import Reach, read_reach
from rules.knowledge.setting import Setting, read_setting
from rules.knowledge.shapes import Checker, KnowledgeError, did_you_mean
from rules.knowledge.survival import Survival, read_survival
from rules.knowledge.thresholds import Threshold, read_thresholds
from rules.knowledge.yamlfile import Located


@dataclass(frozen=True, slots=True)
class Facts:
    """All facts, each map keyed by id in file order."""

    sources: Mapping[str, Source]
    families: Mapping[str, Family]
    crops: Mapping[str, Crop]
    groups: Mapping[str, Crop]
    diseases: Mapping[str, Disease]
    pests: Mapping[str, Pest]
    controls: Mapping[str, Control]
    losses: Mapping[str, str]
    cautions: Mapping[str, Caution]
    crop_names: Names[Crop]
    trouble_names: Names[Disease | Pest]
    pest_names: Names[Pest]
    loss_names: Names[str]
    thresholds: Mapping[str, Threshold]
    reach: Mapping[str, Reach]
    survival: Mapping[str, Survival]
    hardiness: Mapping[str, Hardiness]
    common: Mapping[str, Common]
    setting: Mapping[str, Setting]

    def holds(self, crop: Crop) -> bool:
        """True for a crop of the catalogue; a grower's own may be another crop in the next plan."""
        return crop is self.crops.get(crop.id) or crop is self.groups.get(crop.id)


def read_facts(files: Mapping[str, Located]) -> Facts:
    """Facts from the located files, keyed by path below ``facts/`` ("crops/apiaceae.yaml").

    Raises
    ------
    KnowledgeError
        with every unknown key, unknown reference, name used twice and orphan source found.
    """
    reader = FactReader()
    sources = {
        i: Source(i, v["publisher"], v["title"], v.get("year"), v.get("url"), v.get("seen"))
        for i, v in reader.entries(files["sources.yaml"], "sources", SOURCE)
    }
    reader.sources = sources
    cautions = {
        i: Caution(i, v["text"], v["defer_to"], reader.src(v["src"], i, "src"))
        for i, v in reader.entries(files["cautions.yaml"], "cautions", CAUTION)
    }
    families = {i: reader.family(i, v) for i, v in reader.entries(files["families.yaml"], "families", FAMILY)}
    crops: dict[str, Crop] = {}
    for path in sorted(name for name in files if name.startswith("crops/")):
        located = files[path]
        family = located.value.get("family") if isinstance(located.value, dict) else None
        if family not in families:
            reader.add(located, ("family",), f"unknown family {family!r}{did_you_mean(str(family), families)}")
        for i, v in reader.entries(located, "crops", CROP, beside=("family",)):
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
    groups = {i: reader.group(i, v, crops) for i, v in reader.entries(files["groups.yaml"], "groups", GROUP)}
    diseases = {
        i: reader.disease(i, v, crops, groups, families, cautions)
        for i, v in reader.entries(files["diseases.yaml"], "diseases", DISEASE)
    }
    pest_reader = PestReader(reader, crops, groups, families, cautions)
    pests: dict[str, Pest] = {}
    for path in sorted(name for name in files if name.startswith("pests/")):
        for i, v in reader.entries(files[path], "pests", PEST):
            if i in pests:
                reader.add(files[path], ("pests", i), f"the pest {i!r} stands in two files")
            pests[i] = pest_reader.pest(i, v)
    controls = {
        i: pest_reader.control(i, v, pests) for i, v in reader.entries(files["controls.yaml"], "controls", CONTROL)
    }
    losses = {i: v["name"] for i, v in reader.entries(files["losses.yaml"], "losses", LOSS)}
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
    pest_names: Names[Pest] = Names()
    for pest in pests.values():
        reader.names(pest_names, pest, pest.id, (pest.id, pest.name, *pest.aliases))
    control_names: Names[Control] = Names()
    for control in controls.values():
        reader.names(control_names, control, control.id, (control.id, control.name, *control.aliases))
    loss_names: Names[str] = Names()
    for i, v in reader.entries(files["losses.yaml"], "losses", LOSS):
        reader.names(loss_names, i, i, (i, v["name"], *v.get("aliases", ())))
    hardiness = read_hardiness(files["hardiness.yaml"], reader)
    facts = Facts(
        sources,
        families,
        crops,
        groups,
        diseases,
        pests,
        controls,
        losses,
        cautions,
        crop_names,
        trouble_names,
        pest_names,
        loss_names,
        {},
        read_reach(files["reach.yaml"], reader),
        read_survival(files["survival.yaml"], reader),
        hardiness,
        read_common(files["common.yaml"], reader, crops, hardiness),
        read_setting(files["setting.yaml"], reader, crops, hardiness),
    )
    checker = Checker(files["thresholds.yaml"])
    thresholds = read_thresholds(files["thresholds.yaml"], facts, checker)
    problems = [*reader.problems, *checker.problems]
    if problems:
        raise KnowledgeError(problems)
    return replace(facts, thresholds=thresholds)
