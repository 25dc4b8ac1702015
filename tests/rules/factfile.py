"""A small set of fact files that is right, to be spoiled by tests."""

import pytest

from rules.knowledge.factfiles import read_facts
from rules.knowledge.pestshapes import MOBILITY, OVERWINTERS
from rules.knowledge.shapes import KnowledgeError
from rules.knowledge.yamlfile import load

BRASSICAS, MINTS = "crops/brassicaceae.yaml", "crops/lamiaceae.yaml"

FILES = {
    "hardiness.yaml": """\
hardiness:
  hardy: {from_last_frost: -28, before_first_frost: 14, src: {from_last_frost: [memory], before_first_frost: [memory]}}
""",
    "common.yaml": "common:\n  kale: {hardiness: hardy, autumn: [-9, 9], src: {hardiness: [memory]}}\n",
    "thresholds.yaml": "thresholds: {}\n",
    "setting.yaml": "setting:\n  kale: {spring: [0, 100], src: {spring: [memory]}}\n",
    "reach.yaml": "reach:\n" + "".join(f"  {word}: {{metres: 5, basis: ours, src: [memory]}}\n" for word in MOBILITY),
    "survival.yaml": "survival:\n"
    + "".join(f"  {word}: {{days: 9, basis: ours, src: [memory]}}\n" for word in ("bare", *OVERWINTERS)),
    "sources.yaml": """\
sources:
  memory: {publisher: memory, title: known}
  iowa_rotation: {publisher: Iowa, title: Rotation, year: '2019'}
""",
    "cautions.yaml": """\
cautions:
  lime_handling: {text: Wear gloves., defer_to: the label, src: [memory]}
""",
    "families.yaml": """\
families:
  Brassicaceae:
    name: cabbage family
    least: 2
    better: 3
    other_view: {crops: [kale], text: some say otherwise, src: [iowa_rotation]}
    src: {name: [memory], break: [iowa_rotation]}
  Lamiaceae:
    name: mint family
    exempt: herbs stay put
    src: {name: [memory]}
  other: {name: family outside the list, least: 1, better: 3, src: {name: [memory]}}
""",
    "crops/brassicaceae.yaml": """\
family: Brassicaceae
crops:
  kale:
    name: kale
    plural: kale
    aliases: [borecole]
    kind: vegetable
    lifecycle: biennial
    maturity: {days: [50, 65], from: sowing}
    stands_days: winter_end
    src: {name: [memory]}
  radish:
    name: radish
    plural: radishes
    kind: vegetable
    lifecycle: annual
    maturity: {days: [22, 28], from: sowing}
    stands_days: 14
    src: {name: [memory]}
""",
    "crops/lamiaceae.yaml": """\
family: Lamiaceae
crops:
  mint:
    name: mint
    plural: mint
    kind: herb
    lifecycle: perennial
    src: {name: [memory]}
""",
    "groups.yaml": """\
groups:
  brassica: {name: brassica, plural: brassicas, members: [kale, radish], src: [memory]}
""",
    "diseases.yaml": """\
diseases:
  clubroot:
    name: clubroot
    aliases: [club root]
    pathogen: Plasmodiophora brassicae
    kind: protist
    hosts: {families: [Brassicaceae], except: [radish], src: [memory]}
    carriers: {crops: [mint], src: [memory]}
    years: {least: 7, better: 7, src: [iowa_rotation]}
    in_soil: true
    survives_in: [soil]
    advice: Lime the ground.
    rotation_value: strong
    cautions: [lime_handling]
    src: {name: [memory]}
""",
    "pests/mollusc.yaml": """\
pests:
  slugs:
    name: slugs
    aliases: [slug]
    group: mollusc
    hosts: {crops: [kale], preferred: [kale], wide: true, src: [memory]}
    non_hosts: {crops: [mint], src: [memory]}
    bridge_plants: {crops: [radish], plants: [turf], src: [memory]}
    overwinters: soil_anywhere
    emerges_from_bed: yes
    mobility: crawls
    season: wet nights
    susceptible_stage: seedlings
    max_mesh_mm: 1.5
    rotation_helps: no
    regions: {in: [europe, US], absent_from: [NZ], src: [memory]}
    cautions: [lime_handling]
    src:
      name: [memory]
      overwinters: [memory]
      emerges_from_bed: [memory]
      mobility: [memory]
      season: [memory]
      susceptible_stage: [memory]
      max_mesh_mm: [memory]
      rotation_helps: [memory]
      preferred: [memory]
""",
    "controls.yaml": """\
controls:
  copper:
    name: copper band
    step: physical
    kind: exclude
    against: {pests: [slugs], src: [memory]}
    when: once clear of them
    how: a wide band
    evidence: {grade: guidance, src: [iowa_rotation]}
    cautions: [lime_handling]
    src: {name: [memory], when: [memory], how: [memory]}
""",
    "losses.yaml": """\
losses:
  frost: {name: frost, aliases: [frosted]}
""",
}


def located(**changed):
    texts = {**FILES, **dict(changed.items())}
    return {name: load(text, name) for name, text in texts.items()}


def problems(file, old, new):
    """The problems after one change, and the changed text."""
    assert FILES[file].count(old) == 1, f"{old!r} must stand once in {file}"
    text = FILES[file].replace(old, new)
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{file: text}))
    return caught.value.problems, text


def place(file, text, mark):
    """``file:line:column`` of a piece of text."""
    before = text[: text.index(mark)]
    return f"{file}:{before.count(chr(10)) + 1}:{len(before) - before.rfind(chr(10))}"
