"""What is known of two crops side by side, as a page that a member understands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rules.knowledge.explain import measured_text
from service.cautiontext import Cautions
from service.pairentries import meant
from service.text import WIDTH, Page
from service.words import as_list, capital, evidence_words, family_name

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.pairing.answer import PairAnswer, Statement

COUNTS = {"pest": "pests", "yield": "yield"}


def pair_text(answer: PairAnswer, knowledge: Knowledge, *, width: int = WIDTH, colour: bool = False) -> str:
    """The answer as plain text of at most ``width`` (40 to 80) columns, the summary first."""
    page = Page(width, colour)
    a, b = answer.a, answer.b
    page.head(f"{capital(a.plural)} and {b.plural}")
    page.say(answer.summary, hang=0)
    if a.id == b.id:
        return "\n".join(page.lines) + "\n"
    counted = [one for one in answer.statements if one.behind is None]
    sums = [f"{COUNTS[effect]} {points:+d}" for effect, points in answer.points.items() if points]
    if sums:
        open_ = any(one.conditions and one.points and one.sure for one in counted)
        page.say(as_list(sums) + (", where every condition is met" if open_ else ""), "Points: ")
    for crop in (a, b):
        if crop.members:
            members = as_list(knowledge.crops[key].plural for key in crop.members if key in knowledge.crops)
            page.say(f'"{capital(crop.plural)}" here means {members}.', "Note: ")
    cautions = Cautions((one.cautions for one in counted), knowledge)
    for one in counted:
        page.lines.append("")
        _statement(page, one, knowledge, cautions)
    _behind(page, answer)
    _shared(page, answer, knowledge)
    if answer.traits:
        page.head("What follows from how they grow")
        for text in answer.traits:
            page.say(text)
    return "\n".join(page.lines) + "\n"


def points_words(one: Statement) -> str:
    """ "pests: helps +2"; with whom, where only one of the two gains or loses."""
    verb = "helps" if one.points > 0 else "harms"
    whom = "" if one.both_ways else f" the {one.on.plural}"
    return f"{COUNTS.get(one.effect, one.effect)}: {verb}{whom}, {one.points:+d}"


def _statement(page: Page, one: Statement, knowledge: Knowledge, cautions: Cautions) -> None:
    page.say(one.title, f"{capital(one.severity)}: ", how=one.severity)
    page.say(one.why, "Why:      ", 2)
    if one.points:
        page.say(points_words(one), "Points:   ", 2)
    if not one.sure:
        page.say(capital(meant(one, knowledge)), "Mind:     ", 2)
    for condition in one.conditions:
        page.say(f"{condition}.", "Only if:  ", 2)
    if one.measured:
        page.say("; ".join(measured_text(figure) for figure in one.measured) + ".", "Measured: ", 2)
    page.say(evidence_words(one.evidence, knowledge), "Evidence: ", 2)
    if one.against:
        page.say(one.against, "But:      ", 2)
    page.say(one.fix, "Do:       ", 2)
    cautions.tell(page, one.cautions)
    page.say(one.rule, "Rule:     ", 2)


def _behind(page: Page, answer: PairAnswer) -> None:
    """What a rule for a whole group or family says, where one for these very crops is counted instead."""
    less = [one for one in answer.statements if one.behind is not None]
    if less:
        page.head("Said more widely, and not counted here")
    for one in less:
        page.say(f"{one.title}. {one.behind} speaks for these crops themselves.", f"{one.rule}: ", hang=4)


def _shared(page: Page, answer: PairAnswer, knowledge: Knowledge) -> None:
    family, pests = answer.family, answer.shared_pests
    if not (family or pests or answer.shared_diseases):
        return
    page.head("What they share")
    if family:
        page.say(f"{family_name(family, knowledge)} ({family})", "Family:   ")
    own = [one.name for one in pests if not one.wide]
    wide = [one.name for one in pests if one.wide]
    if own:
        page.say(f"{as_list(own)}.", "Pests:    ")
    if wide:
        page.say(f"{as_list(wide)}, as most crops do.", "Also:     ")
    if answer.shared_diseases:
        page.say(f"{as_list(one.name for one in answer.shared_diseases)}.", "Diseases: ")
