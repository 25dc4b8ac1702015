"""The element on a club's page, the frame, the record page and printed labels, in a real browser."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser, Page, Request, expect

SHOWN = "breakcrop-garden >> css=[part=table]"


def shown(page: Page) -> Any:
    """The element when it has looked."""
    expect(page.locator(SHOWN)).to_be_visible()
    expect(page.locator("breakcrop-garden >> css=[part=status]")).to_have_text("")
    return page.locator("breakcrop-garden")


# -- on a club's page


def test_two_lines_show_the_beds_and_what_was_found(site, page: Page) -> None:
    page.goto(site.put("plain.html", site.element()))
    garden = shown(page)
    expect(garden.get_by_role("heading", level=2)).to_have_text("Tannery Row Plots")
    table = garden.get_by_role("table")
    expect(table.get_by_role("columnheader")).to_have_text(["Bed", "Stands now", "Next", "Room from", "Should wait"])
    lime = table.get_by_role("row").filter(has=page.get_by_role("rowheader", name="Lime ground"))
    expect(lime).to_contain_text("Globe artichokes, until cleared")
    summary = garden.locator("css=[part=summary]").inner_text()
    counts = {word: int(number) for number, word in re.findall(r"(\d+) (break|work|are advice|are benefits)", summary)}
    for word, severity in (
        ("break", "breach"),
        ("work", "caution"),
        ("are advice", "advice"),
        ("are benefits", "benefit"),
    ):
        assert garden.locator(f"css=details.{severity} li").count() == counts[word] > 0


def test_pictures_are_fetched_with_the_key_and_told_to_those_who_do_not_see(site, page: Page) -> None:
    page.goto(site.put("pictures.html", site.element()))
    pictures = shown(page).locator("css=img")
    expect(pictures).to_have_count(2)
    for at in range(2):
        expect(pictures.nth(at)).to_have_attribute("src", re.compile("^blob:"))
        assert pictures.nth(at).evaluate("image => image.decode().then(() => image.naturalWidth)") > 0
        assert len(pictures.nth(at).get_attribute("alt") or "") > 20


def test_the_key_goes_to_the_service_in_a_header_and_never_in_an_address(site, page: Page) -> None:
    asked: list[Request] = []
    page.on("request", lambda one: asked.append(one))
    page.goto(site.put("key.html", site.element()))
    shown(page)
    key, calls = site.keys["publishable_read"], [one for one in asked if "/v1/" in one.url]
    assert calls
    assert not [one.url for one in asked if key in one.url]
    assert {one.headers.get("authorization") for one in calls if one.method == "GET"} == {f"Bearer {key}"}
    assert not [one.url for one in calls if one.headers.get("referer")]


def test_what_people_wrote_is_text_on_the_page(site, page: Page) -> None:
    page.route("**/board", lambda route: route.fulfill(json=MEAN, headers={"Access-Control-Allow-Origin": "*"}))
    page.goto(site.put("mean.html", site.element('pictures=""')))
    garden = shown(page)
    expect(garden).to_contain_text("<img src=x onerror=alert(1)>")
    assert garden.locator("css=img, script").count() == 0


MEAN = {
    **{
        "garden": "<img src=x onerror=alert(1)>",
        "as_of": "2027-06-01",
        "verdict": "clear",
        "skipped": 0,
        "findings": [],
    },
    "judged": {"season": None, "from": "2027-01-01", "to": "2027-12-31"},
    "beds": [
        {
            **{"bed": "b", "name": "<script>1</script>", "free_from": "2027-09-01", "breaks": [], "next": None},
            "standing": [
                {
                    "planting": "p",
                    "crop": "Kale",
                    "variety": "<b>",
                    "start": "2027-05-01",
                    "end": None,
                    "assumed_end": True,
                }
            ],
        }
    ],
}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda site: site.element(key="wrong"), "The key to this garden is not good any more."),
        (lambda site: site.element().replace(site.garden, "nogarden"), "There is no such garden"),
        (lambda site: site.element(key=""), "This garden needs its address (src) and its key."),
        (
            lambda site: site.element().replace(f'src="{site.source}"', 'src="http://127.0.0.1:9/v1"'),
            "could not be reached",
        ),
    ],
)
def test_what_is_wrong_is_said_in_a_sentence(site, page: Page, change, said: str) -> None:
    page.goto(site.put("wrong.html", change(site)))
    status = page.locator("breakcrop-garden").get_by_role("status")
    expect(status).to_contain_text(said)
    assert re.fullmatch(r"[A-Z][\w ,()'.-]+\.", status.inner_text())


def test_a_site_that_is_not_on_the_list_is_not_served(site, page: Page) -> None:
    with page.expect_console_message(lambda told: "blocked by CORS policy" in told.text):
        page.goto(site.put("elsewhere.html", site.element()).replace("localhost", "127.0.0.1"))
    assert page.evaluate("customElements.get('breakcrop-garden') === undefined")


COUNTED = """
    const set = window.setTimeout;
    window.waits = 0;
    window.setTimeout = (then, time, ...rest) => ((window.waits += time >= 60000), set(then, time, ...rest));
