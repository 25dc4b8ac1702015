"""Commands that look things up: crops, and the rules with their reasons."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import click

from service.terminal import BAD_INPUT, Stop, colour_wanted, load_knowledge, page_width, put, read_text

if TYPE_CHECKING:
    from rules.knowledge.facts import Crop, Maturity
    from rules.knowledge.known import Knowledge
    from service.text import Page


@click.command()
@click.argument("word", nargs=-1)
def crops(word: tuple[str, ...]) -> int:
    """List the crops by family, or tell what is known of one.

    WORD is any name of a crop in any case, singular or plural, or a word for several
    crops ("onions", "salad").
    """
    from service.text import Page

    knowledge = load_knowledge()
    page = Page(page_width(), colour_wanted())
    if word:
        said = " ".join(word)
        found = knowledge.find_crop(said)
        if found is None:
            near = knowledge.nearest(said)
            raise Stop(f"no crop is called {said!r}" + (f"; nearest: {', '.join(near)}" if near else ""), BAD_INPUT)
        tell_crop(page, found, knowledge)
    else:
        for family in sorted(knowledge.families.values(), key=lambda one: one.name.casefold()):
            names = sorted((one.name for one in knowledge.crops.values() if one.family == family.id), key=str.casefold)
            if not names:
                continue
            page.say(", ".join(names), f"{family.name} ({family.id}): ", how="head", hang=4)
        names = sorted((one.name for one in knowledge.groups.values()), key=str.casefold)
        page.say(", ".join(names), "words for several crops: ", how="head", hang=4)
    put("\n".join(page.lines) + "\n")
    return 0


def tell_crop(page: Page, crop: Crop, knowledge: Knowledge) -> None:
    """Write what is known of a crop or of a word for several crops."""
    from service.traittext import trait_lines
    from service.words import HONEST, as_list, capital, family_name, publishers

    page.head(capital(crop.name))
    say = page.say
    say(crop.id, "id:          ")
    if crop.aliases:
        say(", ".join(crop.aliases), "also called: ")
    if crop.members:
        members = [knowledge.crops[key].name for key in crop.members if key in knowledge.crops]
        say(f"{as_list(members)} (checks use what all of them share)", "stands for:  ")
    if crop.scientific:
        say(crop.scientific, "botanical:   ")
    for key in crop.families or tuple(filter(None, (crop.family,))):
        family = knowledge.families.get(key)
        old = f", once {family.old_name}" if family and family.old_name else ""
        say(f"{family_name(key, knowledge)} ({key}{old})", "family:      ")
        if family is None:
            continue
        if family.exempt:
            say(f"outside the rotation: {family.exempt}", "break:       ")
        else:
            say(
                f"at least {years(family.least)} without the family between two of them, better {years(family.better)}",
                "break:       ",
            )
            if family.other_view and (not crop.members and crop.id in family.other_view.crops):
                who = as_list(publishers(family.other_view.sources, knowledge))
                say(f"{family.other_view.text} ({who})", "other view:  ")
        if family.confused:
            say(family.confused, "mind:        ")
    say(crop.lifecycle, "life:        ")
    if crop.maturity and not crop.members:
        say(_days(crop.maturity), "ready in:    ")
    if crop.over_winter and not crop.members:
        say(_days(crop.over_winter) + ", when it is set in autumn", "over winter: ")
    if crop.note:
        say(crop.note, "note:        ")
    for label, told in trait_lines(crop.traits):
        say(told, f"{label + ':':13}")
    keys = [key for keys in crop.sources.values() for key in keys]
    if keys:
        read = publishers([key for key in keys if key not in HONEST], knowledge)
        rest = publishers([key for key in HONEST if key in keys], knowledge)
        say("; ".join([*read, *rest]), "by:          ")


def years(number: int | None) -> str:
    """ "1 year", "3 years"."""
    return "1 year" if number == 1 else f"{number or 'no'} years"


@click.group("rules")
def rule_commands() -> None:
    """List and explain the rules, or check a file of a club's own."""


@rule_commands.command("list")
def list_rules() -> int:
    """List every rule with its severity or points and its title."""
    lines = []
    for rule in sorted(load_knowledge().rules.values(), key=lambda rule: rule.id):
        weight = f"{rule.severity} {rule.points:+d}" if rule.points else rule.severity
        lines.append(f"{rule.id} ({weight})")
        title = rule.title.replace("{", "(").replace("}", ")")
        lines += textwrap.wrap(title, page_width(), initial_indent="    ", subsequent_indent="    ")
    put("\n".join(lines) + "\n")
    return 0


@rule_commands.command("explain")
@click.argument("rule_id", metavar="ID")
def explain(rule_id: str) -> int:
    """Say what a rule looks for, why, what to do, and on what evidence."""
    knowledge = load_knowledge()
    rule = knowledge.rules.get(rule_id)
    if rule is None:
        near = knowledge.nearest(rule_id, "rule")
        raise Stop(f"no rule is called {rule_id!r}" + (f"; nearest: {', '.join(near)}" if near else ""), BAD_INPUT)
    from rules.knowledge.explain import rule_text

    # An address is left whole, so that it can still be clicked.
    wrap = textwrap.TextWrapper(page_width(), break_long_words=False, break_on_hyphens=False)
    for line in rule_text(rule, knowledge).rstrip("\n").split("\n"):
        wrap.subsequent_indent = "  " if line.startswith("- ") else ""
        put("\n".join(wrap.wrap(line)) + "\n")
    return 0


@rule_commands.command("lint", short_help="Check rule files, or the program's own.")
@click.argument("files", nargs=-1, metavar="[FILE]...")
def lint(files: tuple[str, ...]) -> int:
    """Check rule files, a club's overlay or the program's own when no file is named.

    Looked for: wrong keys and names, sources that nobody cites, two rules that look for the
    same, rules that can never speak, and rules that their own examples do not make speak.
    Every fault is printed as file:line:column: what.
    """
    from rules.knowledge.lint import lint as lint_text
    from service.rehearsal import lint_whole

    whole = not files
    if whole:
        import rules

        own = Path(rules.__file__).parent / "ruleset"
        files = tuple(str(path) for path in sorted(own.rglob("*.yaml")))
    problems = [problem for name in files for problem in lint_text(read_text(name), name)]
    if not problems:
        overlays = (None,) if whole else files
        problems = [problem for name in overlays for problem in lint_whole(name and read_text(name), name or "")]
    if problems:
        said = "1 thing to mend" if len(problems) == 1 else f"{len(problems)} things to mend"
        raise Stop("\n".join([*(f"{one.where}: {one.message}" for one in problems), said]), BAD_INPUT)
    put(f"{len(files)} {'file' if len(files) == 1 else 'files'} in order\n")
    return 0


def _days(maturity: Maturity) -> str:
    low, high, start = maturity.least, maturity.most, maturity.counted_from
    return f"{low} to {high} days from {start}" if low != high else f"{low} days from {start}"
