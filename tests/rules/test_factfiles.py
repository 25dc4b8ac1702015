"""Every kind of fault in a fact file is told with its place and the nearest known word."""

from dataclasses import replace

import pytest

from rules.knowledge.factfiles import read_facts
from rules.knowledge.orphans import orphans
from rules.knowledge.pestshapes import MOBILITY, OVERWINTERS
from rules.knowledge.shapes import KnowledgeError
from rules.knowledge.yamlfile import load

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


def test_the_small_set_of_files_is_right():
    facts = read_facts(located())
    assert set(facts.crops) == {"kale", "radish", "mint", "fallow"}
    assert facts.crops["kale"].stands == "winter_end"
    assert facts.crops["kale"].maturity.most == 65
    assert facts.groups["brassica"].family == "Brassicaceae"
    assert facts.groups["brassica"].stands == "winter_end"
    assert facts.groups["brassica"].lifecycle == "annual"
    assert facts.diseases["clubroot"].hosts == {"kale"}
    assert facts.diseases["clubroot"].possible == {"brassica"}
    assert facts.diseases["clubroot"].carriers == {"mint"}
    assert facts.families["Lamiaceae"].least is None
    assert facts.losses == {"frost": "frost"}
    assert facts.sources["iowa_rotation"].year == "2019"
    assert facts.crops["kale"].sources == {"name": ("memory",)}


