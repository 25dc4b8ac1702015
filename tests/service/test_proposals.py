"""Proposals by command and by address: what is answered, refused, and left when the solver fails."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import guarded_work
import pytest
import yaml
from flask.testing import FlaskClient

import rules
from rules.model import Plan
from rules.planning import propose
from service.app import build
from service.cli import main
from service.config import Config
from service.examples import WISHED
from service.proposing import guard, limits, run
from service.proposing.jobs import propose_document
from service.reading import PlanRejected, read_plan
from service.resources import proposals
from service.resources.checks import today
from service.schemas.proposal import ProposalSchema

#: Far more than any search here takes, so that each ends with its proof however busy the machine is.
PLENTY = 60
app = build(Config(checks_per_minute=0, proposal_seconds=PLENTY))
JSON, YAML = "application/json", "application/yaml"
KNOWLEDGE = rules.load_knowledge()
BEDS = ("elm", "oak", "ash", "yew")
#: Four beds, their record without a gap, and wishes that all fit.
ROW: dict[str, Any] = {
    "as_of": "2026-11-20",
    "garden": {"name": "Row", "latitude": 46.2, "country": "FR"},
    "beds": [
        {"id": bed, "name": f"{bed.title()} bed", "length": 300, "width": 120} for bed in ("elm", "oak", "ash", "yew")
    ],
    "plantings": [
        {"bed": bed, "crop": crops[(at + year) % 4], "season": str(year)}
        for crops in [("kale", "courgettes", "carrots", "beetroot")]
        for at, bed in enumerate(BEDS)
        for year in range(2021, 2027)
    ],
    "wishes": {
        "years": 2,
        "crops": [{"crop": "potatoes", "beds": 1, "must": True}, {"crop": "broad beans", "beds": 0.5}],
    },
}


@pytest.fixture(autouse=True)
def patient_guard(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever a busy machine takes to start a child is no matter here."""
    monkeypatch.setattr(guard, "GRACE", 2.0 * PLENTY)


@pytest.fixture
def client() -> FlaskClient:
    return app.test_client()


@pytest.fixture
def row_file(tmp_path: Path) -> str:
    path = tmp_path / "row.json"
    path.write_text(json.dumps(ROW), encoding="utf-8")
    return str(path)


def post(client: FlaskClient, query: str = "seconds=0", plan: Any = ROW, **headers: str) -> Any:
    return client.post(f"/v1/proposals?{query}", data=json.dumps(plan), content_type=JSON, headers=headers)


def printed(capfdbinary: pytest.CaptureFixture[bytes], *words: str, status: int = 0) -> bytes:
    assert main(words) == status
    out = capfdbinary.readouterr()
    return out.err if status >= 64 else out.out


def checked(document: Any) -> tuple[Plan, Any]:
    plan = read_plan(json.dumps(document).encode(), "json", today=today, knowledge=KNOWLEDGE)
    return plan, rules.check(plan, KNOWLEDGE)


# -- what is answered


def test_a_proposal_meets_the_wishes_and_is_a_plan_that_can_be_checked(client: FlaskClient) -> None:
    answer = post(client, f"seconds={PLENTY}")
    assert (answer.status_code, answer.content_type) == (200, JSON), answer.data[:500]
    assert answer.headers["Cache-Control"] == "no-store"
    body = answer.get_json()
    assert ProposalSchema().validate(body) == {}
    assert (body["years"], body["stopped"], body["gap"]) == ({"from": 2027, "to": 2028}, "optimal", 0)
    assert body["unplaced"] == []
    assert {(one["crop"], one["year"], one["amount"]) for one in body["placed"]} == {
        *(("potato", year, 1.0) for year in (2027, 2028)),
        *(("broad_bean", year, 0.5) for year in (2027, 2028)),
    }
    plan, report = checked(body["plan"])
    assert report.verdict == body["verdict"] == body["report"]["verdict"]
    assert not [one for one in report.findings if one.severity == "breach"]
    assert [finding.id for finding in report.findings] == [finding["id"] for finding in body["report"]["findings"]]
    potatoes = {p.bed: p.start.year for p in plan.plantings if p.crop.id == "potato"}
    assert sorted(potatoes.values()) == [2027, 2028]  # in two beds, since both must rest
    assert len(potatoes) == 2


def test_the_quick_answer_says_that_it_is_one(client: FlaskClient) -> None:
    body = post(client, "seconds=0").get_json()
    assert body["stopped"] == "quick"
    assert body["verdict"] in ("clear", "caution", "unknown")


