"""What was wanted and found its place, and what did not: why, and what would help."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from service.tables import blocks
from service.words import as_list, capital, tame

if TYPE_CHECKING:
    from rules.planning.propose import Proposal, Unplaced, Wish
    from service.text import Page

#: Results of counting that are told beside the reasons.
_COUNTS = 3
_NONE = "-"
_PARTS = ("", "1/4", "1/2", "3/4")
#: The help that always helps, and so goes without saying.
_LESS = "fewer"


def wanted(page: Page, proposal: Proposal, horizon: range) -> None:
    """A table of what fell short, what is as wanted, and each reason once."""
    page.head("What was wanted")
    short = {one.wish for one in proposal.unplaced}
    full = {tame(one.wish.crop.plural) for one in proposal.placed if one.wish not in short}
    if full:
        page.say(f"{as_list(sorted(full, key=str.casefold))}.", "Placed as wanted: ", how="head")
    if not short:
        return
    page.say("What falls short, in beds:", hang=0)
    page.lines.append("")
    rows = [
        (tame(wish.crop.plural), *_years(proposal, wish, horizon))
        for wish in dict.fromkeys(one.wish for one in proposal.unplaced)
    ]
    for block in blocks(("", *map(str, horizon)), rows, width=page.width, keep=1):
        page.lines += [*block, ""]
    for reason, ones in _by_reason(proposal.unplaced).items():
        page.say(f"{_closed(capital(reason))} Short of room: {_named(ones)}.")
        helps = dict.fromkeys(one.relaxation.text for one in ones if one.relaxation and one.relaxation.kind != _LESS)
        if helps:
            page.say(" ".join(_closed(capital(text)) for text in helps), "What would help: ", indent=2, how="head")
    told = {one.reason for one in proposal.unplaced}
    counts = [text for text in proposal.counting if text not in told]
    for text in counts[:_COUNTS]:
        page.say(_closed(text), "By counting: ", how="head")
    if len(counts) > _COUNTS:
        page.say(f"{len(counts) - _COUNTS} more that cannot fit by counting.", hang=0)
    if any(one.relaxation and one.relaxation.kind == _LESS for one in proposal.unplaced):
        page.say("Ask for less of what falls short, and all that is placed above still fits.", hang=0)


def amount_words(amount: float) -> str:
    """Beds as a short number: "2", "1/4", "1 1/2".

    >>> [amount_words(amount) for amount in (2.0, 0.25, 1.5, 0.3)]
    ['2', '1/4', '1 1/2', '0.3']
    """
    quarters = round(amount * 4)
    whole, rest = divmod(quarters, 4)
    if abs(amount * 4 - quarters) > 0.01:
        return f"{amount:g}"
    return " ".join([str(whole)] * bool(whole or not rest) + [_PARTS[rest]] * bool(rest))


def _years(proposal: Proposal, wish: Wish, horizon: range) -> Iterable[str]:
    """What a wish got of what it asked for in each year: "1/2 of 2"."""
    got = {one.year: one.amount for one in proposal.placed if one.wish == wish}
    lacks = {one.year: one.amount for one in proposal.unplaced if one.wish == wish}
    for year in horizon:
        has, lack = got.get(year, 0.0), lacks.get(year, 0.0)
        asked = f" of {amount_words(has + lack)}" if lack else ""
        yield f"{amount_words(has) if has else 'none'}{asked}" if has or lack else _NONE


def _by_reason(unplaced: Sequence[Unplaced]) -> dict[str, list[Unplaced]]:
    reasons: defaultdict[str, list[Unplaced]] = defaultdict(list)
    for one in unplaced:
        reasons[one.reason].append(one)
    return dict(reasons)


def _named(ones: Sequence[Unplaced]) -> str:
    """ "garlic in 2027 and 2028; kale in 2027"."""
    years: defaultdict[str, list[int]] = defaultdict(list)
    for one in ones:
        years[tame(one.wish.crop.plural)].append(one.year)
    return "; ".join(f"{crop} in {as_list(map(str, sorted(set(of))))}" for crop, of in years.items())


def _closed(text: str) -> str:
    return text if text.endswith((".", "?")) else f"{text}."
