"""``breakcrop propose``: what to grow where for some years."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from service.planfile import KIND, plan_bytes, telling_faults, today
from service.proposing.limits import MOST_ALTERNATIVES, MOST_YEARS
from service.terminal import BAD_INPUT, FAILURE, Stop, colour_wanted, load_knowledge, page_width, put

if TYPE_CHECKING:
    from rules.planning.propose import Proposal
    from service.proposing.question import Options, Question
    from service.reading import Kind

_STATUS = {"clear": 0, "caution": 1, "breach": 2, "unknown": 3}
#: An hour: beyond it nobody waits at a terminal.
_MOST_SECONDS = 3600


@click.command(short_help="Propose what to grow where for some years.")
@click.argument("plan")
@click.option("--years", type=click.IntRange(1, MOST_YEARS), help="Years to plan (else as the plan says, or 4).")
@click.option("--from", "first", type=click.IntRange(1900, 2199), metavar="YEAR",
              help="First year (else the first that nothing is planned for).")  # fmt: skip
@click.option("--seconds", type=click.FloatRange(1, _MOST_SECONDS), default=10.0, show_default=True,
              help="How long to search at most.")  # fmt: skip
@click.option("--quick", is_flag=True, help="The quick answer alone, without the search.")
@click.option("--keep", multiple=True, metavar="BED[:YEAR]",
              help="Of what the plan has for these years keep only this, and plan the rest anew.")  # fmt: skip
@click.option("--alternatives", type=click.IntRange(0, MOST_ALTERNATIVES), default=0, show_default=True,
              help="Other plans to seek.")  # fmt: skip
@click.option("--into", type=click.Path(path_type=Path), metavar="FOLDER",
              help="Write the proposed plan and each other plan there as well.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(["text", "json", "yaml"]), default="text", show_default=True,
              help="A page, or the proposed plan.")  # fmt: skip
@click.option("--rules", "overlay", metavar="FILE", help="A club's changes to the rule set (YAML).")
@KIND
def propose(
    plan: str,
    years: int | None,
    first: int | None,
    seconds: float,
    quick: bool,
    keep: tuple[str, ...],
    alternatives: int,
    into: Path | None,
    form: str,
    overlay: str | None,
    kind: Kind | None,
) -> int:
    """Propose what to grow in which bed for some years, without breaking a rule.

    PLAN is a file, "-" for standard input, or "demo". Its wishes say what is wanted; without any
    it is what the garden grew last. What it has planned for those years already stays.

    To go on from a proposal, write it down, change what you like, and propose again:

    \b
        breakcrop propose PLAN --format yaml > next.yaml
        breakcrop propose next.yaml --keep kiln --keep quay:2028

    To choose among several, have them all written and go on with the one you like:

    \b
        breakcrop propose PLAN --alternatives 2 --into plans
        breakcrop check plans/other-1.yaml

    Exit status: that of breakcrop check for the proposed plan.
    """
    from service.proposing.question import Options

    options = Options(first, years, 0.0 if quick else seconds, alternatives, keep)
    if into is not None:
        from service.proposing.files import ready, write

        ready(into, alternatives)
    question, proposal = _found(plan, kind, options, overlay)
    _put(question, proposal, form)
    if into is not None:
        for path in write(question, proposal, into):
            click.echo(f"written: {path}", err=True)
    return _STATUS[proposal.report.verdict]


def _found(plan: str, kind: Kind | None, options: Options, overlay: str | None) -> tuple[Question, Proposal]:
    from service.proposing.question import NotAsked, read_question
    from service.proposing.run import NoProposal, proposal_of

    body, found = plan_bytes(plan)
    knowledge = load_knowledge(overlay)
    try:
        with telling_faults(plan):
            question = read_question(body, kind or found, options, knowledge, today)
        return question, proposal_of(question, knowledge, options.seconds)
    except NotAsked as error:
        raise Stop("\n".join(f"--{name}: {said}" for name, said in error.faults), BAD_INPUT) from None
    except NoProposal as error:
        raise Stop(str(error), FAILURE) from None


def _put(question: Question, proposal: Proposal, form: str) -> None:
    if form == "text":
        from service.proposing.text import proposal_text

        put(proposal_text(question, proposal, width=page_width(), colour=colour_wanted()))
        return
    from service.encode import to_bytes
    from service.proposing.document import document_yaml, proposed_document

    document = proposed_document(question, proposal)
    put(document_yaml(document) if form == "yaml" else to_bytes(document) + b"\n")
