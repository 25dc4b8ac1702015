"""The benchmark measures what it says; how fast anything is, no test asks."""

import json
import threading
from contextlib import contextmanager
from datetime import date

import pytest
from figures import QUICK, SIZES, USUAL, cold_row, reader
from marshmallow import ValidationError, fields
from measure import HEADER, Row, Target, in_turn, table
from plain import plain, plain_plan
from plans import body, plan
from run import document, machine
from serve import echo, threads
from variants import VARIANTS, bodies, variant
from werkzeug.serving import make_server

import rules
from service.schemas.plan import PlanSchema, plan_schema
from service.schemas.rows import REMEMBERED, Group, Rows

UNMEASURED = Row("load", "no wrk here", "none set")


@contextmanager
def serving(app):
    server = make_server("127.0.0.1", 0, app, threaded=True)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.mark.parametrize("size", [USUAL, *SIZES])
def test_a_plan_has_the_size_asked_for(size):
    assert len(plan(size)["plantings"]) == size
    assert len(variant(size, 3)["plantings"]) == size


@pytest.mark.parametrize("sent", [body(USUAL), *bodies(USUAL, 3), body(SIZES[1])])
def test_a_plan_is_read_and_judged(sent):
    knowledge = rules.load_knowledge()
    read = reader(knowledge)(sent)
    assert len(read.plantings) == len(json.loads(sent)["plantings"])
    report = rules.check(read, knowledge)
    # Beds with a fault and beds without: finding, mending and passing over are all measured.
    bad = {bed for finding in report.findings if finding.fix.actions for bed in finding.beds}
    assert 0 < len(bad) < len(read.beds)


def test_variants_share_no_id_and_outgrow_the_readers_memory():
    ids = [{row["id"] for row in json.loads(document)["plantings"]} for document in bodies(USUAL)]
    assert len(set().union(*ids)) == USUAL * VARIANTS > REMEMBERED


def test_plain_load_and_rows_give_equal_values():
    for bench_plan in (plan(USUAL), variant(USUAL, 5)):
        quick = plan_schema().load(bench_plan)
        assert quick == plain_plan().load(bench_plan)
        assert type(quick["plantings"][0]["start"]) is date


def test_plain_load_finds_what_rows_find():
    document = plan(USUAL)
    document["plantings"][7]["count"] = 2.5
    document["beds"][2]["position"] = {"x": 1}
    messages = []
    for schema in (plan_schema(), plain_plan()):
        with pytest.raises(ValidationError) as found:
            schema.load(document)
        messages.append(found.value.messages)
    assert messages[0] == messages[1]
    assert set(messages[0]) == {"plantings", "beds"}


def test_plain_means_no_quick_reader_anywhere():
    def parts(schema):
        for field in schema._declared_fields.values():
            yield type(field)
            if isinstance(field, fields.Nested):
                yield from parts(field.nested)

    assert {Rows, Group}.isdisjoint(parts(plain(PlanSchema)))
    assert type(plain(PlanSchema)._declared_fields["plantings"]) is fields.Nested
    assert {Rows, Group} <= set(parts(PlanSchema))


@pytest.mark.parametrize(
    ("target", "value", "met"),
    [
        (Target("at most", 0.5), 0.5, "yes"),
        (Target("at most", 0.5), 0.51, "no"),
        (Target("at least", 0.25), 0.25, "yes"),
        (Target("at least", 0.25), 0.24, "no"),
        (Target("at most", 0.6, "{:.1f} s"), None, "-"),
    ],
)
def test_met_is_computed(target, value, met):
    assert Row("what", "figures", target, value, value).met == met


def test_the_table_renders():
    rows = [Row("reading", "1 ms; 4 ms", Target("at most", 0.5), 0.25, 0.25), UNMEASURED]
    lines = table(rows).splitlines()
    assert len(lines) == len(rows) + 2
    assert len({len(line) for line in lines}) == 1
    assert [cell.strip() for cell in lines[0].strip("|").split("|")] == list(HEADER)
    assert [cell.strip() for cell in lines[2].strip("|").split("|")] == [
        "reading", "1 ms; 4 ms", "0.25", "at most 0.50", "yes",
    ]  # fmt: skip
    assert lines[3].split("|")[2].strip() == "no wrk here"


def test_the_document_names_the_machine_and_holds_the_table():
    text = document([UNMEASURED], machine(), QUICK, {"Beside others": "| engine |\n"})
    assert "marshmallow 4" in text
    assert "CPython" in text or "PyPy" in text
    assert table([UNMEASURED]) in text
    assert "## Beside others\n\n| engine |\n" in text


def test_subjects_take_turns_and_see_the_same_documents():
    calls = []
    subjects = {name: lambda turn, name=name: calls.append((name, turn)) for name in "ab"}
    took = in_turn(subjects, rounds=2, calls=2, warm_up=1)
    assert calls == [(name, turn) for first in (0, 2, 4) for name in "ab" for turn in (first, first + 1)]
    assert set(took) == {"a", "b"}


def test_a_process_that_fails_is_no_figure(monkeypatch):
    monkeypatch.setattr("figures.CHECKED", (99,))
    with pytest.raises(RuntimeError, match="ended with"):
        cold_row(QUICK)


def test_the_echo_gives_the_bytes_back():
    document = body(USUAL)
    answer = echo().test_client().post("/v1/checks", data=document, content_type="application/json")
    assert (answer.status_code, answer.data) == (200, document)


def test_the_client_of_the_standard_library_counts_answers_and_refuses_errors():
    app = echo()
    with serving(app) as port:
        assert threads(port, bodies(10, 3), 0.2) > 0
        app.view_functions["answer"] = lambda: ("busy", 503)
        with pytest.raises(RuntimeError, match="503"):
            threads(port, bodies(10, 3), 0.2)
