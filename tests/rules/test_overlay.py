"""A club's overlay: what it may change, and how its faults are told."""

import pytest
from tiny_plans import grew, plan_of, told

from rules import KnowledgeError, check, load_knowledge
from rules.knowledge.yamlfile import YamlError, load

SOON, SHORT = "rotation.family-too-soon", "rotation.break-cut-short"
REPEAT = grew("a", "kale", "2026"), grew("a", "cabbage", "2027", id="new")


def knowledge(text):
    return load_knowledge(load(text, "club.yaml"))


def faults(text):
    with pytest.raises(KnowledgeError) as caught:
        knowledge(text)
    return [str(problem) for problem in caught.value.problems]


def report(text, *rows, **parts):
    known = knowledge(text)
    return check(plan_of(*rows, knowledge=known, judge="2027", **parts), known)


def test_a_rule_is_turned_off():
    known = knowledge(f"overlay: Quiet club\nrules:\n  {SOON}: {{off: true}}\n")
    assert SOON not in known.rules
    assert all(rule.id != SOON for rules in known.by_kind.values() for rule in rules)
    plan = plan_of(*REPEAT, knowledge=known, judge="2027")
    assert told(check(plan, known)) == []
    assert told(check(plan)) == [(SOON, ("new",))]


def test_a_rule_that_is_not_off_stays():
    assert told(report(f"overlay: x\nrules:\n  {SOON}: {{off: false}}\n", *REPEAT)) == [(SOON, ("new",))]


def test_the_report_carries_the_overlay_and_the_base_does_not():
    assert report("overlay: Tannery Row\n", *REPEAT).overlay == "Tannery Row"
    assert check(plan_of(*REPEAT)).overlay is None


def test_an_interval_is_changed():
    longer = report(
        "overlay: x\nfamilies:\n  Brassicaceae: {least: 4, better: 6}\n",
        grew("a", "kale", "2023"),
        grew("a", "cabbage", "2027", id="new"),
    )
    assert told(longer) == [(SOON, ("new",))]
    assert (longer.findings[0].because["least"], longer.findings[0].because["better"]) == (4, 6)
    shorter = report("overlay: x\nfamilies:\n  Brassicaceae: {least: 0, better: 0}\n", *REPEAT)
    assert told(shorter) == []


def test_a_disease_interval_is_changed():
    rows = grew("a", "kale", "2022"), grew("a", "radish", "2027", id="new")
    seen = [{"bed": "a", "date": "2022-09-01", "of": "clubroot"}]
    assert told(check(plan_of(*rows, sightings=seen, judge="2027"))) == [("disease.host-too-soon", ("new",))]
    assert told(report("overlay: x\ndiseases:\n  clubroot: {least: 3, better: 4}\n", *rows, sightings=seen)) == []


def test_a_severity_is_changed():
    found = report(f"overlay: x\nrules:\n  {SOON}: {{severity: caution}}\n", *REPEAT)
    assert [(f.rule, f.severity) for f in found.findings] == [(SOON, "caution")]
    assert found.verdict == "caution"


def test_points_are_changed_within_what_the_evidence_carries():
    text = "overlay: x\nrules:\n  disease.worn-down-by-crop: {points: 3}\n"
    rows = grew("a", "lettuce", "2026"), grew("a", "broccoli", "2027")
    seen = [{"bed": "a", "date": "2026-07-01", "of": "lettuce_drop"}]
    assert report(text, *rows, sightings=seen).score["pest"] == 3
    assert check(plan_of(*rows, sightings=seen, judge="2027")).score["pest"] == 1


