"""What must hold for every plan, tried on plans that hypothesis makes up."""

import dataclasses
from datetime import date, timedelta

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from tiny_plans import TODAY, document, grave

from rules import build_plan, check, load_knowledge
from rules.knowledge.yamlfile import load
from rules.planning.fixes import apply

KNOWLEDGE = load_knowledge()
QUIET = load_knowledge(
    load(
        "overlay: only what is grave\nrules:\n"
        + "".join(
            f"  {rule.id}: {{off: true}}\n"
            for rule in KNOWLEDGE.rules.values()
            if rule.severity in ("advice", "benefit")
        ),
        "quiet.yaml",
    )
)

CROPS = [
    "cabbage",
    "kale",
    "radish",
    "brassica",
    "onion",
    "garlic",
    "leek",
    "chives",
    "tomato",
    "potato",
    "pepper",
    "nightshade",
    "carrot",
    "parsnip",
    "pea",
    "bush_bean",
    "bean",
    "lettuce",
    "beet",
    "spinach",
    "sweet_corn",
    "strawberry",
    "mint",
    "salad",
    "fallow",
]
TROUBLES = [
    "clubroot",
    "allium_white_rot",
    "verticillium_wilt",
    "fusarium_wilt_tomato",
    "fusarium_basal_rot",
    "lettuce_drop",
    "beet_cyst_nematode",
    "root_knot_nematode",
    "bean_anthracnose",
]
PARTS = [(0.0, 0.5), (0.5, 1.0), (0.25, 0.75)]
QUARTERS = ["spring", "summer", "autumn", "winter"]
#: The judged year is 2027: half of the rows are set in it, so that plans have something to find.
YEARS = st.sampled_from([2027, 2027, 2027, 2027, 2021, 2024, 2025, 2026, 2028])
DAYS = st.builds(lambda year, n: date(year, 1, 1) + timedelta(days=n), YEARS, st.integers(0, 364))
GRAVITY = {"breach": 2, "caution": 1}

some = settings(
    max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)


@st.composite
def rows(draw, bed_ids, crops, number, losses=True, named=True):
    row = {"bed": draw(st.sampled_from(bed_ids)), "crop": draw(st.sampled_from(crops))}
    if named:
        row["id"] = f"p{number}"
    how = draw(st.sampled_from(["day", "day", "span", "quarter", "year", "year"]))
    if how == "year":
        row["season"] = str(draw(YEARS))
    elif how == "quarter":
        row["season"] = f"{draw(YEARS)}-{draw(st.sampled_from(QUARTERS))}"
    else:
        row["start"] = draw(DAYS)
        if how == "span":
            row["end"] = row["start"] + timedelta(days=draw(st.integers(0, 400)))
    if draw(st.integers(0, 5)) == 0:
        row["part"] = draw(st.sampled_from(PARTS))
    if losses and draw(st.integers(0, 9)) == 0 and row.get("start", TODAY) < TODAY:
        row.update(status="lost", cause=draw(st.sampled_from(["slugs", "frost", *TROUBLES[:3]])))
    if losses and draw(st.integers(0, 11)) == 0:
        row["variety"] = {"resists": [draw(st.sampled_from(TROUBLES))]}
    return row


@st.composite
def plans(draw, sightings=True, placed=False, named=True, lines=True, losses=True, least_rows=1):
    """A typed document; ``placed`` gives all beds positions, ``lines`` lets beds replace beds."""
    bed_ids = [f"bed-{n}" for n in range(draw(st.sampled_from([1, 2, 2, 3, 3, 4, 5])))]
    crops = draw(st.lists(st.sampled_from(CROPS), min_size=1, max_size=6, unique=True))
    beds = []
    for n, bed in enumerate(bed_ids):
        made = {
            "id": bed,
            "name": f"Plot {n}",
            "kind": draw(st.sampled_from(["ground", "ground", "ground", "raised", "container"])),
        }
        if placed:
            made["position"] = (float(draw(st.integers(0, 3))), float(draw(st.integers(0, 3))))
        if lines and n and draw(st.integers(0, 7)) == 0:
            made["replaces"] = [{"bed": bed_ids[draw(st.integers(0, n - 1))]}]
            if draw(st.booleans()):
                made["replaces"][0]["until"] = draw(DAYS)
        beds.append(made)
    count = draw(st.integers(least_rows, 14))
    made = {
        "garden": {
            "latitude": draw(st.sampled_from([46.2, -37.8, 12.0])),
            "rotation": draw(st.sampled_from(["full", "full", "short"])),
        },
        "beds": beds,
        "plantings": [draw(rows(bed_ids, crops, n, losses, named or draw(st.booleans()))) for n in range(count)],
    }
    if sightings:
        made["sightings"] = draw(
            st.lists(
                st.fixed_dictionaries({"bed": st.sampled_from(bed_ids), "date": DAYS, "of": st.sampled_from(TROUBLES)}),
                max_size=3,
            )
        )
        made["amendments"] = draw(
            st.lists(
                st.fixed_dictionaries(
                    {"bed": st.sampled_from(bed_ids), "date": DAYS, "kind": st.sampled_from(["new_soil", "lime"])}
                ),
                max_size=1,
            )
        )
    return made


def read(data, season="2027", as_of=TODAY):
    return build_plan(
        document(*data["plantings"], **{k: v for k, v in data.items() if k != "plantings"}),
        KNOWLEDGE,
        as_of=as_of,
        season=season,
    )


@some
@given(plans(named=False), st.randoms(use_true_random=False))
def test_the_order_of_plantings_never_matters(data, random):
    shuffled = {
        **data,
        **{key: random.sample(data[key], len(data[key])) for key in ("plantings", "sightings", "amendments")},
    }
    assert check(read(shuffled), history=True) == check(read(data), history=True)


