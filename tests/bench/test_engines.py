"""The questions that all rule engines are asked, and that none of them may answer differently."""

from dataclasses import replace

import pytest
from engines import HEADER, LOOP, OURS, Engine, Limit, Row, loop, ours, questions_of, rows_of, side_by_side, timed
from libraries import libraries

import rules

COUNT = 400


@pytest.fixture(scope="module")
def knowledge():
    return rules.load_knowledge()


@pytest.fixture(scope="module")
def questions(knowledge):
    return questions_of(knowledge, COUNT)


def test_every_pair_rule_is_asked(knowledge):
    assert [row.rule for row in rows_of(knowledge)] == [rule.id for rule in knowledge.by_kind["pair"]]


def test_the_table_answers_as_the_rows_do(knowledge, questions):
    ask, check = ours(knowledge).load(), loop(rows_of(knowledge)).load()
    answers = [check(question) for question in questions]
    assert [ask(question) for question in questions] == answers
    # Not by silence: many questions have an answer, and many have none.
    assert COUNT / 4 < sum(map(bool, answers)) < COUNT * 3 / 4
    assert len({rule for answer in answers for rule, _ in answer}) > len(rows_of(knowledge)) / 2


def test_questions_are_the_same_each_time(knowledge, questions):
    assert questions_of(knowledge, COUNT) == questions
    assert questions_of(knowledge, COUNT, seed=2) != questions


def test_a_condition_that_no_engine_can_be_told_is_an_error(knowledge):
    rule = knowledge.by_kind["pair"][0]
    odd = replace(rule, options={**rule.options, "only_if": {"moon": "full"}})
    with pytest.raises(RuntimeError, match="moon"):
        rows_of(replace(knowledge, by_kind={"pair": (odd,)}))


def test_each_condition_is_put_as_the_rule_has_it(knowledge):
    rule = knowledge.by_kind["pair"][0]
    only_if = {
        "together": 20, "within_m": 2, "a_before_b": [None, 30], "young": 40, "out_by": 56, "plants": [0.1, 0.2],
        "ground": ["raised"], "treated": True, "also": "the moon is full",
    }  # fmt: skip
    conditioned = replace(rule, options={**rule.options, "only_if": only_if})
    (row,) = rows_of(replace(knowledge, by_kind={"pair": (conditioned,)}))
    assert set(row.limits) == {
        Limit("days", ">=", 20), Limit("metres", "<=", 2), Limit("ahead", "<=", 30), Limit("ahead", "<=", 26),
        Limit("out", "<=", 56), Limit("share", ">=", 0.1), Limit("share", "<=", 0.2),
        Limit("ground", "in", ("raised",)), Limit("treated", "==", True),
    }  # fmt: skip


def test_an_engine_that_answers_differently_is_an_error(knowledge, questions):
    rows = rows_of(knowledge)
    wrong = replace(loop([*rows[1:], Row("interplant.no-such-rule", False, rows[0].a, rows[0].b, ())]), name="wrong")
    with pytest.raises(RuntimeError, match=r"wrong differs by .*interplant\."):
        timed([loop(rows), wrong], questions, rounds=1)


def test_the_table_names_what_is_not_installed(knowledge):
    absent = Engine("Absent", lambda: pytest.fail("it is not here"), "breakcrop-absent")
    text = side_by_side(knowledge, [absent], 30, 1)
    assert text.splitlines()[0].split() == " | ".join(["", *HEADER, ""]).split()
    assert OURS in text
    assert LOOP in text
    assert "not measured: breakcrop-absent" in text


def test_only_a_table_without_rules_is_empty(knowledge):
    assert "nothing to ask" in side_by_side(replace(knowledge, by_kind={}), [], 30, 1)


def test_libraries_that_are_here_agree(knowledge):
    rows = rows_of(knowledge)
    text = side_by_side(knowledge, libraries(rows), 60, 1)
    for engine in libraries(rows):
        assert engine.name in text or engine.package in text
