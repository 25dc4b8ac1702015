"""Labels: what they say, where they lie, and that a code can be read by someone else's reader."""

from __future__ import annotations

import re
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

import pypdfium2
import pytest
import zxingcpp

import rules
from rules.model import Bed, Garden, Plan, Planting, Variety, Window
from service.cli import main
from service.labels import SHEETS, Label, NoPdf, NotInFont, labels_html, labels_of, labels_pdf, record_link
from service.labels.asked import labels_asked
from service.labels.fitting import CROP, POINTS, REST, estimate, fit
from service.labels.layout import laid_out

KNOWLEDGE = rules.load_knowledge()
KEY = "hk3Jf93kf02kfdk20fkJKF93kfdkk39fKDKFkdk3k3j"
GARDEN = f"https://plots.example/gardens/bcdfghjkmnpq#{KEY}"
TODAY = date(2027, 6, 1)
LONG = Label("Purple sprouting broccoli", "Early Purple Improved Extra Hardy No. 12", "The long border", TODAY)
PLAIN = Label("Kürbis – früh", "Große “Gelbe”", "Höhe", TODAY, link=record_link(GARDEN, "kale"))


def planting(name: str, crop: str, start: date, end: date, bed: str = "kiln", **more: object) -> Planting:
    return Planting(name, bed, KNOWLEDGE.find_crop(crop), start, end, **more)  # type: ignore[arg-type]


def plan(*plantings: Planting) -> Plan:
    beds = (Bed("quay", "Quay bed"), Bed("kiln", "Kiln bed"))
    return Plan(TODAY, Window(date(2027, 1, 1), date(2027, 12, 31)), None, Garden("Plots"), beds, plantings)


OURS = plan(
    planting("kale", "kale", date(2027, 5, 1), date(2027, 10, 1), variety=Variety("Früher Riese")),
    planting("over", "peas", date(2027, 3, 1), date(2027, 5, 20)),
    planting("gone", "peas", date(2027, 5, 20), date(2027, 7, 1), status="lost"),
    planting("rest", "fallow", date(2027, 5, 20), date(2027, 7, 1)),
    planting("next", "leek", date(2027, 6, 1), date(2027, 8, 31), "quay", exact="quarter", season="2027-summer"),
    planting("year", "carrot", date(2027, 4, 1), date(2027, 10, 31), "quay", exact="year", season="2027"),
)


def read(page: int, body: bytes) -> tuple[set[str], str]:
    """The links that a reader finds in the codes of a PDF's page, and its text."""
    with closing(pypdfium2.PdfDocument(body)) as document:
        picture = document[page].render(scale=200 / 72).to_pil()
        text = document[page].get_textpage().get_text_range()
    return {code.text for code in zxingcpp.read_barcodes(picture)}, " ".join(text.split())


# -- what gets a label


def test_what_is_planned_or_stands_gets_a_label_bed_by_bed() -> None:
    found = labels_of(OURS, garden_url=GARDEN)
    assert [(label.crop, label.variety, label.bed, label.when) for label in found] == [
        ("Carrot", "", "Quay bed", "2027"),
        ("Leek", "", "Quay bed", "summer 2027"),
        ("Kale", "Früher Riese", "Kiln bed", "1 May 2027"),
    ]
    assert found[2].link == f"https://plots.example/gardens/bcdfghjkmnpq/plantings/kale#{KEY}"
    assert [label.link for label in labels_of(OURS)] == ["", "", ""]


def test_what_is_named_gets_one_whatever_became_of_it() -> None:
    assert [label.start for label in labels_of(OURS, plantings=["over", "gone"])] == [
        *(date(2027, 3, 1), date(2027, 5, 20)),
    ]
    assert [label.bed for label in labels_of(OURS, beds=["quay"])] == ["Quay bed", "Quay bed"]


def test_everything_wrong_with_a_wish_is_told_at_once() -> None:
    asked, faults = labels_asked(OURS, beds=["kilm"], plantings=["kail"], sheet="a4-42", link="plots.example")
    assert asked is None
    assert [name for name, _ in faults] == ["bed", "planting", "sheet", "link"]
    assert all("did you mean" in said for _, said in faults[:3])
    assert labels_asked(OURS, first=25)[1] == [("from", "the sheet has places 1 to 24, not 25")]
    for link in (
        "https://plots.example/gardens/x y",
        "javascript:alert(1)",
        'https://a.example/"><script>',
        "https://",
    ):
        assert labels_asked(OURS, link=link)[0] is None, link


def test_more_labels_than_are_made_at_a_time_are_refused() -> None:
    many = [planting(f"p{i}", "kale", date(2027, 5, 1), date(2027, 10, 1)) for i in range(301)]
    assert labels_asked(plan(*many[:300]))[1] == []
    assert "301 labels" in labels_asked(plan(*many))[1][0][1]


# -- where it lies


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_labels_lie_on_the_page_and_not_on_each_other(sheet) -> None:
    corners, (wide, high) = sheet.corners(), sheet.label
    assert len(corners) == sheet.room == len(set(corners))
    for x, y in corners:
        assert x >= 0
        assert y >= 0
        assert x + wide <= sheet.page[0] + 1e-9
        assert y + high <= sheet.page[1] + 1e-9
    assert sheet.across >= wide
    assert sheet.down >= high
    # The same white at both sides, or the sheet would be off its middle.
    assert corners[0][0] == pytest.approx(sheet.page[0] - corners[-1][0] - wide, abs=0.01)
    assert corners[0][1] == pytest.approx(sheet.page[1] - corners[-1][1] - high, abs=0.01)


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
@pytest.mark.parametrize("label", [LONG, PLAIN, LONG._replace(link=PLAIN.link)], ids=["long", "link", "both"])
def test_text_and_code_stay_in_their_label_and_apart(sheet, label) -> None:
    (placed,) = next(iter(laid_out([label], sheet, 1, estimate)))
    (wide, high), right = sheet.label, 0.0
    if placed.code:
        assert placed.x <= placed.code[0]
        assert placed.y <= placed.code[1]
        right = placed.code[0] + sheet.code_side
        assert placed.code[1] + sheet.code_side <= placed.y + high
    for line in placed.lines:
        assert line.size >= 6 / POINTS * 0.99  # smaller print is not read at the bed
        assert line.x >= right
        assert line.x + estimate(line.text, line.size, line.bold) <= placed.x + wide - sheet.tail
        assert placed.y <= line.y - line.size * 0.8
        assert line.y + line.size * 0.2 <= placed.y + high


