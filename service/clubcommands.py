"""``breakcrop clubs`` and ``breakcrop tokens``: who keeps gardens here, and who may do what with them."""

from __future__ import annotations

import textwrap
from datetime import UTC, datetime

import click

from service.recordstore import CLUB, changing, reading, the_club, the_garden
from service.terminal import USAGE, Stop, page_width, put

#: What a token of each scope may do; the keys are ``service.store.tables.SCOPES``.
MAY = {
    "club_admin": "read, change, make and remove every garden of the club",
    "garden_write": "read this garden, log in its journal and change its beds and plantings",
    "garden_read": "read this garden, with its journal, and nothing else",
    "publishable_read": "read what of this garden may be shown to anyone; it may stand in a public web page",
    "calendar": "read this garden's calendar by its own link, and nothing else",
}


@click.group(short_help="Keep clubs: who owns gardens.")
def clubs() -> None:
    """Keep clubs. A club, or a household, owns gardens."""


@clubs.command("create")
@click.argument("name")
def create_club(name: str) -> int:
    """Create a club."""
    from service.schemas.fields import Name, Refused

    try:
        read = Name().read(name)
    except Refused:
        raise Stop(f"the name {Name().complaint(name)}", USAGE) from None
    with changing() as repository:
        club = repository.add_club(read, now=datetime.now(UTC))
    put(f"{club.name} is on record, its id is {club.id}.\n")
    return 0


@clubs.command("list")
def list_clubs() -> int:
    """List the clubs and their gardens."""
    from service.tables import columns

    with reading() as repository:
        rows = []
        for club in repository.clubs():
            gardens = repository.gardens(club.id)
            rows.append((club.id, club.name, "\n".join(f"{g.id} {g.name or ''}".rstrip() for g in gardens)))
    put("\n".join(columns(("Id", "Club", "Gardens"), rows) if rows else ["No club is on record yet."]) + "\n")
    return 0


@click.group(short_help="Make, list and revoke tokens.")
def tokens() -> None:
    """Make, list and revoke tokens: the secrets that let phones, pages and people in."""


@tokens.command("create")
@CLUB
@click.option("--scope", required=True, type=click.Choice(list(MAY)), help="What it may do.")
@click.option("--garden", metavar="NAME", help="The garden that it opens, by name or id; otherwise the only one.")
@click.option("--label", metavar="TEXT", help="What it is for, to know it again in the list.")
@click.option("--quiet", is_flag=True, help="Print the secret alone.")
def create_token(club: str | None, scope: str, garden: str | None, label: str | None, quiet: bool) -> int:
    """Make a token. Its secret is shown this once: the record keeps only a digest of it.

    A club admin's token reaches the whole club; every other opens one garden.
    """
    from service.schemas.fields import Name, Refused
    from service.store import tokens as kept

    if garden is not None and scope == "club_admin":
        raise Stop("a club admin's token is for the whole club; leave out --garden", USAGE)
    try:
        known = None if label is None else Name().read(label)
    except Refused:
        raise Stop(f"the label {Name().complaint(label)}", USAGE) from None
    with changing() as repository:
        owner = the_club(repository, club)
        opens = None if scope == "club_admin" else the_garden(repository, garden, club_id=owner.id)
        token, secret = kept.create_token(
            repository.session,
            owner.id,
            scope,
            garden_id=opens.id if opens else None,
            label=known,
            now=datetime.now(UTC),
        )
        where = f"all gardens of {owner.name}" if opens is None else opens.name or f"garden {opens.id}"
    if quiet:
        put(f"{secret}\n")
        return 0
    told = f"It may {MAY[scope]}. It is not shown again."
    if scope != "publishable_read":
        told += " Keep it safe: whoever has it may do the same."
    put(
        f"{secret}\n\nThis is the secret of token {token.id}, for {where}.\n"
        + textwrap.fill(told, page_width())
        + f"\nTake it back with: breakcrop tokens revoke {token.id}\n"
    )
    return 0


@tokens.command("list")
@CLUB
def list_tokens(club: str | None) -> int:
    """List a club's tokens, without their secrets."""
    from service.store import tokens as kept
    from service.tables import columns

    with reading() as repository:
        owner = the_club(repository, club)
        names = {garden.id: garden.name or garden.id for garden in repository.gardens(owner.id)}
        rows = [
            (
                token.id,
                token.scope,
                names.get(token.garden_id or "", "the whole club"),
                f"{token.created_at:%Y-%m-%d}",
                f"revoked {token.revoked_at:%Y-%m-%d}" if token.revoked_at else "in use",
                token.label or "",
            )
            for token in kept.list_tokens(repository.session, owner.id)
        ]
    header = ("Id", "Scope", "Opens", "Made", "State", "Label")
    put("\n".join(columns(header, rows) if rows else [f"{owner.name} has no tokens."]) + "\n")
    return 0


@tokens.command("revoke")
@click.argument("token")
def revoke_token(token: str) -> int:
    """Make a token worthless at once, by its id (see tokens list)."""
    from service.store import tokens as kept

    with changing() as repository:
        kept.revoke_token(repository.session, token, now=datetime.now(UTC))
    put(f"Token {token} opens nothing any more.\n")
    return 0
