"""Clubs and tokens from the command line: a secret is shown once, and only its digest is kept."""

from __future__ import annotations

import hashlib
import re

import pytest

from service.cli import main
from service.clubcommands import MAY
from service.database import open_store
from service.store.repository import Repository
from service.store.tables import SCOPES, Token
from service.store.tokens import find_token


@pytest.fixture(autouse=True)
def record(tmp_path, monkeypatch):
    """A record of its own with two clubs, one with a garden; the path of its database."""
    path = tmp_path / "record.db"
    monkeypatch.setenv("BREAKCROP_DATABASE_URL", f"sqlite:///{path}")
    assert main(["clubs", "create", "Tannery Row"]) == 0
    assert main(["record", "new", "--name", "Front plot"]) == 0
    assert main(["clubs", "create", "Ropewalk"]) == 0
    return path


@pytest.fixture
def run(capsys):
    """``run(word, ...)``: exit status, what was written and what was complained of."""

    def command(*words):
        capsys.readouterr()
        status = main(list(words))
        written = capsys.readouterr()
        return status, written.out, written.err

    return command


def found(secret):
    """The row of the token that a secret opens; None for one that opens nothing."""
    store = open_store()
    try:
        with store.read() as session:
            opened = find_token(session, secret)
            return opened and session.get(Token, opened.id)
    finally:
        store.close()


def test_clubs_are_listed_with_their_gardens(run):
    lines = run("clubs", "list")[1].splitlines()
    assert re.fullmatch(r"Id +Club +Gardens", lines[0])
    assert re.fullmatch(r"[a-z0-9]{12}  Ropewalk", lines[2])
    assert re.fullmatch(r"[a-z0-9]{12}  Tannery Row  [a-z0-9]{12} Front plot", lines[3])


@pytest.mark.parametrize("name", ["", " ", "x" * 81, "a\x1b[2J"])
def test_a_club_has_a_name_that_fits(run, name):
    status, out, err = run("clubs", "create", name)
    assert (status, out) == (64, "")
    assert err.startswith("the name must ")
    assert "\x1b" not in err


def test_every_scope_says_what_it_may_do():
    assert tuple(MAY) == SCOPES


@pytest.mark.parametrize("scope", [scope for scope in SCOPES if scope != "club_admin"])
def test_a_token_opens_one_garden_and_its_secret_is_shown_once(run, record, scope):
    words = ("tokens", "create", "--club", "tannery row", "--scope", scope, "--label", "my phone")
    status, out, _ = run(*words)
    secret, _, *told = out.splitlines()
    token = found(secret)
    assert (status, token.scope, token.label, token.garden_id is None) == (0, scope, "my phone", False)
    assert told[0] == f"This is the secret of token {token.id}, for Front plot."
    assert MAY[scope] in " ".join(told)
    assert token.digest == hashlib.sha256(secret.encode()).hexdigest()
    kept = b"".join(path.read_bytes() for path in record.parent.glob("record.db*"))
    assert secret.encode() not in kept
    listed = run("tokens", "list", "--club", "tannery row")[1]
    assert secret not in listed
    assert re.search(rf"{token.id}  {scope} +Front plot +\d{{4}}-\d\d-\d\d  in use  my phone", listed)
    assert run("tokens", "revoke", token.id)[:2] == (0, f"Token {token.id} opens nothing any more.\n")
    assert found(secret) is None
    assert re.search(rf"{token.id} .* revoked \d{{4}}-", run("tokens", "list", "--club", "tannery row")[1])


def test_a_quiet_token_is_the_secret_alone(run):
    status, out, err = run("tokens", "create", "--club", "Ropewalk", "--scope", "club_admin", "--quiet")
    assert (status, err) == (0, "")
    assert re.fullmatch(r"[A-Za-z0-9_-]{43}\n", out)
    token = found(out.strip())
    assert (token.scope, token.garden_id) == ("club_admin", None)


@pytest.mark.parametrize(
    ("words", "status", "wanted"),
    [
        (("--scope", "garden_read"), 65, "2 clubs are on record; say which with --club:\n"),
        (("--club", "Ropewalk", "--scope", "garden_read"), 65, "No garden is on record yet"),
        (("--club", "Ropewalk", "--scope", "garden_read", "--garden", "Front plot"), 65, "No garden is on record yet"),
        (("--club", "Tannery Row", "--scope", "club_admin", "--garden", "Front plot"), 64, "a club admin's token is"),
        (("--club", "Tannery Row", "--scope", "garden_read", "--garden", "Back"), 65, "no garden is called 'Back'"),
        (("--club", "Tannery Row", "--scope", "garden_read", "--label", "x" * 81), 64, "the label must "),
        (("--club", "Tannery Row", "--scope", "all"), 64, "Invalid value for '--scope'"),
        (("--club", "Tannery Row"), 64, "Missing option '--scope'"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_and_makes_no_token(run, words, status, wanted):
    found_status, out, err = run("tokens", "create", *words)
    assert (found_status, out) == (status, "")
    assert err.startswith(wanted)
    store = open_store()
    with store.read() as session:
        clubs = [club.id for club in Repository(session).clubs()]
    store.close()
    assert len(clubs) == 2
    assert run("tokens", "list", "--club", "Tannery Row")[1] == "Tannery Row has no tokens.\n"


def test_a_token_that_is_not_there_cannot_be_revoked(run):
    assert run("tokens", "revoke", "none") == (65, "", "There is no token none.\n")