def test_a_short_text_is_large_and_a_long_one_shrinks_before_it_is_cut() -> None:
    short = fit(Label("Kale", "", "Kiln", TODAY), 60, 30, estimate)
    assert [(line.text, line.size, line.bold) for line in short] == [
        *(("Kale", CROP, True), ("Kiln, 1 June 2027", REST, False)),
    ]
    shrunk = fit(Label("Strawberries", "", "Kiln", TODAY), 34, 30, estimate)
    assert shrunk[0].text == "Strawberries"
    assert CROP / 2 < shrunk[0].size < CROP
    cut = fit(Label("Kale", "Donaudampfschifffahrtsgesellschaftskapitän", "Kiln", TODAY), 30, 30, estimate)
    assert cut[1].text.startswith("Donau")
    assert cut[1].text.endswith("…")


def test_a_sheet_that_is_used_in_part_is_begun_where_it_is_free() -> None:
    sheet = SHEETS["letter-30"]
    pages = list(laid_out([PLAIN] * 12, sheet, 29, estimate))
    assert [len(page) for page in pages] == [2, 10]
    assert (pages[0][0].x, pages[0][0].y) == sheet.corners()[28]
    assert (pages[1][0].x, pages[1][0].y) == sheet.corners()[0]


# -- HTML


def test_the_page_escapes_what_people_wrote_and_fetches_nothing() -> None:
    mean = Label("<script>alert(1)</script>", '"><img src=x>', "&amp;", TODAY)
    body = labels_html([mean], SHEETS["a4-14"], title="<b>")
    assert "<script" not in body
    assert "<img" not in body
    assert "&lt;script&gt;" in body
    assert not re.findall(r'(?:src|href)="(?!data:,")', body)
    assert " style=" not in body  # the policy of the service lets none by


# -- PDF


def test_codes_on_the_pdf_open_the_record_of_each_planting() -> None:
    labels = labels_of(OURS, garden_url=GARDEN)
    for sheet in SHEETS.values():
        links, text = read(0, labels_pdf(labels, sheet))
        assert links == {label.link for label in labels}, sheet.name
        assert "Früher Riese" in text
        assert "1 May 2027" in text


def test_the_pdf_has_the_size_of_the_sheet_and_the_same_bytes_each_time() -> None:
    body = labels_pdf([PLAIN] * 26, SHEETS["a4-24"], first=23)
    with closing(pypdfium2.PdfDocument(body)) as document:
        assert len(document) == 2
        assert document[0].get_size() == pytest.approx((595.28, 841.89), abs=0.01)
    assert labels_pdf([PLAIN] * 26, SHEETS["a4-24"], first=23) == body
    assert "Kürbis – früh" in read(1, body)[1]


def test_letters_that_the_pdf_does_not_have_are_named() -> None:
    labels = [Label("Kale", "Kőszegi", "Kiln", TODAY), Label("大根", "", "畑", TODAY)]
    with pytest.raises(NotInFont, match="大, 根, 畑"):
        labels_pdf(labels, SHEETS["a4-24"])
    assert "Koszegi" in read(0, labels_pdf(labels[:1], SHEETS["a4-24"]))[1]  # a rare accent is let go
    assert "大根" in labels_html(labels, SHEETS["a4-24"])


def test_without_its_library_the_pdf_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "reportlab.pdfgen.canvas", None)
    with pytest.raises(NoPdf, match=r"breakcrop\[pdf\]"):
        labels_pdf([PLAIN], SHEETS["a4-24"])


# -- the command


def test_the_command_writes_html_or_pdf(tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]) -> None:
    page, sheets = tmp_path / "labels.html", tmp_path / "labels.pdf"
    assert main(["labels", "demo", "--bed", "vat", "--from", "3", "--out", str(page)]) == 0
    assert "Labels for Tannery Row Plots" in page.read_text("utf-8")
    assert page.read_text("utf-8").count('<g role="group"') == 6
    assert main(["labels", "demo", "--pdf", "--sheet", "stake", "--link", GARDEN, "--out", str(sheets)]) == 0
    links, _ = read(0, sheets.read_bytes())
    assert f"https://plots.example/gardens/bcdfghjkmnpq/plantings/cabbages#{KEY}" in links
    assert main(["labels", "demo", "--planting", "cabbages"]) == 0
    assert capsysbinary.readouterr().out.startswith(b"<!doctype html>")


@pytest.mark.parametrize(
    ("options", "status", "said"),
    [
        (["--bed", "kilm", "--from", "99"], 65, "--from: the sheet has places 1 to 24"),
        (["--sheet", "a5"], 64, "--sheet: no sheet is called 'a5'"),
        (["--bed", "old-kiln"], 65, "nothing to label"),
        (["--out", "/no/such/folder/labels.html"], 74, "/no/such/folder/labels.html"),
    ],
)
def test_the_command_says_what_is_wrong(options: list[str], status: int, said: str, capsys) -> None:
    assert main(["labels", "demo", *options]) == status
    assert said in capsys.readouterr().err
