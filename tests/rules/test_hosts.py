"""Hosts of one pest: side by side, and one season after the other; what is told, and what is not."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tiny_plans import TODAY, document, grave, grew, plan_of

from rules import build_plan, check, load_knowledge
from rules.checks.unsettled import BY_YEAR, IN_LIST
from rules.planning.fixes import apply
from rules.report import Action

KNOWLEDGE = load_knowledge()
SPRING, AUTUMN = "2027-04-20", "2027-09-30"
GROUPED, SHARED = "hosts.relatives-grouped", "hosts.shared-pest"
CLOSE, SEEN_NEAR, SEEN_HERE = "hosts.near-last-bed", "hosts.pest-seen-nearby", "hosts.pest-seen-here"


def stands(bed, crop, start=SPRING, end=AUTUMN, **rest):
    return grew(bed, crop, start, end, id=rest.pop("id", f"{bed}-{crop}"), **rest)


def place(name, x, y=0, **rest):
    return {"id": name, "length": 300, "width": 100, "position": (float(x), float(y)), **rest}


ROW = [place(name, 4 * n) for n, name in enumerate("abcdef")]  # gaps of 1 m
FAR = [place(name, 0, 12 * n) for n, name in enumerate("abcdef")]


def report_of(*rows, **parts):
    return check(plan_of(*rows, judge="2027", **parts))


def found(rule, *rows, **parts):
    return [finding for finding in report_of(*rows, **parts).findings if finding.rule == rule]


def linked(rule, *rows, **parts):
    """Findings of a rule in short: pests and plantings."""
    return {(finding.because["pests"], finding.plantings) for finding in found(rule, *rows, **parts)}


# -- relatives


def test_relatives_side_by_side_are_told_once_a_family():
    rows = [stands("a", "cabbage"), stands("b", "kale"), stands("d", "leek"), stands("e", "onion_bulb")]
    more = [stands("c", "carrot"), stands("f", "parsley"), stands("b", "turnip")]
    told = found(GROUPED, *rows, *more, beds=ROW)
    assert {finding.because["family"]: finding.plantings for finding in told} == {
        "Brassicaceae": ("a-cabbage", "b-kale", "b-turnip"),
        "Amaryllidaceae": ("d-leek", "e-onion_bulb"),
    }
    assert {(finding.severity, finding.points, finding.effect) for finding in told} == {("benefit", 0, "none")}


@pytest.mark.parametrize(
    "rows",
    [
        [stands("a", "cabbage"), stands("b", "cabbage")],  # one crop
        [stands("a", "onion"), stands("b", "onion_bulb")],  # may be one crop
        [stands("a", "cabbage"), stands("c", "kale")],  # 5 m apart
        [stands("a", "cabbage"), stands("b", "leek")],  # no relatives
        [stands("a", "rosemary"), stands("b", "basil")],  # outside the rotation
        [stands("a", "chives"), stands("b", "onion_bulb")],  # one of them stays
        [stands("a", "cabbage", end="2027-05-30"), stands("b", "kale", "2027-05-25")],  # six days
        [grew("a", "cabbage", "2027"), grew("b", "kale", "2027")],  # no days
    ],
)
def test_what_is_no_group_of_relatives(rows):
    assert found(GROUPED, *rows, beds=ROW) == []


def test_a_host_that_stands_over_and_hands_pests_on_is_not_praised_as_grouped():
    over = stands("a", "kale", "2026-07-01", "2027-05-10", status="growing")
    told = found(GROUPED, over, stands("b", "cabbage"), stands("b", "turnip"), beds=ROW)
    assert [finding.plantings for finding in told] == [("b-cabbage", "b-turnip")]


def test_relatives_at_an_unknown_distance_are_no_group_but_parts_of_a_bed_are():
    assert found(GROUPED, stands("a", "cabbage"), stands("b", "kale"), beds=["a", "b"]) == []
    parts = [stands("a", "cabbage", part=(0, 0.5)), stands("a", "kale", part=(0.5, 1))]
    assert len(found(GROUPED, *parts)) == 1


# -- other families


@pytest.mark.parametrize(
    ("one", "other", "pests"),
    [
        ("broad_bean", "beet", ("black_bean_aphid",)),
        ("cucumber", "okra", ("melon_aphid",)),
        ("potato", "head_lettuce", ("potato_aphid",)),
        ("sweet_corn", "tomato", None),  # the moth comes from far away
        ("head_lettuce", "kale", None),  # slugs, aphids of nearly everything
        ("carrot", "potato", None),  # wireworms live in any soil
        ("cabbage", "kale", None),  # relatives
        ("broad_bean", "bush_bean", None),
        ("cabbage", "leek", None),  # no pest in common but thrips of nearly everything
    ],
)
def test_which_crops_of_different_families_share_a_pest_worth_telling(one, other, pests):
    told = linked(SHARED, stands("a", one), stands("b", other), beds=ROW)
    if pests is None:
        assert told == set()
    else:
        ((named, plantings),) = told
        assert set(pests) <= set(named)
        assert set(plantings) == {f"a-{one}", f"b-{other}"}


def test_a_group_is_told_once_and_not_for_every_two():
    rows = [stands(bed, crop) for bed, crop in zip("abcdef", ["broad_bean", "beet"] * 3, strict=True)]
    ((pests, plantings),) = linked(SHARED, *rows, beds=ROW)
    assert "black_bean_aphid" in pests
    assert len(plantings) == 6


def test_groups_that_lie_apart_are_told_apart():
    rows = [stands(bed, crop) for bed, crop in zip("abef", ["broad_bean", "beet"] * 2, strict=True)]
    told = {plantings for _, plantings in linked(SHARED, *rows, beds=ROW)}
    assert told == {("a-broad_bean", "b-beet"), ("e-broad_bean", "f-beet")}


def test_pests_that_link_the_same_plantings_share_one_finding():
    (finding,) = found(SHARED, stands("a", "cucumber"), stands("b", "bush_bean"), stands("c", "carrot"), beds=ROW)
    assert finding.because["pests"] == ("serpentine_leafminer",)
    both = found(SHARED, stands("a", "spinach"), stands("b", "bush_bean"), beds=ROW)
    assert [finding.because["pests"] for finding in both] == [("black_bean_aphid", "serpentine_leafminer")]
    assert "black bean aphid and serpentine leafminer" in both[0].title.lower()


@pytest.mark.parametrize("word", ["salad", "root vegetables", "bean"])
def test_a_word_for_several_crops_counts_only_where_all_are_hosts(word):
    crop = KNOWLEDGE.find_crop(word)
    if crop is None:
        pytest.fail(f"{word!r} is no word of the catalogue")
    told = {pest for pests, _ in linked(SHARED, stands("a", word), stands("b", "beet"), beds=ROW) for pest in pests}
    assert told == {
        pest.id
        for pest in KNOWLEDGE.pests.values()
        if pest.id in ("black_bean_aphid", "serpentine_leafminer") and crop.id in pest.hosts and "beet" in pest.hosts
    }


def test_distance_is_said_once_where_it_is_not_known():
    rows = [stands("a", "broad_bean"), stands("b", "beet"), stands("d", "broad_bean"), stands("e", "beet")]
    report = report_of(*rows, beds=list("abcdef"))
    told = [finding for finding in report.findings if finding.rule == SHARED]
    assert [(finding.severity, "metres" in finding.because) for finding in told] == [("advice", False)] * 2
    (line,) = [line for line in report.not_checked if line.why == IN_LIST]
    assert (line.rule, line.count, line.beds) == (SHARED, 4, ("a", "b", "d", "e"))
    placed = report_of(*rows, beds=ROW)
    assert [finding.because["metres"] for finding in placed.findings if finding.rule == SHARED] == [1.0, 1.0]
    assert all(line.why != IN_LIST for line in placed.not_checked)


def test_rows_known_by_their_year_are_counted_on_one_line():
    rows = [grew("a", "broad_bean", "2027"), grew("b", "beet", "2027"), stands("c", "okra"), grew("f", "beet", "2027")]
    report = report_of(*rows, beds=ROW)
    (line,) = [line for line in report.not_checked if line.why == BY_YEAR]
    assert (line.rule, line.count, line.beds) == (SHARED, 2, ("a", "b"))
    assert all(finding.rule != SHARED for finding in report.findings)


# -- the season after

WEEVIL = [{"bed": "a", "date": "2026-07-01", "of": "carrot weevil"}]


@pytest.mark.parametrize(
    ("last", "planned", "told"),
    [
        (grew("a", "parsley", "2026"), stands("b", "carrot"), True),
        (grew("a", "parsley", "2026-04-01", "2026-06-01"), grew("b", "carrot", "2027"), True),
        (grew("a", "parsley", "2026-09-01", "2027-04-30"), stands("b", "carrot"), True),  # stood over winter
        (grew("a", "parsley", "2025"), stands("b", "carrot"), False),
        (grew("a", "leek", "2026"), stands("b", "carrot"), False),
        (grew("a", "parsley", "2026"), stands("b", "leek"), False),
        (grew("a", "parsley", "2026"), stands("c", "carrot"), False),  # 5 m are more than 4
        (grew("a", "parsley", "2027-03-01", "2027-04-01"), stands("b", "carrot"), False),  # the same season
        # set in autumn to stand over winter: what counts is the season in which it was set
        (grew("a", "carrot", "2026"), stands("b", "parsley", "2026-09-20", "2027-06-30"), True),
    ],
)
def test_hosts_close_to_last_seasons_bed(last, planned, told):
    beds = [place("a", 0), place("b", 0, 4), place("c", 0, 10)]
    if planned["bed"] == "c":
        beds[2] = place("c", 0, 6.1)
    assert (len(found(CLOSE, last, planned, beds=beds)) == 1) is told


def test_only_pests_that_a_garden_is_wide_enough_for_are_told():
    rows = [grew("a", "cabbage", "2026"), stands("b", "kale"), grew("c", "potato", "2026"), stands("d", "tomato")]
    assert found(CLOSE, *rows, beds=ROW) == []
    assert {pest.id for pest in KNOWLEDGE.pests.values() if 0 < KNOWLEDGE.reach[pest.mobility].metres <= 30} >= {
        "carrot_weevil"
    }


def test_it_is_not_told_where_the_pest_does_not_live_or_the_rotation_speaks():
    rows = [grew("a", "parsley", "2026"), stands("b", "carrot")]
    beds = [place("a", 0), place("b", 0, 4)]
    assert len(found(CLOSE, *rows, beds=beds, garden={"latitude": 43.0, "country": "US"})) == 1
    assert found(CLOSE, *rows, beds=beds, garden={"latitude": 51.5, "country": "GB"}) == []
    report = report_of(*rows, grew("b", "celery", "2026"), beds=beds)
    assert [f.rule for f in report.findings if f.rule.startswith(("hosts", "rotation"))] == ["rotation.family-too-soon"]


def test_beds_and_plantings_that_hang_together_are_one_finding():
    beds = [place("a", 0), place("b", 4), place("c", 8), place("d", 12)]
    rows = [grew("a", "parsley", "2026"), grew("c", "carrot", "2026"), stands("b", "carrot"), stands("d", "celery")]
    (finding,) = found(CLOSE, *rows, beds=beds)
    assert (finding.plantings, finding.beds) == (("b-carrot", "d-celery"), ("b", "d", "a", "c"))
    assert (finding.because["from"], finding.because["metres"]) == (("a", "c"), 1.0)
    assert "no sighting is on record" in finding.why.lower()


def test_a_cover_from_the_first_day_keeps_it_silent_and_a_late_one_does_not():
    beds, rows = [place("a", 0), place("b", 0, 4)], [grew("a", "parsley", "2026"), stands("b", "carrot")]
    net = {"bed": "b", "kind": "net", "mesh": 0.8, "start": SPRING, "end": AUTUMN, "edges": "shut"}
    assert found(CLOSE, *rows, beds=beds, covers=[net]) == []
    assert len(found(CLOSE, *rows, beds=beds, covers=[net | {"start": "2027-05-20"}])) == 1
    assert found(SEEN_NEAR, *rows, beds=beds, covers=[net], sightings=WEEVIL) == []


def test_a_sighting_makes_it_a_caution_and_is_named():
    beds, rows = [place("a", 0), place("b", 0, 4)], [grew("a", "parsley", "2026"), stands("b", "carrot")]
    report = report_of(*rows, beds=beds, sightings=WEEVIL)
    (finding,) = [f for f in report.findings if f.rule.startswith("hosts.")]
    assert (finding.rule, finding.severity, finding.because["seen"]) == (SEEN_NEAR, "caution", date(2026, 7, 1))
    assert "July 2026" in finding.title
    assert finding.fix.actions == ()
    assert found(SEEN_NEAR, *rows, beds=["a", "b"], sightings=WEEVIL) == []  # no caution on a guess


@pytest.mark.parametrize(
    ("sightings", "planned", "told"),
    [
        ([("a", "2026-06-01", "cabbage root fly")], stands("a", "cabbage"), True),
        ([("a", "2026-06-01", "cabbage root fly")], grew("a", "cabbage", "2027"), True),
        ([("a", "2026-06-01", "cabbage root fly")], stands("a", "cabbage", "2026-09-10", "2027-05-30"), True),
        ([("a", "2025-06-01", "cabbage root fly")], stands("a", "cabbage"), False),
        ([("a", "2026-06-01", "cabbage root fly")], stands("a", "leek"), False),
        ([("b", "2026-06-01", "cabbage root fly")], stands("a", "cabbage"), False),  # it flies: no bed is far enough
        ([("a", "2026-06-01", "wireworms")], stands("a", "potato"), True),
        ([("a", "2026-06-01", "cutworms")], stands("a", "cabbage"), False),  # moving the crop does not help
        ([("a", "2026-06-01", "slugs")], stands("a", "head_lettuce"), False),
        ([("a", "2026-06-01", "aphids")], stands("a", "kale"), False),  # no species
        ([("a", "2026-06-01", "imported cabbageworm")], stands("a", "cabbage"), False),  # comes from everywhere
        ([("a", "2027-02-01", "wireworms")], stands("a", "potato"), False),  # this season's own
    ],
)
def test_hosts_in_ground_where_the_pest_was_seen_the_season_before(sightings, planned, told):
    seen = [dict(zip(("bed", "date", "of"), one, strict=True)) for one in sightings]
    assert (len(found(SEEN_HERE, planned, sightings=seen, beds=["a", "b"])) == 1) is told


def test_a_loss_to_a_pest_is_a_sighting():
    lost = grew("a", "leek", "2026-04-01", "2026-05-01", status="lost", cause="onion maggot")
    (finding,) = found(SEEN_HERE, lost, stands("a", "onion_bulb"))
    assert (finding.because["seen"], finding.severity) == (date(2026, 5, 1), "caution")


def test_new_soil_ends_it_and_a_bed_that_replaces_another_takes_it_over():
    seen = [{"bed": "a", "date": "2026-06-01", "of": "wireworms"}]
    assert found(SEEN_HERE, stands("a", "potato"), sightings=seen, amendments=[
        {"bed": "a", "date": "2027-01-01", "kind": "new_soil"}
    ]) == []  # fmt: skip
    heir = [{"id": "a"}, {"id": "b", "replaces": [{"bed": "a", "until": "2026-12-31"}]}]
    assert len(found(SEEN_HERE, stands("b", "potato"), sightings=seen, beds=heir)) == 1


def test_a_rotation_breach_says_it_already():
    seen = [{"bed": "a", "date": "2026-06-01", "of": "cabbage root fly"}]
    report = report_of(grew("a", "kale", "2026"), stands("a", "cabbage"), sightings=seen)
    assert [f.rule for f in report.findings] == ["rotation.family-too-soon"]


def test_pests_seen_together_share_one_finding():
    seen = [{"bed": "a", "date": f"2026-0{n}-01", "of": of} for n, of in ((6, "beet leafminer"), (7, "wireworms"))]
    (finding,) = found(SEEN_HERE, stands("a", "beet"), sightings=seen)
    assert finding.because["pests"] == ("beet_leafminer", "wireworms")


def test_the_fix_is_another_bed_that_the_pest_does_not_reach():
    seen = [{"bed": "a", "date": "2026-07-01", "of": "carrot weevil"}]
    beds = [place("a", 0), place("b", 0, 4), place("c", 0, 40)]
    rows = [stands("a", "parsley"), grew("b", "leek", "2026"), grew("c", "leek", "2026")]
    plan = plan_of(*rows, judge="2027", beds=beds, sightings=seen)
    (finding,) = [f for f in check(plan).findings if f.rule == SEEN_HERE]
    assert finding.fix.actions == (Action("move", "a-parsley", bed="c"),)
    near = plan_of(*rows[:2], judge="2027", beds=beds[:2], sightings=seen)
    (finding,) = [f for f in check(near).findings if f.rule == SEEN_HERE]
    assert finding.fix.actions == ()  # b is too near, and nothing else is left


def test_a_move_for_the_rotation_is_not_made_to_where_a_walking_pest_was_seen_close_by():
    seen = [{"bed": "b", "date": "2026-07-01", "of": "carrot weevil"}]
    beds = [place("a", 60), place("b", 0), place("c", 0, 4), place("d", 0, 40)]
    full = [stands("b", crop) for crop in ("pea", "leek")]
    rows = [grew("a", "celery", "2026"), stands("a", "parsley"), *(grew(b, "kale", "2026") for b in "bcd"), *full]
    plan = plan_of(*rows, judge="2027", beds=beds, sightings=seen)
    (finding,) = [f for f in check(plan).findings if f.rule == "rotation.family-too-soon"]
    assert finding.fix.actions == (Action("move", "a-parsley", bed="d"),)
    calm = plan_of(*rows, judge="2027", beds=beds)
    (finding,) = [f for f in check(calm).findings if f.rule == "rotation.family-too-soon"]
    assert finding.fix.actions == (Action("move", "a-parsley", bed="c"),)


# -- large plans stay readable

#: Four groups that take turns, each in three beds with three crops: what a full garden grows.
TURNS = [
    [("cabbage", "broccoli", "kale"), ("cauliflower", "radish", "turnip"), ("brussels_sprouts", "arugula", "pak_choi")],
    [("pea", "broad_bean", "spinach"), ("bush_bean", "sweet_corn", "zucchini"), ("pole_bean", "cucumber", "pumpkin")],
    [("onion_bulb", "carrot", "head_lettuce"), ("leek", "parsnip", "fennel"), ("garlic", "celery", "leaf_lettuce")],
    [("potato", "beet", "basil"), ("tomato", "basil", "swiss_chard"), ("sweet_pepper", "eggplant", "okra")],
]
THIRDS = [(0.0, 0.33), (0.33, 0.66), (0.66, 1.0)]


def full_garden(turns=TURNS, years=(2024, 2025, 2026, 2027)):
    """Twelve full beds in three rows of four: four years of a good rotation, three crops a bed and year."""
    beds, rows = [], []
    for block in range(4):
        for n in range(3):
            name = f"bed-{block}{n}"
            beds.append({"id": name, "length": 300, "width": 120, "position": (3.6 * block, 1.7 * n)})
            for year in years:
                crops = turns[(block + year) % 4][n]
                for crop, part in zip(crops, THIRDS, strict=True):
                    start, end = date(year, 4, 10 + 5 * n), date(year, 9, 20)
                    status = "planned" if year == 2027 else "done"
                    rows.append({"bed": name, "crop": crop, "start": start, "end": end, "part": part, "status": status})
    return rows, beds


def test_a_demo_of_twelve_full_beds_stays_readable():
    rows, beds = full_garden()
    report = report_of(*rows, beds=beds)
    by_severity = {s: [f for f in report.findings if f.severity == s] for s in ("breach", "caution", "advice")}
    assert by_severity["breach"] == []
    assert len(by_severity["caution"]) <= 25
    assert len(by_severity["advice"]) <= 25
    hosts = [f for f in report.findings if f.rule.startswith("hosts.")]
    assert 0 < len([f for f in hosts if f.severity == "advice"]) <= 4
    assert 0 < len([f for f in hosts if f.severity == "benefit"]) <= 8
    assert all(f.severity in ("advice", "benefit") for f in hosts)
    assert all(len(f.title) <= 220 for f in hosts)


def test_what_is_told_grows_with_the_families_and_pests_and_not_with_the_beds():
    rows, beds = full_garden()
    again = [{**row, "bed": f"again-{row['bed']}"} for row in rows]
    more = [{**b, "id": f"again-{b['id']}", "position": (b["position"][0], b["position"][1] + 50)} for b in beds]
    once = [f.rule for f in report_of(*rows, beds=beds).findings if f.rule.startswith("hosts.")]
    twice = [f.rule for f in report_of(*rows, *again, beds=[*beds, *more]).findings if f.rule.startswith("hosts.")]
    assert twice.count(GROUPED) == once.count(GROUPED)
    assert twice.count(SHARED) == 2 * once.count(SHARED)


# -- properties

PESTS = ["carrot_weevil", "carrot_weevil", "cabbage_root_maggot", "wireworms", "beet_leafminer", "slugs", "clubroot"]
HOSTS = [
    "carrot", "celery", "parsley", "cabbage", "kale", "beet", "broad_bean", "bush_bean", "cucumber", "potato", "pea",
    "head_lettuce", "leek",
]  # fmt: skip
some = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@st.composite
def rows_of(draw, beds, number):
    """A row of last season or this one, known by its days or by its year."""
    year = draw(st.sampled_from([2026, 2027, 2027]))
    row = {"id": f"p{number}", "bed": draw(st.sampled_from(beds))["id"], "crop": draw(st.sampled_from(HOSTS))}
    if draw(st.integers(0, 5)) == 0:
        row["season"] = str(year)
    else:
        row["start"] = date(year, 1, 1) + timedelta(days=draw(st.integers(40, 260)))
        row["end"] = row["start"] + timedelta(days=draw(st.integers(20, 240)))
    if draw(st.integers(0, 2)) == 0:
        row["part"] = draw(st.sampled_from([(0.0, 0.5), (0.5, 1.0)]))
    if year == 2026 and "end" in row and row["end"] < TODAY and draw(st.integers(0, 5)) == 0:
        row.update(status="lost", cause=draw(st.sampled_from(PESTS)))
    return row


@st.composite
def gardens(draw):
    """Hosts of two seasons in beds close together and some farther off, and pests seen among them."""
    beds = []
    for n in range(draw(st.integers(2, 6))):
        made = place(f"bed-{n}", draw(st.sampled_from([0, 3.5, 7, 60])), draw(st.sampled_from([0, 2, 5, 9])))
        beds.append(made | {"turn": float(draw(st.sampled_from([0, 0, 30])))})
    if draw(st.integers(0, 6)) == 0:
        beds[-1]["replaces"] = [{"bed": "bed-0", "until": date(2026, 12, 31)}]
    days = st.integers(0, 600).map(lambda n: date(2025, 10, 1) + timedelta(days=n))
    seen = st.fixed_dictionaries(
        {"bed": st.sampled_from([b["id"] for b in beds]), "date": days, "of": st.sampled_from(PESTS)}
    )
    return {
        "garden": {"latitude": 46.2, "rotation": draw(st.sampled_from(["full", "short"]))},
        "beds": beds,
        "plantings": [draw(rows_of(beds, n)) for n in range(draw(st.integers(4, 14)))],
        "sightings": draw(st.lists(seen, max_size=4)),
    }


def read(data):
    return build_plan(
        document(*data["plantings"], **{k: v for k, v in data.items() if k != "plantings"}),
        KNOWLEDGE,
        as_of=TODAY,
        season="2027",
    )


def short(findings):
    """Findings without their numbers and their fixes: another bed may be one to move to."""
    return {(f.rule, f.severity, f.plantings, f.title, f.why, f.points) for f in findings}


@some
@given(gardens(), st.sampled_from(["asparagus", "sunflower", "basil", "okra", "carrot"]))
def test_a_stranger_in_a_far_bed_changes_no_score_and_no_other_finding(data, stranger):
    troubles = [KNOWLEDGE.find_trouble(seen["of"]) for seen in data["sightings"]]
    # What was seen is told of all its hosts, near and far.
    assume(not any(stranger in one.hosts or getattr(one, "wide", False) for one in troubles))
    assume(all(row["crop"] != stranger for row in data["plantings"]))
    before = check(read(data))
    grown = {"id": "stranger", "bed": "far", "crop": stranger, "start": date(2027, 5, 1), "end": date(2027, 9, 1)}
    old = {"id": "then", "bed": "far", "crop": "fallow", "season": "2026"}
    far = place("far", 4000, 4000, kind="container")
    after = check(read({**data, "beds": [*data["beds"], far], "plantings": [*data["plantings"], grown, old]}))
    assert after.score == before.score
    kept = [f for f in after.findings if "far" not in f.beds]
    assert short(kept) == short(before.findings)
    assert not [f for f in after.findings if f.rule.startswith("hosts.") and "far" in f.beds]


@some
@given(gardens())
def test_no_rule_tells_of_a_pest_twice_for_one_planting(data):
    told = set()
    for finding in check(read(data)).findings:
        if finding.rule in (SHARED, CLOSE, SEEN_NEAR, SEEN_HERE):
            for key in ((finding.rule, pest, p) for pest in finding.because["pests"] for p in finding.plantings):
                assert key not in told
                told.add(key)


@settings(some, max_examples=80)
@given(gardens())
def test_a_fix_removes_its_finding_and_adds_nothing_grave_with_pests_about(data):
    plan = read(data)
    before = grave(check(plan, history=True))
    for finding in check(plan).findings:
        if finding.fix.actions:
            after = grave(check(apply(plan, finding.fix.actions), history=True))
            assert not {(finding.rule, planting) for planting in finding.plantings} & after
            assert after <= before