def test_json_yaml_command_and_job_give_the_same_answer(
    client: FlaskClient, row_file: str, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    body = post(client).get_json()
    text = yaml.safe_dump(json.loads(json.dumps(ROW)))
    assert client.post("/v1/proposals?seconds=0", data=text, content_type=YAML).get_json() == body
    assert propose_document(json.dumps(ROW).encode(), "json", {"seconds": 0.0}) == body
    status = {"clear": 0, "caution": 1, "breach": 2, "unknown": 3}[body["verdict"]]
    assert (
        json.loads(printed(capfdbinary, "propose", row_file, "--quick", "--format", "json", status=status))
        == body["plan"]
    )


@pytest.mark.parametrize(("query", "accept"), [("seconds=0&format=text", "*/*"), ("seconds=0", "text/plain")])
def test_text_is_the_page_of_the_command(
    client: FlaskClient, row_file: str, capfdbinary: pytest.CaptureFixture[bytes], query: str, accept: str
) -> None:
    answer = post(client, query, Accept=accept)
    assert answer.content_type == "text/plain; charset=utf-8"
    assert answer.data.startswith(b"Row: proposal for 2027 to 2028\n")
    status = {b"clear": 0, b"cauti": 1, b"unkno": 3}[answer.data.split(b"Verdict:  ")[1][:5]]
    assert printed(capfdbinary, "propose", row_file, "--quick", status=status) == answer.data


@pytest.mark.parametrize("form", ["json", "yaml"])
def test_what_the_command_writes_the_check_reads(
    row_file: str, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes], form: str
) -> None:
    proposed = tmp_path / f"proposed.{form}"
    status = main(["propose", row_file, "--quick", "--format", form])
    proposed.write_bytes(capfdbinary.readouterr().out)
    assert main(["check", str(proposed)]) == status
    assert b"2027" in capfdbinary.readouterr().out
    # Planned on from there, all that was proposed stays.
    assert main(["propose", str(proposed), "--quick", "--format", form]) == status
    again = capfdbinary.readouterr().out
    loaded = json.loads if form == "json" else yaml.safe_load
    before, after = loaded(proposed.read_bytes()), loaded(again)
    assert before["plantings"] == after["plantings"]


def test_a_part_is_kept_and_the_rest_is_planned_anew(client: FlaskClient) -> None:
    first = post(client).get_json()["plan"]
    (kept,) = [row for row in first["plantings"] if row["crop"] == "potato" and row["start"] < "2028"]
    second = post(client, f"seconds=0&keep={kept['bed']}:2027", first).get_json()["plan"]
    held = [row for row in first["plantings"] if row["bed"] == kept["bed"] and "2026" < row.get("start", "") < "2028"]
    assert kept in held
    assert all(row in second["plantings"] for row in held)
    assert len([row for row in second["plantings"] if row["crop"] == "potato"]) == 2


def test_alternatives_differ(client: FlaskClient) -> None:
    body = post(client, f"seconds={PLENTY}&alternatives=1").get_json()
    (other,) = body["alternatives"]
    places = {(row["bed"], row["crop"], row["start"]) for row in other["plantings"]}
    assert places != {(row["bed"], row["crop"], row["start"]) for row in body["plan"]["plantings"] if "start" in row}
    assert other["differs"]