SNAILS = FILES["pests/mollusc.yaml"].replace("slugs", "snails").replace("[slug]", "[Slug]")
BRASSICAS, MINTS = "crops/brassicaceae.yaml", "crops/lamiaceae.yaml"
FAULTS = {
    "unknown key": (
        BRASSICAS,
        "aliases: [borecole]",
        "alias: [borecole]",
        "[borecole]",
        "unknown key 'alias'; did you mean 'aliases'?",
    ),
    "unknown top key": (
        "groups.yaml",
        "groups:",
        "groupes:",
        "brassica: {name",
        "unknown key 'groupes'; did you mean 'groups'?",
    ),
    "missing key": (BRASSICAS, "    plural: radishes\n", "", "name: radish", "the key 'plural' is missing"),
    "wrong type": (BRASSICAS, "plural: radishes", "plural: 7", "7\n", "text is needed, not 7"),
    "a list that is no list": (BRASSICAS, "[borecole]", "borecole", "borecole", "a list of words is needed"),
    "word outside the list": (
        BRASSICAS,
        "lifecycle: biennial",
        "lifecycle: bienial",
        "bienial",
        "'bienial' is not one of annual, biennial, perennial; did you mean 'biennial'?",
    ),
    "unknown source of a crop": (
        MINTS,
        "src: {name: [memory]}",
        "src: {name: [memry]}",
        "[memry]",
        "unknown source 'memry'; did you mean 'memory'?",
    ),
    "unknown source of a family": (
        "families.yaml",
        "break: [iowa_rotation]",
        "break: [iowa_rotatoin]",
        "[iowa_rotatoin]",
        "unknown source 'iowa_rotatoin'; did you mean 'iowa_rotation'?",
    ),
    "unknown source of another view": (
        "families.yaml",
        "otherwise, src: [iowa_rotation]",
        "otherwise, src: [iowa]",
        "[iowa]",
        "unknown source 'iowa'",
    ),
    "unknown source of a group": (
        "groups.yaml",
        "src: [memory]",
        "src: [memori]",
        "[memori]",
        "unknown source 'memori'; did you mean 'memory'?",
    ),
    "unknown source of a disease": (
        "diseases.yaml",
        "better: 7, src: [iowa_rotation]",
        "better: 7, src: [iowa_rot]",
        "[iowa_rot]",
        "unknown source 'iowa_rot'; did you mean 'iowa_rotation'?",
    ),
    "no source": (MINTS, "src: {name: [memory]}", "src: {name: []}", "[]", "a list of source keys is needed"),
    "name used twice in one file": (
        BRASSICAS,
        "[borecole]",
        "[radish]",
        "name: radish",
        "the name 'radish' belongs to kale already",
    ),
    "name used twice over two files": (
        MINTS,
        "plural: mint",
        "plural: kale",
        "name: mint",
        "the name 'kale' belongs to kale already",
    ),
    "name of a group is a crop's": (
        "groups.yaml",
        "plural: brassicas",
        "plural: radish",
        "{name: brassica",
        "the name 'radish' belongs to radish already",
    ),
    "name of a pest is another pest's": (
        "pests/mollusc.yaml",
        "pests:\n",
        SNAILS,
        "name: slugs",
        "the name 'slug' belongs to snails already",
    ),
    "orphan family": (
        "families.yaml",
        "  Lamiaceae:\n",
        "  Apiaceae: {name: carrot family, least: 1, better: 3, src: {name: [memory]}}\n  Lamiaceae:\n",
        "{name: carrot family",
        "no crop belongs to Apiaceae",
    ),
    "unknown family of a file": (
        MINTS,
        "Lamiaceae",
        "Lamiacae",
        "Lamiacae",
        "unknown family 'Lamiacae'; did you mean 'Lamiaceae'?",
    ),
    "family without interval": (
        "families.yaml",
        "    exempt: herbs stay put\n",
        "",
        "name: mint family",
        "give least and better, or else exempt",
    ),
    "family with half an interval": (
        "families.yaml",
        "    better: 3\n",
        "",
        "name: cabbage family",
        "give least and better, or else exempt",
    ),
    "family both ways": (
        "families.yaml",
        "exempt: herbs",
        "least: 1\n    better: 2\n    exempt: herbs",
        "name: mint family",
        "give least and better, or else exempt",
    ),
    "least above better": (
        "families.yaml",
        "    least: 2\n",
        "    least: 4\n",
        "4\n",
        "least must be 0 or more and not above better",
    ),
    "other view of a stranger": (
        "families.yaml",
        "{crops: [kale]",
        "{crops: [mint]",
        "[mint]",
        "'mint' is not a crop of Brassicaceae",
    ),
    "maturity turned round": (
        BRASSICAS,
        "days: [50, 65]",
        "days: [65, 50]",
        "[65, 50]",
        "two whole numbers of days are needed",
    ),
    "maturity of one day": (BRASSICAS, "days: [50, 65]", "days: [50]", "[50]", "two whole numbers of days are needed"),
    "maturity in words": (BRASSICAS, "days: [50, 65]", "days: fifty", "fifty", "two whole numbers of days are needed"),
    "maturity of nothing": (
        BRASSICAS,
        "days: [50, 65]",
        "days: [0, 65]",
        "[0, 65]",
        "two whole numbers of days are needed",
    ),
    "maturity from nowhere": (
        BRASSICAS,
        "[50, 65], from: sowing",
        "[50, 65], from: sowin",
        "sowin}",
        "did you mean 'sowing'?",
    ),
    "annual without maturity": (
        BRASSICAS,
        "    maturity: {days: [22, 28], from: sowing}\n",
        "",
        "name: radish",
        "needs maturity and stands_days",
    ),
    "annual without stands_days": (BRASSICAS, "    stands_days: 14\n", "", "name: radish", "days (0 to 366) or one of"),
    "stands too long": (BRASSICAS, "stands_days: 14", "stands_days: 367", "367", "days (0 to 366) or one of"),
    "stands in other words": (
        BRASSICAS,
        "stands_days: 14",
        "stands_days: frost",
        "frost",
        "days (0 to 366) or one of first_frost, winter_end",
    ),
    "perennial with stands_days": (
        MINTS,
        "lifecycle: perennial",
        "lifecycle: perennial\n    stands_days: 30",
        "30\n",
        "a perennial stays until it is cleared",
    ),
    "unknown member": (
        "groups.yaml",
        "[kale, radish]",
        "[kale, radsh]",
        "radsh",
        "unknown crop 'radsh'; did you mean 'radish'?",
    ),
    "unknown host family": (
        "diseases.yaml",
        "families: [Brassicaceae]",
        "families: [Brassicacae]",
        "Brassicacae]",
        "unknown family 'Brassicacae'; did you mean 'Brassicaceae'?",
    ),
    "unknown host crop": (
        "diseases.yaml",
        "except: [radish]",
        "crops: [kail]",
        "kail",
        "unknown crop 'kail'; did you mean 'kale'?",
    ),
    "unknown spared crop": (
        "diseases.yaml",
        "except: [radish]",
        "except: [raddish]",
        "raddish",
        "unknown crop 'raddish'; did you mean 'radish'?",
    ),
    "no host at all": (
        "diseases.yaml",
        "except: [radish]",
        "except: [radish, kale]",
        "{families",
        "no crop of the catalogue is a host",
    ),
    "unknown carrier": (
        "diseases.yaml",
        "crops: [mint]",
        "crops: [mynt]",
        "mynt",
        "unknown crop 'mynt'; did you mean 'mint'?",
    ),
    "years both ways": (
        "diseases.yaml",
        "better: 7, src",
        "better: 7, never: true, src",
        "{least: 7",
        "give least and better, or never: true",
    ),
    "years neither way": (
        "diseases.yaml",
        "{least: 7, better: 7, src",
        "{src",
        "{src: [iowa",
        "give least and better, or never: true",
    ),
    "years by half": ("diseases.yaml", "better: 7, src", "src", "{least: 7", "give least and better, or never: true"),
    "unknown caution": (
        "diseases.yaml",
        "[lime_handling]",
        "[lime_handing]",
        "lime_handing",
        "unknown caution 'lime_handing'; did you mean 'lime_handling'?",
    ),
    "unknown kind of disease": (
        "diseases.yaml",
        "kind: protist",
        "kind: protest",
        "protest",
        "did you mean 'protist'?",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_has_its_place_and_the_nearest_word(fault):
    file, old, new, mark, words = FAULTS[fault]
    found, text = problems(file, old, new)
    told = [p for p in found if words in p.message]
    assert told, [str(p) for p in found]
    assert place(file, text, mark) in [p.where for p in told]


def test_one_fault_gives_one_problem():
    for fault in (
        "unknown source of a crop",
        "perennial with stands_days",
        "maturity turned round",
        "unknown member",
        "years both ways",
    ):
        file, old, new, *_ = FAULTS[fault]
        found, _ = problems(file, old, new)
        assert len(found) <= 2, fault


def test_all_faults_of_all_files_are_told_at_once():
    changed = {
        BRASSICAS: FILES[BRASSICAS].replace("stands_days: 14", "stands_days: 999"),
        "diseases.yaml": FILES["diseases.yaml"].replace("lime_handling", "lyme"),
        "groups.yaml": FILES["groups.yaml"].replace("[memory]", "[nobody]"),
    }
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**changed))
    assert {p.where.split(":")[0] for p in caught.value.problems} == set(changed)
    assert str(caught.value).count("\n") == len(caught.value.problems) - 1