@some
@given(plans(placed=True), st.randoms(use_true_random=False))
def test_the_order_of_beds_does_not_matter_when_all_have_positions(data, random):
    shuffled = {**data, "beds": random.sample(data["beds"], len(data["beds"]))}
    assert check(read(shuffled), history=True) == check(read(data), history=True)


@some
@given(plans())
def test_the_same_plan_gives_the_same_report_twice(data):
    plan = read(data)
    assert check(plan, history=True) == check(plan, history=True) == check(read(data), history=True)


def worst(report):
    """Each planting's gravest rotation finding."""
    found = {}
    for finding in report.findings:
        if finding.rule.startswith("rotation."):
            for planting in finding.plantings:
                found[planting] = max(found.get(planting, 0), GRAVITY.get(finding.severity, 0))
    return found


def earlier(row, years):
    """A row some years back."""
    moved = dict(row)
    for key in ("start", "end"):
        if key in row:
            moved[key] = back(row[key], years)
    if "season" in row:
        moved["season"] = f"{int(row['season'][:4]) - years}{row['season'][4:]}"
    return moved


def back(day, years):
    return day.replace(year=day.year - years, day=min(day.day, 28) if day.month == 2 else day.day)


@settings(some, max_examples=70)
@given(plans(sightings=False, losses=False, lines=False, least_rows=4), st.data())
def test_a_past_host_further_back_adds_nothing_to_a_rotation(data, drawn):
    """Only for a host that is a stay of its own before and after: leaving a stay can split it by its own rules.

    And only among hosts on known days: a host known by its year alone is counted in whole years, without the days of
    grace that a dated one has, so it may weigh more than one that stood some months longer.
    """
    plan = read(data)
    past = [p for p in plan.plantings if p.crop.family and p.end < plan.judge.start - timedelta(days=184)]
    assume(past)
    host = drawn.draw(st.sampled_from(past))
    years = drawn.draw(st.integers(1, 6))
    begun = [host.start, back(host.start, years)]
    others = [p for p in plan.plantings if p.bed == host.bed and p.crop.family == host.crop.family and p.id != host.id]
    assume(all(p.exact != "year" and abs((p.start - start).days) > 210 for p in others for start in begun))
    moved = {**data, "plantings": [earlier(row, years) if row["id"] == host.id else row for row in data["plantings"]]}
    before, after = worst(check(plan)), worst(check(read(moved)))
    assert all(after[planting] <= before.get(planting, 0) for planting in after)


def later(value):
    """A document four years on."""
    if isinstance(value, date):
        return value.replace(year=value.year + 4)
    if isinstance(value, list):
        return [later(entry) for entry in value]
    if isinstance(value, dict):
        return {
            key: f"{int(entry[:4]) + 4}{entry[4:]}" if key == "season" else later(entry) for key, entry in value.items()
        }
    return value


@some
@given(plans())
def test_four_years_later_only_the_dates_differ(data):
    now = check(read(data), history=True)
    then = check(read(later(data), "2031", later(TODAY)), history=True)

    def shape(report):
        return [
            (f.rule, f.severity, f.beds, f.plantings, f.in_window, [(a.op, a.planting, a.bed) for a in f.fix.actions])
            for f in report.findings
        ]

    assert shape(then) == shape(now)
    assert (then.verdict, then.score, [line.count for line in then.not_checked]) == (
        now.verdict,
        now.score,
        [line.count for line in now.not_checked],
    )
    assert [outlook_shape(bed) for bed in then.beds] == [outlook_shape(bed) for bed in now.beds]


def outlook_shape(bed):
    """A bed's outlook without its dates."""
    return {family: free if isinstance(free, str) else "dated" for family, free in bed.free_from.items()}, [
        c.because for c in bed.closed_to
    ]


@settings(some, max_examples=80)
@given(plans(least_rows=4))
def test_a_fix_removes_its_finding_and_adds_nothing_grave(data):
    plan = read(data)
    before = grave(check(plan, history=True))
    for finding in check(plan).findings:
        if finding.fix.actions:
            after = grave(check(apply(plan, finding.fix.actions), history=True))
            assert not {(finding.rule, planting) for planting in finding.plantings} & after
            assert after <= before


def plain(value, names):
    """A report as plain data with bed ids exchanged."""
    if dataclasses.is_dataclass(value):
        return {field.name: plain(getattr(value, field.name), names) for field in dataclasses.fields(value)}
    if isinstance(value, dict):
        return {key: plain(entry, names) for key, entry in value.items()}
    if isinstance(value, tuple | list):
        return [plain(entry, names) for entry in value]
    return names.get(value, value) if isinstance(value, str) else value


@some
@given(plans())
def test_new_names_for_beds_change_the_names_only(data):
    names = {bed["id"]: bed["id"].replace("bed-", "zz-") for bed in data["beds"]}
    renamed = plain({key: value for key, value in data.items() if key != "plantings"}, names)
    renamed["plantings"] = [{**row, "bed": names[row["bed"]]} for row in data["plantings"]]
    assert plain(check(read(renamed), history=True), {}) == plain(check(read(data), history=True), names)


@some
@given(plans())
def test_advice_and_benefits_never_change_the_verdict(data):
    full, quiet = check(read(data)), check(read(data), QUIET)
    assert quiet.verdict == full.verdict
    assert [(f.rule, f.plantings) for f in quiet.findings] == [
        (f.rule, f.plantings) for f in full.findings if f.severity in GRAVITY
    ]
