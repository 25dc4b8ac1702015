"""Runs every rule over a plan, stamps, filters and sorts what they found."""

from __future__ import annotations

from collections.abc import Mapping

from rules.checks.context import Context, Hit, sentence
from rules.checks.hits import all_hits, grave_keys
from rules.checks.outlook import Gap, gaps, outlooks
from rules.checks.unsettled import unsettled
from rules.knowledge.facts import UNPUBLISHED
from rules.knowledge.known import Knowledge
from rules.knowledge.library import load_knowledge
from rules.knowledge.ruleset import Rule
from rules.model import Plan
from rules.planning.fixes import Remedies
from rules.report import SEVERITIES, Finding, Fix, Grounds, NotChecked, Report, Severity, Verdict, counts_for

#: The line that says what a rotation check lacked is told under this rule.
GAP_RULE = "rotation.family-too-soon"
NOTHING = "Nothing is planned in the judged season, so there was nothing to judge."


def check(plan: Plan, knowledge: Knowledge | None = None, *, history: bool = False) -> Report:
    """Judge a plan.

    Parameters
    ----------
    plan
        What grew, grows and is planned; ``plan.judge`` is the window that is judged.
    knowledge
        Facts and rules; the package's own where None.
    history
        Also list what was at fault before the window.

    Returns
    -------
    Report
        The same for the same plan, whatever the order of its plantings.
    """
    knowledge = knowledge or load_knowledge()
    context = Context(plan, knowledge, told="all" if history else "window")
    found = list(all_hits(context))
    hits = [(rule, hit) for rule, hit in found if hit.in_window or history]
    hits.sort(key=lambda pair: _order(context, *pair))
    remedies = Remedies(context, grave_keys(found))
    findings = tuple(_finding(n, rule, hit, remedies) for n, (rule, hit) in enumerate(hits, 1))
    judged = [f for f in findings if f.in_window]
    holes = list(gaps(context))
    return Report(
        rules_version=knowledge.version,
        rules_digest=knowledge.digest,
        overlay=knowledge.overlay,
        as_of=plan.as_of,
        judged=plan.judge,
        judged_season=plan.judged_season,
        verdict=_verdict(judged, bool(holes) or not context.judged),
        score=_score(judged),
        findings=findings,
        not_checked=(*_not_checked(context, holes), *unsettled(context)),
        beds=outlooks(context),
        seasons_read=plan.seasons_read,
        notes=plan.notes if context.judged else (*plan.notes, NOTHING),
    )


def _severity(rule: Rule, hit: Hit) -> Severity:
    """The rule's own, but a help whose conditions are open is no more than advice."""
    return "advice" if hit.unmet else rule.severity


def _order(context: Context, rule: Rule, hit: Hit) -> tuple[object, ...]:
    return (
        SEVERITIES.index(_severity(rule, hit)),
        not hit.in_window,
        min(context.rank[bed] for bed in hit.beds),
        min(p.start for p in hit.plantings),
        rule.id,
        hit.disease or "",
        tuple(sorted((p.crop.id, p.id) for p in hit.plantings)),
    )


def _finding(number: int, rule: Rule, hit: Hit, remedies: Remedies) -> Finding:
    words: Mapping[str, str] = hit.words
    general = sentence(rule.fix.format_map(words))
    fix = Fix(general)
    if rule.severity in ("breach", "caution") and hit.in_window:
        fix = remedies.fix(rule, hit, general)
    sources = hit.sources or rule.evidence.sources
    grade = rule.evidence.grade
    if UNPUBLISHED.issuperset(sources):
        grade = "practice"
    elif grade == "trial" and not set(sources) & set(rule.evidence.sources):
        grade = "guidance"  # the rule rests on trials, this disease's own sources are none of them
    contested = tuple(dict.fromkeys((*rule.evidence.contested_by, *hit.contested_by)))
    title = rule.title.format_map(words)
    if hit.unmet:
        title += ", but only if " + " and ".join(hit.unmet)
    return Finding(
        id=f"f{number}",
        rule=rule.id,
        severity=_severity(rule, hit),
        beds=hit.beds,
        plantings=tuple(p.id for p in hit.plantings),
        title=sentence(title),
        why=sentence(rule.why.format_map(words)),
        because=hit.because,
        fix=fix,
        points=0 if hit.unmet else rule.points,
        effect=rule.effect,
        evidence=Grounds(grade, sources, contested),
        cautions=tuple(dict.fromkeys((*rule.cautions, *hit.cautions))),
        in_window=hit.in_window,
    )


def _verdict(findings: list[Finding], open_questions: bool) -> Verdict:
    found = {f.severity for f in findings}
    if "breach" in found:
        return "breach"
    if "caution" in found:
        return "caution"
    return "unknown" if open_questions else "clear"


def _score(findings: list[Finding]) -> dict[str, int]:
    score = {"pest": 0, "yield": 0, "sequence": 0}
    for finding in findings:
        part = counts_for(finding.rule, finding.effect)
        if part in score:
            score[part] += finding.points
    return score


def _not_checked(context: Context, holes: list[Gap]) -> tuple[NotChecked, ...]:
    by_why: dict[str, list[str]] = {}
    for hole in holes:
        by_why.setdefault(hole.why, []).append(hole.bed)
    return tuple(
        NotChecked(GAP_RULE, why, len(beds), tuple(sorted(set(beds), key=context.rank.__getitem__)))
        for why, beds in sorted(by_why.items())
    )
