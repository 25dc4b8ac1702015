"""The process of a worker's hand: what becomes of it, and of the chunk that it has."""

import json

import pytest
from trial_kinds import PATIENT

from service.jobs import slot as slots
from service.jobs.packing import pack, unpack_lines
from service.jobs.slot import Died, Dropped, Errand, Slot


@pytest.fixture
def slot():
    made = Slot()
    yield made
    made.end()


def errand(**befalls):
    return Errand(PATIENT, "a", pack({}), pack([{"line": 1, **befalls}]))


def wanted():
    return True


def answered(slot):
    answers = slot.run(errand(), wanted)
    return [json.loads(line)["line"] for line in unpack_lines(answers.lines).splitlines()] == [1]


def test_a_process_that_hangs_up_and_lives_on_is_replaced(slot):
    with pytest.raises(Died, match="its process ended"):
        slot.run(errand(befalls="silence"), wanted)
    assert answered(slot), "the next chunk gets a process of its own"


def test_a_chunk_is_let_go_where_no_process_can_be_started(slot, monkeypatch):
    def refuse(process):
        raise BlockingIOError("Resource temporarily unavailable")

    with monkeypatch.context() as short:
        short.setattr(slots._spawn.Process, "start", refuse)
        for _ in range(2):
            with pytest.raises(Dropped):
                slot.run(errand(), wanted)
    assert answered(slot)
