"""``breakcrop ask``: a question about a plan, answered in one sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from service.planfile import KIND, open_plan
from service.terminal import USAGE, Stop, put

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge
    from rules.model import Plan
    from service.reading import Kind

#: As ``service.answers.ASKS``, which this module does not import: it would load the engine for ``--help``.
QUESTIONS = ("may", "was", "free", "where", "now", "with", "due", "pick", "cover")


@click.command(short_help="Answer a question in one sentence.")
@click.argument("plan")
@click.argument("question", type=click.Choice(QUESTIONS))
@click.option("--crop", metavar="NAME", help="A crop by any of its names; for free also a family.")
@click.option("--bed", metavar="NAME", help="A bed by its id or name.")
@click.option("--date", metavar="DAY", help="The day, such as 2027-04-20, tomorrow or 20 April (else as_of).")
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True)
@KIND
def ask(
    plan: str, question: str, crop: str | None, bed: str | None, date: str | None, form: str, kind: Kind | None
) -> int:
    """Answer a question about a plan in one sentence that can be read aloud.

    PLAN is a file, "-" for standard input, or "demo". QUESTION is one of: may (CROP go into BED),
    was (what grew in BED), free (when is BED free for CROP), where (can CROP go), now (what can go
    into BED), with (what goes with CROP), due (this week), pick (may I pick BED), cover (when does
    the net come off BED).

    A crop that may go in but usually goes in at another time is a yes; the sentence says when.

    Exit status: 0 yes or told, 1 no or not on record; 64 and above when it could not be answered.
    """
    read, knowledge = open_plan(plan, kind)
    return put_answer(question, read, knowledge, crop=crop, bed=bed, date=date, form=form)


def put_answer(
    question: str,
    read: Plan,
    knowledge: Knowledge,
    *,
    crop: str | None,
    bed: str | None,
    date: str | None,
    form: str,
) -> int:
    """Answer a question about a plan, and return the exit status; ``Stop`` where it cannot be answered."""
    from service.answers import Unanswerable, answered
    from service.answers.spoken import say

    try:
        said = answered(question, read, knowledge, crop=crop, bed=bed, date=date)
    except Unanswerable as fault:
        raise Stop(say(str(fault)), USAGE) from None
    if form == "json":
        from service.encode import to_bytes

        put(to_bytes(said._asdict()) + b"\n")
    else:
        put(f"{said.say}\n")
    return 0 if said.ok else 1
