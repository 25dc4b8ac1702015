"""The results of a job as a stream: packed, gone on with, and holding nothing while nobody reads."""

import gzip
import json

import pytest

from service.jobs.jobs import results


@pytest.fixture
def place(send, worked):
    sheet = "garden,bed,season,crop\n" + "".join(f"Plot {number},kiln,2027,leek\n" for number in range(1, 251))
    place = send(body=sheet).headers["Location"]
    assert len(worked(place)) == 251
    return place


def test_results_go_on_where_they_ended(place, get):
    whole = get(f"{place}/results").data.splitlines()
    for first in (1, 2, 100, 101, 250):
        assert get(f"{place}/results?from={first}").data.splitlines() == whole[first - 1 :]
    assert get(f"{place}/results?from=251").data.splitlines() == whole[-1:]
    assert json.loads(whole[-1])["gardens"] == 250
    assert get(f"{place}/results?from=0").status_code == 400


def test_results_come_packed_for_those_who_can_read_them(place, world, get):
    plain = get(f"{place}/results")
    assert "Content-Encoding" not in plain.headers
    headers = world.ours.headers("club_admin")
    for accepted, packed in (("gzip, deflate", True), ("gzip;q=0", False), ("identity", False), ("br", False)):
        answer = world.client.get(f"{place}/results", headers={**headers, "Accept-Encoding": accepted})
        assert (answer.headers.get("Content-Encoding") == "gzip") == packed
        assert answer.headers["Vary"] == "Accept-Encoding"
        assert (gzip.decompress(answer.data) if packed else answer.data) == plain.data
        assert not packed or len(answer.data) < len(plain.data) / 5


def test_who_reads_slowly_or_goes_away_holds_no_connection(place, get, world):
    pool = world.store.engine.pool
    before = pool.checkedout()
    answer = world.client.get(f"{place}/results", headers=world.ours.headers("club_admin"), buffered=False)
    pieces = answer.iter_encoded()
    assert next(pieces).count(b"\n") == 100, "a chunk at a time"
    assert pool.checkedout() == before
    # What is left unread is nobody's: the next one reads all, and writers are not held up.
    answer.close()
    assert get(f"{place}/results").data.count(b"\n") == 251


def test_each_part_is_read_by_itself(store, begun, over, crew):
    job_id = begun([2] * 4)
    at_work = crew()
    over(job_id)
    at_work.stop()  # it looks for more, with connections of its own
    parts = results(store, job_id)
    next(parts)
    assert store.engine.pool.checkedout() == 0
    with store.write():
        assert len(list(parts)) == 3