"""


def test_it_looks_for_news_with_its_tag_and_keeps_what_it_shows_when_the_service_is_gone(site, page: Page) -> None:
    page.clock.install()
    page.add_init_script(COUNTED)
    looks: list[Request] = []
    page.on("request", lambda one: looks.append(one) if one.method == "GET" and one.url.endswith("/board") else None)

    def waits(times: int) -> None:  # a clock that is put forward before the element waits has nothing to ring for
        page.wait_for_function("times => window.waits === times", arg=times)

    page.goto(site.put("news.html", site.element('refresh="5" pictures=""')))
    garden = shown(page)
    waits(1)
    garden.evaluate("one => one.shadowRoot.querySelector('[part=heading]').dataset.old = 'yes'")
    page.clock.fast_forward("04:00")
    assert len(looks) == 1
    with page.expect_response(lambda one: one.request.method == "GET" and one.url.endswith("/board")) as news:
        page.clock.fast_forward("01:05")
    assert news.value.request.all_headers()["if-none-match"]
    waits(2)
    expect(garden.locator("css=[data-old]")).to_be_visible()  # nothing was new, so nothing was drawn anew
    page.route("**/board", lambda route: route.abort())
    page.clock.fast_forward("05:05")
    status = garden.get_by_role("status")
    expect(status).to_contain_text("What is shown may be out of date.")
    expect(garden.locator("css=[data-old]")).to_be_visible()


def test_it_goes_away_and_comes_back_without_a_trace(site, page: Page) -> None:
    page.goto(site.put("moved.html", site.element('pictures=""') + "<div id=other></div>"))
    shown(page)
    page.evaluate("document.querySelector('#other').append(document.querySelector('breakcrop-garden'))")
    shown(page)
    page.evaluate("document.querySelector('breakcrop-garden').setAttribute('key', 'wrong')")
    expect(page.locator("breakcrop-garden").get_by_role("status")).to_contain_text("not good any more")
    assert page.locator("breakcrop-garden").get_by_role("table").count() == 0


def colour(page: Page, selector: str, name: str) -> str:
    return page.locator(selector).first.evaluate(f"one => getComputedStyle(one)[{name!r}]")


@pytest.mark.parametrize("width", [320, 1000])
@pytest.mark.parametrize("style", ["color:#222;background:#fff", "color:#eee;background:#222"], ids=["light", "dark"])
def test_it_takes_the_ink_of_the_page_and_fits_its_width(site, browser: Browser, style: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 700})
    page.goto(site.put("ink.html", f"<style>body{{font-family:serif;{style}}}</style>{site.element()}"))
    shown(page)
    assert colour(page, "breakcrop-garden >> css=td", "color") == colour(page, "body", "color")
    assert colour(page, "breakcrop-garden >> css=td", "fontFamily") == "serif"
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()


# -- in a frame, and as pages of their own


def test_a_frame_shows_the_garden_on_sites_that_are_listed_only(site, page: Page) -> None:
    source = f"{site.service}/embed/{site.garden}#{site.keys['publishable_read']}"
    address = site.put("frame.html", f'<iframe src="{source}" width="800" height="600"></iframe>')
    page.goto(address)
    expect(page.frame_locator("iframe").get_by_role("table")).to_be_visible()
    with page.expect_console_message(lambda told: "frame-ancestors" in told.text):
        page.goto(address.replace("localhost", "127.0.0.1"))
    assert page.frame_locator("iframe").get_by_role("table").count() == 0


def test_a_record_is_opened_by_the_key_behind_the_hash_and_asks_for_one_otherwise(site, page: Page) -> None:
    address = f"{site.service}/gardens/{site.garden}/plantings/cabbages"
    page.goto(address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Open with your key")
    page.get_by_label("Key").fill("wrong")
    page.get_by_role("button", name="Open").click()
    expect(page.get_by_role("alert")).to_contain_text("not good any more")
    page.get_by_label("Key").fill(site.keys["publishable_read"])
    page.get_by_role("button", name="Open").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Cabbage")
    expect(page.locator("dl")).to_contain_text("Kiln bed")
    expect(page.locator("main")).to_contain_text("too soon after kale")
    page.get_by_role("link", name="The whole garden").click()
    shown(page)


def test_no_page_tells_whether_a_garden_is_there(site, page: Page) -> None:
    here, nowhere = (page.request.get(f"{site.service}/gardens/{name}") for name in (site.garden, "nogarden"))
    assert here.status == nowhere.status == 200
    assert here.text().replace(site.garden, "nogarden") == nowhere.text()


# -- labels


def test_printed_labels_can_be_read_and_open_the_record(site, page: Page) -> None:
    key = site.keys["publishable_read"]
    page.goto(f"{site.service}/gardens/{site.garden}#{key}")
    page.get_by_text("Print labels").click()
    page.get_by_label("Sheet").select_option("stake")
    with page.expect_popup() as opened:
        page.get_by_role("button", name="Make labels").click()
    labels = opened.value
    labels.wait_for_load_state()
    expect(labels.get_by_role("heading")).to_have_text("Labels for Tannery Row Plots")
    assert colour(labels, ".sheet text", "fontFamily").startswith("Verdana")  # its style sheet is let by
    labels.emulate_media(media="print")
    labels.set_viewport_size({"width": 900, "height": 1200})
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(labels.locator(".sheet").first.screenshot())))
    wanted = f"{site.service}/gardens/{site.garden}/plantings/"
    assert len(found) == 12
    assert all(code.text.startswith(wanted) and code.text.endswith(f"#{key}") for code in found)
    page.goto(found[0].text)
    expect(page.locator("dl")).to_contain_text("Bed")


def test_a_stronger_key_never_stands_on_a_label(site, page: Page) -> None:
    for scope in ("garden_read", "garden_write"):
        key = site.keys[scope]
        answer = page.request.get(f"{site.source}/labels", headers={"Authorization": f"Bearer {key}"})
        assert answer.ok
        assert "/plantings/cabbages" in answer.text()
        assert key not in answer.text()
