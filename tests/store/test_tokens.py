"""Tokens and answers that are given once."""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select

from service.store.errors import Busy, Conflict, KeyReused, NotFound
from service.store.once import KEPT, Answer, Key, forget_expired, once
from service.store.repository import Repository
from service.store.tables import Answered, Token
from service.store.tokens import create_token, find_token, list_tokens, revoke_token

NOW = datetime(2027, 6, 1, tzinfo=UTC)
DAY = date(2027, 5, 2)


@pytest.fixture
def club_id(store, garden_id):
    with store.read() as session:
        return Repository(session).garden(garden_id).club_id


@pytest.fixture
def token_id(store, club_id, garden_id):
    with store.write() as session:
        return create_token(session, club_id, "garden_write", garden_id=garden_id, now=NOW)[0].id


def test_a_secret_finds_its_token_until_it_is_revoked(store, club_id, garden_id):
    with store.write() as session:
        token, secret = create_token(session, club_id, "garden_read", garden_id=garden_id, label="phone", now=NOW)
        other, another = create_token(session, club_id, "club_admin", now=NOW + timedelta(1))
    assert len(secret) == 43  # 32 bytes, six bits a letter
    assert secret != another
    with store.read() as session:
        found = find_token(session, secret)
        assert found == (token.id, token.club_id, garden_id, "garden_read")
        assert find_token(session, another).garden_id is None
        assert find_token(session, secret + "x") is find_token(session, "") is find_token(session, token.digest) is None
        row = session.scalars(select(Token).where(Token.id == token.id)).one()
        assert row.label == "phone"
        assert secret not in [value for value in vars(row).values() if isinstance(value, str)]
    with store.write() as session:
        revoke_token(session, token.id, club_id=club_id, now=NOW)
        assert revoke_token(session, token.id, now=NOW + timedelta(2)).revoked_at == NOW
    with store.read() as session:
        assert find_token(session, secret) is None
        assert [entry.id for entry in list_tokens(session, club_id)] == [token.id, other.id]


@pytest.mark.parametrize(
    ("scope", "for_garden", "error"),
    [
        ("club_admin", True, Conflict),
        ("garden_write", False, Conflict),
        ("calendar", False, Conflict),
        ("all", False, Conflict),
    ],
)
def test_a_token_reaches_what_its_scope_says(store, club_id, garden_id, scope, for_garden, error):
    with pytest.raises(error), store.write() as session:
        create_token(session, club_id, scope, garden_id=garden_id if for_garden else None, now=NOW)
    with store.read() as session:
        assert list_tokens(session, club_id) == []


def test_nobody_makes_or_revokes_a_token_of_another_club(store, club_id, garden_id, token_id):
    with store.write() as session:
        other = Repository(session).add_club("Other", now=NOW)
        with pytest.raises(NotFound):
            create_token(session, other.id, "garden_read", garden_id=garden_id, now=NOW)
        with pytest.raises(NotFound):
            revoke_token(session, token_id, club_id=other.id, now=NOW)


def note(garden_id, text, done=None):
    def work(session):
        line = Repository(session).log(garden_id, {"did": "note", "date": DAY, "note": text}, now=NOW)
        if done is not None:
            done.append(line.id)
        return Answer(201, f"line {line.id}".encode(), {"Location": "/there"})

    return work


def notes(store, garden_id):
    with store.read() as session:
        return [line.note for line in Repository(session).lines(garden_id)]


def test_a_write_sent_twice_happens_once(store, garden_id, token_id):
    key = Key(token_id, "k1", "hash")
    first, again = once(store, key, note(garden_id, "rain"), now=NOW)
    assert (first.status, first.headers, again) == (201, {"Location": "/there"}, False)
    assert once(store, key, note(garden_id, "rain"), now=NOW) == (first, True)
    with pytest.raises(KeyReused):
        once(store, key._replace(body_hash="other"), note(garden_id, "sun"), now=NOW)
    assert once(store, key._replace(key="k2"), note(garden_id, "sun"), now=NOW)[1] is False
    assert once(store, None, note(garden_id, "wind"), now=NOW)[1] is False
    assert notes(store, garden_id) == ["rain", "sun", "wind"]


def test_a_write_that_fails_is_not_remembered(store, garden_id, token_id):
    key = Key(token_id, "k1", "hash")

    def fails(session):
        note(garden_id, "half")(session)
        raise Conflict("no")

    with pytest.raises(Conflict):
        once(store, key, fails, now=NOW)
    assert notes(store, garden_id) == []
    assert once(store, key, note(garden_id, "whole"), now=NOW)[1] is False
    assert notes(store, garden_id) == ["whole"]


def test_an_answer_is_kept_for_a_day(store, garden_id, token_id):
    key = Key(token_id, "k1", "hash")
    once(store, key, note(garden_id, "rain"), now=NOW)
    assert once(store, key, note(garden_id, "rain"), now=NOW + KEPT - timedelta(seconds=1))[1] is True
    assert once(store, key, note(garden_id, "later"), now=NOW + KEPT)[1] is False
    with store.write() as session:
        forget_expired(session, now=NOW + 3 * KEPT)
        assert session.scalars(select(Answered)).all() == []
    assert notes(store, garden_id) == ["rain", "later"]


def test_twins_sent_at_once_get_one_answer(store, garden_id, token_id):
    told, started, done = [], threading.Barrier(4), []

    def send():
        started.wait(10)
        try:
            told.append(once(store, Key(token_id, "k", "hash"), note(garden_id, "rain", done), now=NOW))
        except Busy as error:
            told.append(error)

    threads = [threading.Thread(target=send) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert len({answer.body for answer, _ in told}) == 1
    assert sorted(again for _, again in told) == [False, True, True, True]
    assert notes(store, garden_id) == ["rain"]
