"""What is told of shared pests stays readable in large plans, and holds for any plan."""

from datetime import date, timedelta

from host_rows import CLOSE, GROUPED, KNOWLEDGE, SEEN_HERE, SEEN_NEAR, SHARED, place, report_of
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tiny_plans import TODAY, document, grave

from rules import build_plan, check
from rules.planning.fixes import apply

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


# -- large plans stay readable


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


# -- properties


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
