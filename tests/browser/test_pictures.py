"""Pictures as a browser draws them: what is written keeps to the room that was measured for it."""

from __future__ import annotations

import json
from datetime import date

import pytest
from drawn import KNOWLEDGE, read
from playwright.sync_api import Browser, Page

import rules
from service.pictures import map_svg, timeline_svg
from service.planfile import open_plan

SCHEMES = ("light", "dark")
#: Boxes of text as they are drawn, in units of the page; those turned are left out of a test of upright boxes.
_BOXES = """() => [...document.querySelectorAll("text")].map((text) => {
  const box = text.getBoundingClientRect();
  const own = text.getBBox();
  return { said: text.textContent, long: text.getComputedTextLength(), wide: own.width, turned: /rotate\\((?!0)/.test(
    text.getAttribute("transform") ?? ""), left: box.left, top: box.top, right: box.right, bottom: box.bottom };
})"""
#: Each card's plate must hold its own words.
_SPILT = """() => [...document.querySelectorAll("path.bc-plate")].flatMap((plate) => {
  const words = [];
  for (let next = plate.nextElementSibling; next && !next.matches("path.bc-plate"); next = next.nextElementSibling)
    if (next.matches("text")) words.push(next);
  const room = plate.getBoundingClientRect();
  return words.filter((text) => {
    const box = text.getBoundingClientRect();
    const aside = box.left < room.left - 1 || box.right > room.right + 1;
    return aside || box.top < room.top - 3 || box.bottom > room.bottom + 3;
  }).map((text) => text.textContent);
})"""


def odd_names():
    """Names of the widest letters, of other scripts, and of one word."""
    names = [
        "W" * 40,
        "Hof der Gräfin von Wörlitz-Oranienbaum",
        "菜園の北側にある長い花壇",
        "🥕" * 20,
        "iiii",
        "حديقة المطبخ الطويلة",
    ]
    beds = [
        {"id": f"b{n}", "name": name, "length": 400, "width": 120, "position": {"x": n % 3 * 5, "y": n // 3 * 2}}
        for n, name in enumerate(names)
    ]
    rows = [{"bed": bed["id"], "crop": "globe artichoke", "start": "2026-04-10"} for bed in beds]
    return read({"as_of": "2027-03-01", "judge": {"season": "2027"}, "beds": beds, "plantings": rows}), KNOWLEDGE


PLANS = {"demo": lambda: open_plan("demo"), "odd names": odd_names}


@pytest.fixture(params=[f"{plan} {kind}" for plan in PLANS for kind in ("map", "timeline")])
def picture(request) -> str:
    name, _, kind = request.param.rpartition(" ")
    plan, knowledge = PLANS[name]()
    report = rules.check(plan, knowledge)
    if kind == "map":
        return map_svg(plan, report, knowledge, day=date(2027, 7, 1))
    return timeline_svg(plan, report, knowledge)


def meets(one, other):
    return min(one["right"], other["right"]) - max(one["left"], other["left"]) > 1 and (
        min(one["bottom"], other["bottom"]) - max(one["top"], other["top"]) > 3.5
    )


def test_no_text_as_drawn_lies_over_another(page: Page, picture: str) -> None:
    page.set_viewport_size({"width": 1000, "height": 900})
    page.set_content(f"<body style='margin:0'>{picture}</body>")
    boxes = page.evaluate(_BOXES)
    assert len(boxes) > 20
    over = [(a["said"], b["said"]) for n, a in enumerate(boxes) for b in boxes[:n] if meets(a, b)]
    assert over == []
    assert page.evaluate(_SPILT) == []


@pytest.mark.parametrize("width", [390, 900])
@pytest.mark.parametrize("scheme", SCHEMES)
def test_a_picture_in_a_page_fits_its_width_and_theme(browser: Browser, scheme: str, width: int) -> None:
    plan, knowledge = open_plan("demo")
    report = rules.check(plan, knowledge)
    svgs = [map_svg(plan, report, knowledge, day=date(2027, 7, 1)), timeline_svg(plan, report, knowledge)]
    page = browser.new_page(color_scheme=scheme, viewport={"width": width, "height": 800})
    page.set_content("<!doctype html><meta name=color-scheme content='light dark'><body style='margin:0'></body>")
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    colours = page.evaluate(
        """async (svgs) => {
          const found = [];
          for (const svg of svgs) {
            const image = new Image();
            image.src = URL.createObjectURL(new Blob([svg], { type: "image/svg+xml" }));
            image.style.maxWidth = "100%";
            document.body.append(image);
            await image.decode();
            const canvas = document.createElement("canvas");
            canvas.width = canvas.height = 4;
            canvas.getContext("2d").drawImage(image, 0, 0, 4, 4, 0, 0, 4, 4);
            found.push([...canvas.getContext("2d").getImageData(1, 1, 1, 1).data].slice(0, 3), image.offsetWidth);
          }
          return found;
        }""",
        svgs,
    )
    paper = {"light": [0xFD, 0xFD, 0xFB], "dark": [0x1B, 0x1B, 0x19]}[scheme]
    assert colours[0] == colours[2] == paper, json.dumps(colours)
    assert all(wide <= width for wide in colours[1::2])
    assert [url for url in asked if not url.startswith("blob:")] == []
    page.close()