@pytest.mark.parametrize("points", [4, -4])
def test_points_over_the_evidence_are_refused(points):
    found = faults(f"overlay: x\nrules:\n  disease.worn-down-by-crop: {{points: {points}}}\n")
    assert len(found) == 1
    assert found[0].startswith("club.yaml:3:")
    assert f"{points} points are more than this evidence carries (at most 3 either way)" in found[0]


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        (
            "overlay: x\nrules:\n  rotation.family-to-soon: {off: true}\n",
            "club.yaml:3:28",
            "unknown rule 'rotation.family-to-soon'; did you mean 'rotation.family-too-soon'?",
        ),
        (
            "overlay: x\nrules:\n  rotation.family-too-soon: {of: true}\n",
            "club.yaml:3:34",
            "unknown key 'of'; did you mean 'off'?",
        ),
        ("overlay: x\nrules:\n  rotation.family-too-soon: {off: no}\n", "club.yaml:3:35", "yes/no is needed, not 'no'"),
        (
            "overlay: x\nrules:\n  rotation.family-too-soon: {severity: cuation}\n",
            "club.yaml:3:40",
            "did you mean 'caution'?",
        ),
        ("overlay: x\nrule: {}\n", "club.yaml:2:7", "unknown key 'rule'; did you mean 'rules'?"),
        ("rules: {}\n", "club.yaml:1:1", "the key 'overlay' is missing"),
        ("overlay: x\nrules: [a]\n", "club.yaml:2:8", "keys and values are needed here"),
        ("overlay: x\nrules:\n", "club.yaml:2:7", "keys and values are needed here"),
        ("- x\n", "club.yaml:1:1", "keys and values are needed here"),
        (
            "overlay: x\nfamilies:\n  Brassicacae: {least: 1, better: 2}\n",
            "club.yaml:3:16",
            "unknown name 'Brassicacae'; did you mean 'Brassicaceae'?",
        ),
        ("overlay: x\nfamilies:\n  Brassicaceae: {least: 3, better: 2}\n", "club.yaml:3:17", "least must be 0 or more"),
        (
            "overlay: x\nfamilies:\n  Brassicaceae: {least: -1, better: 2}\n",
            "club.yaml:3:17",
            "least must be 0 or more",
        ),
        ("overlay: x\nfamilies:\n  Brassicaceae: {least: 1, better: 51}\n", "club.yaml:3:17", "above 50"),
        ("overlay: x\nfamilies:\n  Brassicaceae: {least: 1}\n", "club.yaml:3:17", "the key 'better' is missing"),
        (
            "overlay: x\nfamilies:\n  Brassicaceae: {least: 1.5, better: 2}\n",
            "club.yaml:3:25",
            "whole is needed, not 1.5",
        ),
        (
            "overlay: x\nfamilies:\n  Lamiaceae: {least: 1, better: 2}\n",
            "club.yaml:3:14",
            "Lamiaceae stands outside the rotation",
        ),
        (
            "overlay: x\ndiseases:\n  clubrot: {least: 1, better: 2}\n",
            "club.yaml:3:12",
            "unknown name 'clubrot'; did you mean 'clubroot'?",
        ),
        (
            "overlay: x\ndiseases:\n  asparagus_fusarium: {least: 1, better: 2}\n",
            "club.yaml:3:23",
            "no number of years",
        ),
    ],
)
def test_faults_have_their_place_and_the_nearest_word(text, place, words):
    found = faults(text)
    assert any(line.startswith(f"{place}: ") and words in line for line in found), found


def test_all_faults_are_told_at_once():
    text = (
        "overlay: x\nrules:\n  a.b-c: {off: true}\n  d.e-f: {off: true}\nfamilies:\n  Nobody: {least: 1, better: 2}\n"
    )
    assert len(faults(text)) == 3


@pytest.mark.parametrize(
    "text",
    [
        "overlay: x\noverlay: y\n",
        f"overlay: x\nrules:\n  {SOON}: {{off: true}}\n  {SOON}: {{off: false}}\n",
    ],
)
def test_a_key_twice_is_refused(text):
    with pytest.raises(YamlError, match=r"club\.yaml:\d+:\d+: the key .* stands twice"):
        knowledge(text)


def test_an_overlay_leaves_the_base_as_it_was():
    before = load_knowledge()
    knowledge(f"overlay: x\nrules:\n  {SOON}: {{off: true}}\nfamilies:\n  Brassicaceae: {{least: 9, better: 9}}\n")
    assert load_knowledge() is before
    assert before.families["Brassicaceae"].least == 2
    assert SOON in before.rules


def test_every_fault_of_an_overlay_is_told_at_once_in_the_order_of_the_file():
    text = (
        "overlay: x\nrules:\n  rotation.family-to-soon: {off: true}\n"
        "  rotation.break-cut-short: {seveity: advice}\nfamilies:\n  Cucurbitaceae: {least: 2, better: 1}\n"
    )
    with pytest.raises(KnowledgeError) as caught:
        load_knowledge(load(text, "club.yaml"))
    assert [str(problem) for problem in caught.value.problems] == [
        "club.yaml:3:28: unknown rule 'rotation.family-to-soon'; did you mean 'rotation.family-too-soon'?",
        "club.yaml:4:39: unknown key 'seveity'; did you mean 'severity'?",
        "club.yaml:6:18: least must be 0 or more, and better not below it or above 50",
    ]


def test_each_set_of_changes_has_a_digest_of_its_own():
    """What is remembered by a digest (an answer at a client, a job's results) must not outlast a change of rules."""
    off, louder = (f"overlay: Club\nrules:\n  {SOON}: {change}\n" for change in ("{off: true}", "{severity: caution}"))
    digests = {load_knowledge().digest, knowledge(off).digest, knowledge(louder).digest}
    assert len(digests) == 3
    assert knowledge(off).digest == knowledge(f"# a remark\n{off}").digest
    assert report(off, *REPEAT).rules_digest == knowledge(off).digest
