"""Finds what stands in the fact files and is named by nothing: sources nobody cites, cautions nobody gives."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rules.knowledge.factfiles import Facts
from rules.knowledge.ruleset import Rule
from rules.knowledge.shapes import Problem
from rules.knowledge.yamlfile import Located


def orphans(facts: Facts, rules: Mapping[str, Rule], sources: Located, cautions: Located) -> list[Problem]:
    """A problem, with its place, for each source and each caution that no fact and no rule names."""
    cited = set(_cited(facts, rules))
    given: set[str] = set()
    for disease in facts.diseases.values():
        given.update(disease.cautions)
    for pest in facts.pests.values():
        given.update(pest.cautions)
    for control in facts.controls.values():
        given.update(control.cautions)
    for rule in rules.values():
        given.update(rule.cautions)
    return [
        Problem(sources.at("sources", key), f"the source {key!r} is cited nowhere; remove it")
        for key in facts.sources
        if key not in cited
    ] + [
        Problem(cautions.at("cautions", key), f"the caution {key!r} is given nowhere; name it or remove it")
        for key in facts.cautions
        if key not in given
    ]


def _cited(facts: Facts, rules: Mapping[str, Rule]) -> Iterator[str]:
    for family in facts.families.values():
        yield from family.other_view.sources if family.other_view else ()
    sourced = (facts.families, facts.crops, facts.groups, facts.diseases, facts.pests, facts.controls)
    timed = (facts.hardiness, facts.common, facts.setting)
    for things in (*sourced, *timed):
        for thing in things.values():
            for keys in thing.sources.values():
                yield from keys
    for caution in facts.cautions.values():
        yield from caution.sources
    for reach in facts.reach.values():
        yield from reach.sources
    for survival in facts.survival.values():
        yield from survival.sources
    for threshold in facts.thresholds.values():
        for view in threshold.views:
            yield from view.sources
    for rule in rules.values():
        yield from rule.evidence.sources
        yield from rule.evidence.contested_by
