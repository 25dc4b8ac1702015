"""The page that a coordinator prints: what to do first, and each mistake once."""

import csv
import io

from test_answer import KNOWLEDGE, TODAY

from service.batch.answer import Answer
from service.batch.gardens import Gardens, read_sightings
from service.batch.judge import Shared
from service.batch.run import Work
from service.batch.summarytext import summary_text

HEAD = "garden,bed,season,crop,count\n"
KALE = "{0},a,2025,kale,\n{0},a,2026,kale,\n{0},a,2027,cabbage,\n"
CLEAR = "".join(
    f"{{0}},a,{year},{crop},\n" for year, crop in enumerate(("kale", "leek", "potato", "pea", "carrot"), 2023)
)


def checked(rows, seen="", form="ndjson"):
    sightings = read_sightings(io.BytesIO(seen.encode()))
    answer = Answer(
        Gardens(io.BytesIO((HEAD + rows).encode())),
        Work(Shared(TODAY, "2027", None, sightings), form),
        KNOWLEDGE,
    )
    return b"".join(answer).decode(), answer.summary.line()


def page(rows, seen=""):
    return " ".join(summary_text(checked(rows, seen)[1], KNOWLEDGE).split())


def test_what_to_do_is_told_in_its_order_and_only_what_there_is():
    rows = [CLEAR.format("Plot 1"), "Plot 2,a,2027,cabage,\n", KALE.format("Plot 3"), "Plot 4,a,2026,pea,\n"]
    rows += ["Plot 5,a,2027,pea,\n", CLEAR.format("Plot 6")]
    told = page("".join(rows), "garden,bed,date,of\nPlot 6,a,2026-07-01,clubroot\n")
    first = told[told.index("What to do first") : told.index("Commonest")]
    assert first.split(" ---------------- ")[1].strip() == (
        "1. Mend the sheet: 1 garden could not be checked. Then run this again. "
        "2. Change what is planned in 1 garden: the report has a way out beside each breach. "
        "3. Look at 1 garden with a disease on record, and at the plot beside. Clean boots and tools between plots. "
        "4. Ask what 1 garden will plant. "
        "5. Ask what grew before in 1 garden: until then a fault there goes unseen."
    )
    assert "What to do first" not in page(CLEAR.format("Plot 1"))


def test_a_name_that_only_the_sightings_have_is_to_be_mended():
    told = page(CLEAR.format("Plot 1"), "garden,bed,date,of\nPlot 01,a,2026-07-01,clubroot\n")
    assert "1. Mend the names in the sheet of sightings: a disease is passed over until then." in told


def test_neighbours_that_are_ill_themselves_are_counted_once():
    rows = "".join(CLEAR.format(f"Plot {number}") for number in range(1, 6))
    seen = "garden,bed,date,of\n" + "".join(f"Plot {number},a,2026-07-01,clubroot\n" for number in (2, 3))
    assert "Look at 2 gardens with a disease on record, and at the 2 plots beside." in page(rows, seen)


def test_a_mistake_that_many_made_stands_once_the_commonest_first():
    rows = "Plot 0,a,2027,kale,many\n" + "".join(f"Plot {number},a,2027,cabage,\n" for number in range(1, 4))
    told = page(rows + "Plot 4,a,2027,kael,none\n")
    mend = told[told.index("To mend in the sheet") :]
    assert mend.count("did you mean cabbage") == 1
    assert mend.index("Lines 3 (Plot 1), 4 (Plot 2) and 5 (Plot 3), crop: no crop is known as 'cabage'") < mend.index(
        "Line 2, count, Plot 0: count must be a whole number"
    )
    assert "Line 6, crop, Plot 4:" in mend or "Line 6, count, Plot 4:" in mend
    assert "(and 1 more)" in mend


def test_many_places_of_one_mistake_are_cut_and_counted():
    told = page("".join(f"Plot {number},a,2027,cabage,\n" for number in range(1, 41)))
    assert "31 (Plot 30) and 10 more, crop: no crop is known" in told
    assert "the report lists all" not in told


def test_a_sheet_says_why_a_verdict_is_unknown():
    rows = "Plot 1,a,2026,pea,\n" + "".join(f"Plot 2,{bed},2027,kale,\n" for bed in "abcde")
    table = csv.DictReader(io.StringIO(checked(rows, form="csv")[0]))
    said = {row["garden"]: row["title"] for row in table if row["type"] == "verdict"}
    assert said["Plot 1"] == "nothing is planned in the season"
    assert said["Plot 2"].count("has no record for 2024, 2025, 2026") == 3
    assert said["Plot 2"].endswith("; and 3 more")