def test_what_was_shown_is_written_and_can_be_taken(
    row_file: str, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    words = ("propose", row_file, "--seconds", str(PLENTY), "--alternatives", "1", "--into", str(tmp_path / "plans"))
    assert main([*words, "--format", "yaml"]) in (0, 1)
    shown, said = capfdbinary.readouterr()
    mine, other = tmp_path / "plans" / "proposal.yaml", tmp_path / "plans" / "other-1.yaml"
    assert said.decode().split("\n")[:2] == [f"written: {mine}", f"written: {other}"]
    assert mine.read_bytes() == shown != other.read_bytes()
    assert main(["check", str(other)]) in (0, 1)
    capfdbinary.readouterr()
    assert main([*words]) == 74  # before any search
    assert b"is there already; nothing is written over" in capfdbinary.readouterr().err
    assert mine.read_bytes() == shown


def test_what_finds_no_place_has_a_reason(client: FlaskClient) -> None:
    greedy = {**ROW, "wishes": {"years": 2, "crops": [{"crop": "potatoes", "beds": 4}]}}
    body = post(client, f"seconds={PLENTY}", greedy).get_json()
    assert body["unplaced"]
    assert all(one["reason"] for one in body["unplaced"])
    text = post(client, f"seconds={PLENTY}&format=text", greedy).get_data(as_text=True)
    assert "Short of room: potatoes in 20" in text


def test_the_example_of_the_document_is_answered(client: FlaskClient) -> None:
    body = post(client, f"seconds={PLENTY}", WISHED).get_json()
    assert ProposalSchema().validate(body) == {}
    assert not [one for one in body["report"]["findings"] if one["severity"] == "breach"]


def test_the_demo_reads_as_a_page(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    page = printed(capfdbinary, "propose", "demo", "--years", "3", "--quick", status=1).decode()
    assert page.startswith("Tannery Row Plots: proposal for 2028 to 2030\n")
    assert "what was grown from 2025 to 2027 is taken" in " ".join(page.split())
    table = page.partition("Beds and years\n")[2].partition("\n\nWhat goes in in 2028")[0]
    assert [name for name in ("Kiln", "Quay", "Bark", "Vat", "Lime", "Sluice") if f"\n{name} " not in table] == []
    assert "Old kiln" not in table
    assert max(map(len, page.splitlines())) <= 80


# -- what is refused

#: A query, and the parameters that are refused with some words of each.
BAD_QUERIES: list[tuple[str, int, dict[str, str]]] = [
    ("years=0", 400, {"years": "1 to 12"}),
    ("years=13", 400, {"years": "1 to 12"}),
    ("years=two&from=1", 400, {"years": "integer", "from": "1900"}),
    ("alternatives=4", 400, {"alternatives": "0 to 3"}),
    ("second=3", 400, {"second": "Did you mean seconds"}),
    ("seconds=1&seconds=2", 400, {"seconds": "twice"}),
    ("seconds=-1", 400, {"seconds": ""}),
    (f"seconds={PLENTY + 1}", 422, {"seconds": f"At most {PLENTY}"}),
    ("from=2025&keep=elk", 422, {"from": "2025 is over; plan from 2026 on", "keep": "elm"}),
    ("keep=elm:2035", 422, {"keep": "2027 to 2028"}),
]


@pytest.mark.parametrize(("query", "status", "faults"), BAD_QUERIES)
def test_a_bad_query_names_every_parameter(
    client: FlaskClient, query: str, status: int, faults: dict[str, str]
) -> None:
    answer = post(client, query)
    assert (answer.status_code, answer.content_type) == (status, "application/problem+json")
    told = {error["parameter"]: error["detail"] for error in answer.get_json()["errors"]}
    assert told.keys() == faults.keys()
    for name, words in faults.items():
        assert words in told[name]


def test_faults_of_wishes_have_pointers(client: FlaskClient) -> None:
    bad = {**ROW, "wishes": {"crops": [{"crop": "leaks"}, {"crop": "kale", "beds": "two", "in": ["elk"]}]}}
    answer = post(client, plan=bad)
    assert (answer.status_code, answer.get_json()["type"]) == (422, "/problems/plan-rejected")
    pointers = [error["pointer"] for error in answer.get_json()["errors"]]
    assert pointers == ["/wishes/crops/0/crop", "/wishes/crops/1/beds", "/wishes/crops/1/in/0"]


@pytest.mark.parametrize(
    ("body", "media_type", "status", "kind"),
    [
        (b"{", JSON, 400, "unreadable"),
        (b"", JSON, 400, "unreadable"),
        (b"beds: [", YAML, 400, "unreadable"),
        (b"a", "text/html", 415, "unsupported-media-type"),
        (json.dumps({**ROW, "plantings": [], "wishes": None}).encode(), JSON, 422, "plan-rejected"),
    ],
)
def test_what_cannot_be_planned_is_refused(
    client: FlaskClient, body: bytes, media_type: str, status: int, kind: str
) -> None:
    answer = client.post("/v1/proposals", data=body, content_type=media_type)
    assert (answer.status_code, answer.get_json()["type"]) == (status, f"/problems/{kind}")


def test_a_plan_too_large_for_a_request_is_sent_to_a_job(client: FlaskClient) -> None:
    beds = [{"id": f"b{number}"} for number in range(150)]
    answer = post(client, plan={**ROW, "beds": [*ROW["beds"], *beds], "wishes": {**ROW["wishes"], "years": 4}})
    assert answer.status_code == 422
    assert "job" in answer.get_json()["detail"]


def test_a_proposal_costs_more_than_a_check() -> None:
    counted = build(Config(checks_per_minute=60)).test_client()
    headers = {"Content-Type": "text/html"}  # refused before any work, but counted
    addresses = ("/v1/checks", "/v1/proposals", "/v1/checks", "/v1/proposals")
    answers = [counted.post(address, data=b"a", headers=headers).status_code for address in addresses]
    assert answers == [415, 415, 415, 429]


#: Words of a command, its exit status, and words that it says.
BAD_COMMANDS: list[tuple[tuple[str, ...], int, str]] = [
    (("--years", "0"), 64, "--years"),
    (("--years", "13"), 64, "--years"),
    (("--seconds", "0"), 64, "--seconds"),
    (("--alternatives", "4"), 64, "--alternatives"),
    (("--format", "csv"), 64, "--format"),
    (("--keep", "elk"), 65, "did you mean 'elm'"),
    (("--keep", "elm:1999", "--keep", "x"), 65, "--keep: no bed has the id 'x'"),
]


@pytest.mark.parametrize(("words", "status", "said"), BAD_COMMANDS)
def test_a_bad_command_says_what_is_wrong(
    row_file: str, capfdbinary: pytest.CaptureFixture[bytes], words: tuple[str, ...], status: int, said: str
) -> None:
    assert said in printed(capfdbinary, "propose", row_file, *words, status=status).decode()


def test_faults_of_a_file_have_their_place(tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    path = tmp_path / "plan.yaml"
    path.write_text("beds:\n  - {id: elm}\nwishes:\n  crops:\n    - {crop: leaks}\n")
    said = printed(capfdbinary, "propose", str(path), status=65).decode()
    assert f"{path}:5:14: /wishes/crops/0/crop: no crop is known as 'leaks'; did you mean leek" in said


# -- when the solver fails


@pytest.mark.parametrize("solver", ["quick_then_killed", "quick_then_hangs", "only_quick"])
def test_the_best_that_was_seen_is_answered(client: FlaskClient, monkeypatch: pytest.MonkeyPatch, solver: str) -> None:
    monkeypatch.setattr(run, "solve", getattr(guarded_work, solver))
    # The others end by themselves; one that hangs is given longer, and again, until its quick answer comes in time.
    for grace in (2.0, 16.0, guard.GRACE) if solver == "quick_then_hangs" else (guard.GRACE,):
        monkeypatch.setattr(guard, "GRACE", grace)
        answer = post(client, "seconds=1")
        if answer.status_code == 200:
            break
    body = answer.get_json()
    assert ProposalSchema().validate(body) == {}
    assert body["stopped"] == "time" if solver != "only_quick" else body["stopped"] in ("time", "quick")
    assert body["placed"]
    assert any("signal 9" in note for note in body["notes"]) == (solver != "quick_then_hangs")


@pytest.mark.parametrize(("solver", "words"), [("no_solver", "signal 9"), ("endless", "fewer years")])
def test_without_any_answer_there_is_a_clear_problem(
    client: FlaskClient,
    row_file: str,
    monkeypatch: pytest.MonkeyPatch,
    capfdbinary: pytest.CaptureFixture[bytes],
    solver: str,
    words: str,
) -> None:
    if solver == "endless":  # nothing to wait for
        monkeypatch.setattr(guard, "GRACE", 0.1)
        monkeypatch.setattr(run, "QUICK_SECONDS", 0.1)
    monkeypatch.setattr(run, "solve", getattr(guarded_work, solver))
    answer = post(client, "seconds=1")
    assert (answer.status_code, answer.content_type) == (503, "application/problem+json")
    assert answer.get_json()["type"] == "/problems/no-proposal"
    assert words in answer.get_json()["detail"]
    assert words in printed(capfdbinary, "propose", row_file, "--seconds", "1", status=70).decode()


def test_more_at_once_than_a_worker_can_search_are_asked_to_wait(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    from threading import BoundedSemaphore

    taken = BoundedSemaphore(1)
    taken.acquire()
    monkeypatch.setattr(proposals, "_SEARCHING", taken)
    answer = post(client)
    assert (answer.status_code, answer.headers["Retry-After"]) == (503, "5")
    taken.release()
    assert post(client).status_code == 200
    assert post(client, plan={"beds": []}).status_code == 422  # and a refusal gives its place back
    assert post(client).status_code == 200


def test_the_doors_ask_for_no_more_than_the_rules_take() -> None:
    assert (limits.MOST_YEARS, limits.MOST_ALTERNATIVES) == (propose.MOST_YEARS, propose.MOST_ALTERNATIVES)


def test_a_job_refuses_what_a_request_refuses() -> None:
    with pytest.raises(PlanRejected):
        propose_document(b'{"beds": [{"id": "elm"}], "wishes": {"crops": [{"crop": "leaks"}]}}', "json", {})
