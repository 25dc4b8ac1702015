"""The doors to the protection plan."""

from __future__ import annotations

import copy
import json
import re
from typing import Any

from bed_plan import PLAN, post, printed
from flask.testing import FlaskClient

from service.schemas.planning import ProtectionSchema


def test_the_protection_plan_is_as_documented_at_both_doors(
    client: FlaskClient, plan_file: str, capfdbinary: Any
) -> None:
    body = post(client, "/v1/protection").get_json()
    assert ProtectionSchema().validate(body) == {}
    assert (body["from"], body["to"]) == ("2026-11-20", "2027-11-20")
    assert json.loads(printed(capfdbinary, "protect", plan_file, "--format", "json")) == body
    cover = next(crop["cover"] for crop in body["crops"] if crop["crop"] == "cabbage")
    assert cover["planned"] == [{"bed": "kiln", "kind": "net", "from": "2027-04-20"}]
    assert "diamondback_moth" in cover["kept_out"]


def protection_text(client: FlaskClient, plan: dict[str, Any] = PLAN) -> str:
    answer = post(client, "/v1/protection?format=text", plan)
    assert answer.content_type == "text/plain; charset=utf-8"
    text = answer.get_data(as_text=True)
    assert max(map(len, text.splitlines())) <= 80
    return text


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_text_reads_as_a_grower_would_have_it(client: FlaskClient) -> None:
    text = flat(protection_text(client))
    assert "2199" not in text
    assert "Cabbages in Kiln bed, 20 April to 30 September 2027" in text
    assert "net planned from 20 April 2027; with its edges shut it keeps out" in text
    assert re.search("But in Quay bed [^:]*Colorado potato beetle[^:]* may come up beneath it: grow it where no", text)
    assert "do not pick before 4 June 2027, by the label's 3 days" in text
    assert (
        "Spinosad on the potatoes in Quay bed on 2 June 2027: the label's days before harvest are not on record" in text
    )
    assert "Sprays and bait do nothing against squirrels; a barrier does." in text
    assert "slugs may come out" not in text
    for once in ("Iron phosphate bait, against", "Fence or cage, against", "Use net with holes of 5 mm", "Slugs"):
        assert text.count(once) <= 1, once


def test_a_perennial_is_told_since_its_day(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["sightings"] = [{"bed": "bare", "date": "2026-06-01", "of": "black bean aphid"}]
    assert "Globe artichokes in Bare bed, since 10 April 2024" in protection_text(client, plan)
    assert "Low risk only: globe artichokes" in protection_text(client)


def test_bowls_and_bait_say_what_growers_know(client: FlaskClient) -> None:
    plan = copy.deepcopy(PLAN)
    plan["plantings"] += [
        {"bed": "bare", "crop": "rocket", "start": "2027-04-07", "end": "2027-05-10"},
        {"bed": "bare", "crop": "lettuce", "start": "2027-04-15", "end": "2027-06-10"},
    ]
    text = flat(protection_text(client, plan))
    assert "Coloured bowls of soapy water under the leaves, against " in text
    assert "Not for ending an outbreak; alone they only thin it out." in text
    assert "on moist soil" in text
    assert "Again: after rain or heavy watering and when it is eaten" in text
    assert "until seedlings are strong" in text


def test_nothing_in_these_days_is_said_so(plan_file: str, capfdbinary: Any) -> None:
    empty = printed(capfdbinary, "protect", plan_file, "--from", "2020-01-01", "--to", "2020-02-01").decode()
    assert "Nothing stands in these days." in empty


def test_the_demo_garden_prints_and_says_nothing_twice(capfdbinary: Any) -> None:
    text = printed(capfdbinary, "protect", "demo").decode()
    found = json.loads(printed(capfdbinary, "protect", "demo", "--format", "json"))
    assert len(found["ladder"]) > 10
    for measure in found["ladder"]:
        assert flat(text).count(f"{measure['name'][:1].upper()}{measure['name'][1:]}, against ") == 1
    for caution in found["cautions"]:
        assert flat(text).count(caution["text"].rstrip(".")[1:]) == 1
    assert len(text.splitlines()) < 180
    assert "2199" not in text