def test_a_crop_in_two_files_is_told():
    more = FILES[MINTS].replace("mint", "kale")
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{MINTS: more}))
    assert "the crop 'kale' stands in two files" in str(caught.value)


def test_a_file_that_is_no_map_is_told_not_thrown():
    with pytest.raises(KnowledgeError) as caught:
        read_facts(located(**{MINTS: "- mint\n"}))
    assert "crops/lamiaceae.yaml:1:1" in {p.where for p in caught.value.problems}


def test_a_source_key_that_is_no_word_is_told_not_thrown():
    found, text = problems(MINTS, "src: {name: [memory]}", "src: {name: [7]}")
    assert place(MINTS, text, "[7]") in [p.where for p in found]


def test_a_pest_that_is_a_disease_too_is_found_as_the_disease():
    nematodes = FILES["pests/mollusc.yaml"] + FILES["pests/mollusc.yaml"].removeprefix("pests:\n").replace(
        "slugs", "eelworm"
    ).replace("[slug]", "[club-root]").replace("mollusc", "nematode")
    facts = read_facts(located(**{"pests/mollusc.yaml": nematodes}))
    assert facts.trouble_names.find("club root") is facts.diseases["clubroot"]
    assert facts.trouble_names.find("eelworm") is facts.pests["eelworm"]


def test_what_nothing_names_is_told_with_its_place():
    facts = read_facts({name: load(text, name) for name, text in FILES.items()})
    lonely = load("sources:\n  nobody_1: {publisher: a, title: b}\n", "sources.yaml")
    left = orphans(replace(facts, sources={"nobody_1": None}, cautions={}), {}, lonely, load("cautions: {}", "c.yaml"))
    assert [str(problem) for problem in left] == [
        "sources.yaml:2:13: the source 'nobody_1' is cited nowhere; remove it"
    ]
