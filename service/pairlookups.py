"""The command that tells what is known of two crops side by side."""

from __future__ import annotations

import click

from service.terminal import BAD_INPUT, USAGE, Stop, colour_wanted, load_knowledge, page_width, put


@click.command(short_help="Tell what two crops do to each other.")
@click.argument("crops", nargs=-1, metavar="ONE OTHER")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text",
              show_default=True, help="How to write the answer.")  # fmt: skip
@click.option("--rules", "overlay", metavar="FILE", help="A club's changes to the rule set (YAML).")
def pairs(crops: tuple[str, ...], form: str, overlay: str | None) -> int:
    """Tell what is known of two crops side by side.

    ONE and OTHER are any names of crops in any case, singular or plural, or words for
    several crops ("onions"); a name of several words stands in quotes ("broad bean").
    """
    from rules import pairs as ask
    from service.pairentries import NoCrop, find_crop, pair_entry

    if len(crops) != 2:
        raise Stop('name two crops, one of several words in quotes: breakcrop pairs "broad bean" cabbage', USAGE)
    knowledge = load_knowledge(overlay)
    found, faults = [], []
    for word in crops:
        crop = find_crop(word, knowledge)
        if isinstance(crop, NoCrop):
            faults.append("; ".join(filter(None, (crop.what, crop.hint))))
        else:
            found.append(crop)
    if faults:
        raise Stop("\n".join(faults), BAD_INPUT)
    answer = ask(found[0], found[1], knowledge)
    if form == "json":
        from service.encode import to_bytes

        put(to_bytes(pair_entry(answer, knowledge)) + b"\n")
    else:
        from service.pairtext import pair_text

        put(pair_text(answer, knowledge, width=page_width(), colour=colour_wanted()))
    return 0
