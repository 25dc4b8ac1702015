"""The command that looks up pests: where they live, what they feed on, and what can be done."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.terminal import BAD_INPUT, Stop, colour_wanted, load_knowledge, page_width, put

if TYPE_CHECKING:
    from rules.knowledge.facts import Control, Pest
    from rules.knowledge.known import Knowledge
    from service.text import Page

GROUPS = {
    "beetle": "beetles", "moth_butterfly": "moths and butterflies", "fly": "flies", "true_bug": "bugs",
    "aphid": "aphids", "thrips": "thrips", "mite": "mites", "mollusc": "slugs and snails", "isopod": "woodlice",
    "nematode": "nematodes", "soil_insect": "soil insects", "other_insect": "other insects",
    "vertebrate": "birds and other animals",
}  # fmt: skip

#: Countries that the facts name one by one.
COUNTRIES = {
    "AU": "Australia", "CA": "Canada", "GB": "Great Britain", "IE": "Ireland", "JP": "Japan", "NZ": "New Zealand",
    "PT": "Portugal", "TR": "Turkey", "US": "the United States",
}  # fmt: skip


@click.command()
@click.argument("word", nargs=-1)
def pests(word: tuple[str, ...]) -> int:
    """List the pests by kind, or tell what is known of one and what can be done.

    WORD is any name of a pest in any case, singular or plural; a word that several share
    ("flea beetle") lists them.
    """
    from service.text import Page

    knowledge = load_knowledge()
    page = Page(page_width(), colour_wanted())
    if not word:
        for group, label in GROUPS.items():
            names = sorted((one.name for one in knowledge.pests.values() if one.group == group), key=str.casefold)
            if names:
                page.say(", ".join(names), f"{label}: ", how="head", hang=4)
    else:
        said = " ".join(word)
        found = knowledge.find_pest(said)
        several = [] if found else pests_called(said, knowledge)
        if found:
            tell_pest(page, found, knowledge)
        elif several:
            page.say(", ".join(several), f"several pests are called {said}: ", hang=4)
        else:
            near = knowledge.nearest(said, "pest")
            raise Stop(f"no pest is called {said!r}" + (f"; nearest: {', '.join(near)}" if near else ""), BAD_INPUT)
    put("\n".join(page.lines) + "\n")
    return 0


def pests_called(word: str, knowledge: Knowledge) -> list[str]:
    """Names of the pests whose names have a word (or its singular) in them, as a whole word."""
    from rules.knowledge.names import normal, singulars

    wanted = [normal(word), *singulars(normal(word))]
    return sorted(
        one.name
        for one in knowledge.pests.values()
        if any(f" {key} " in f" {normal(name)} " for key in wanted if key for name in (one.name, *one.aliases))
    )


def tell_pest(page: Page, pest: Pest, knowledge: Knowledge) -> None:
    """Write what is known of a pest, the controls meant for it, and every caution that goes with them."""
    from rules.knowledge.pestshapes import VOCABULARY
    from service.words import HONEST, as_list, capital, family_name, publishers

    page.head(capital(pest.name))
    say = page.say
    say(pest.id, "id:          ")
    called = [alias for alias in pest.aliases if not _is_plural(alias, (pest.name, *pest.aliases))]
    if called:
        say(", ".join(called), "also called: ")
    if pest.scientific:
        say(pest.scientific, "species:     ")
    if pest.regions_text or pest.regions or pest.absent_from:
        say(place_words(pest), "lives in:    ")
    single = sorted((knowledge.crops[key].plural for key in pest.hosts if key in knowledge.crops), key=str.casefold)
    whole = "".join(f", all of the {family_name(key, knowledge)}" for key in pest.host_families)
    say(", ".join(single) + whole + (", and most other crops" if pest.wide else ""), "feeds on:    ")
    if pest.preferred:
        say(as_list(sorted(knowledge.crops[key].plural for key in pest.preferred)), "likes best:  ")
    if pest.non_hosts:
        say(as_list(sorted(knowledge.crops[key].plural for key in pest.non_hosts)), "spares:      ")
    bridges = [*sorted(knowledge.crops[key].plural for key in pest.bridge_crops), *pest.bridge_plants]
    if bridges:
        say(as_list(bridges), "bridges:     ")
    said = {name: words[getattr(pest, name)] for name, words in VOCABULARY.items() if getattr(pest, name)}
    if pest.group != "vertebrate":  # What winters in soil or litter; an animal only comes and goes.
        say(said["overwinters"], "winter:      ")
        say(said["emerges_from_bed"], "last bed:    ")
    if "emerges_same_season" in said:
        say(said["emerges_same_season"], "this season: ")
    say(said["mobility"], "gets about:  ")
    say(pest.season, "season:      ")
    say(pest.susceptible_stage, "at risk:     ")
    if pest.max_mesh_mm is None:
        say("no mesh by itself; see the note" if "mesh" in pest.notes else "no mesh keeps it out", "cover:       ")
    else:
        say(f"mesh of {pest.max_mesh_mm:g} mm or finer", "cover:       ")
    say(said["rotation_helps"], "rotation:    ")
    if pest.carries:
        say(pest.carries, "carries:     ")
    for note in pest.notes.values():
        say(note, "note:        ")
    controls = knowledge.controls_of(pest.id)
    if controls:
        page.head("What can be done, least harm first")
        for control in controls:
            tell_control(page, control)
    tell_cautions(page, [*pest.cautions, *(key for control in controls for key in control.cautions)], knowledge)
    keys = [key for thing in (pest, *controls) for keys in thing.sources.values() for key in keys]
    page.head("By")
    read = publishers([key for key in keys if key not in HONEST], knowledge)
    say("; ".join([*read, *publishers([key for key in HONEST if key in keys], knowledge)]))


def _is_plural(word: str, names: tuple[str, ...]) -> bool:
    """Whether a name is only the plural of another of the names."""
    from rules.knowledge.names import normal, singulars

    return not {normal(name) for name in names if name != word}.isdisjoint(singulars(normal(word)))


def place_words(pest: Pest) -> str:
    """Where a pest lives and where not, in words."""
    from rules.knowledge.pestshapes import REGIONS
    from service.words import as_list

    def named(words: tuple[str, ...]) -> str:
        return as_list(REGIONS[word][0] if word in REGIONS else COUNTRIES.get(word, word) for word in words)

    parts = [pest.regions_text or named(pest.regions) or "wherever its hosts grow"]
    if pest.absent_from:
        parts.append(f"not in {named(pest.absent_from)}")
    return "; ".join(parts)


def tell_control(page: Page, control: Control) -> None:
    """Write a control: when, how, how often, on what evidence and what to mind."""
    from rules.knowledge.pestshapes import STEPS
    from service.words import GRADES, capital

    page.say(f"{capital(control.name)} ({STEPS[control.step]})")
    page.say(control.when, "When:     ", 2)
    page.say(control.how, "How:      ", 2)
    for label, text in (("Again:    ", control.reapply), ("Picking:  ", control.before_harvest)):
        if text:
            page.say(text, label, 2)
    page.say(GRADES[control.grade] + (f": {control.evidence}" if control.evidence else ""), "Evidence: ", 2)
    for who, text in control.mind.items():
        page.say(f"{who}: {text}", "Mind:     ", 2)


def tell_cautions(page: Page, keys: list[str], knowledge: Knowledge) -> None:
    """Write cautions, each once, with who to defer to."""
    if keys:
        page.head("Cautions")
    for key in dict.fromkeys(keys):
        caution = knowledge.cautions[key]
        page.say(f"{caution.text.rstrip('.')}. Defer to: {caution.defer_to}.")
