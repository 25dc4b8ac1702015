"""Colours, patterns and letters: told apart without colour, and read in light and in dark."""

from __future__ import annotations

import re
from itertools import combinations

import pytest
from drawn import DAY, KNOWLEDGE, SVG, parsed, read

import rules
from service.pictures import map_svg, style_source, timeline_svg
from service.pictures.looks import COLOURS, PATTERNS, SEVERAL, THEMES, looks_of
from service.pictures.measure import fit, sure, width, wrap
from service.pictures.sheet import style
from service.planfile import open_plan

#: Web Content Accessibility Guidelines 2.2, success criterion 1.4.3: text against what lies behind it.
LEAST_CONTRAST = 4.5
ALL = [family for family in KNOWLEDGE.families if family != "other"]


def luminance(colour):
    """Relative luminance as the guidelines define it, written here anew."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def ratio(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_ratio_is_that_of_the_guidelines():
    assert ratio("#000000", "#ffffff") == pytest.approx(21)
    assert ratio("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


def test_the_palette_is_that_of_okabe_and_ito():
    published = {
        (230, 159, 0),
        (86, 180, 233),
        (0, 158, 115),
        (240, 228, 66),
        (0, 114, 178),
        (213, 94, 0),
        (204, 121, 167),
    }
    assert {tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5)) for colour in COLOURS.values()} == published


def test_every_family_has_letters_of_its_own_and_a_pattern_of_its_own_in_its_colour():
    looks = looks_of([*ALL, "Oxalidaceae", "Onagraceae", SEVERAL], KNOWLEDGE)
    assert set(looks) == {*ALL, "Oxalidaceae", "Onagraceae", SEVERAL}
    for one, other in combinations(looks.values(), 2):
        assert one.code.casefold() != other.code.casefold(), (one, other)
        assert (one.colour, one.pattern) != (other.colour, other.pattern), (one, other)
    assert all(re.fullmatch("[A-Z][a-z]", look.code) and look.pattern in PATTERNS for look in looks.values())


def test_the_vegetables_that_most_grow_have_eight_patterns():
    usual = (
        *("Brassicaceae", "Solanaceae", "Fabaceae", "Amaryllidaceae"),
        *("Apiaceae", "Cucurbitaceae", "Amaranthaceae", "Asteraceae"),
    )
    assert len({look.pattern for look in looks_of(usual, KNOWLEDGE).values()}) == 8


def test_many_families_of_the_growers_own_still_differ():
    own = [f"X{letter}aceae" for letter in "abcdefghijklmnopqrstuvwxyz"] + [f"Xa{letter}aceae" for letter in "bcdefgh"]
    assert len({look.code for look in looks_of(own, KNOWLEDGE).values()}) == len(own)


@pytest.mark.parametrize("family", ALL)
def test_letters_show_on_the_colour_of_their_family(family):
    look = looks_of([family], KNOWLEDGE)[family]
    assert ratio(look.ink, look.colour) >= LEAST_CONTRAST


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("text", "behind"), [
    *(("ink", behind) for behind in ("paper", "soft", "soil")),
    *(("quiet", behind) for behind in ("paper", "soft")),
])  # fmt: skip
def test_text_shows_on_what_lies_behind_it(theme, text, behind):
    assert ratio(THEMES[theme][text], THEMES[theme][behind]) >= LEAST_CONTRAST


@pytest.mark.parametrize("theme", THEMES)
def test_lines_and_marks_show(theme):
    """Success criterion 1.4.11: 3 to 1 for what one must see to understand."""
    for behind in ("paper", "soft", "soil"):
        assert ratio(THEMES[theme]["ink"], THEMES[theme][behind]) >= 3
    assert ratio(THEMES[theme]["line"], THEMES[theme]["paper"]) >= 3


def test_every_text_of_a_picture_has_one_of_the_tested_colours():
    plan, knowledge = open_plan("demo")
    report = rules.check(plan, knowledge)
    looks = looks_of((p.crop.family for p in plan.plantings), knowledge)
    for svg in (map_svg(plan, report, knowledge, day=DAY), timeline_svg(plan, report, knowledge)):
        kinds = {
            (text.get("class").removesuffix(" bc-bold"), text.get("fill")) for text in parsed(svg).iter(f"{SVG}text")
        }
        plain = {(css, fill) for css, fill in kinds if fill is None}
        assert plain <= {("bc-ink", None), ("bc-quiet", None)}
        assert {fill for _, fill in kinds - plain} <= {look.ink for look in looks.values()}


def test_the_style_sheet_holds_both_themes_and_is_named_by_its_digest():
    import base64
    import hashlib

    for theme in THEMES.values():
        assert all(f"--bc-{name}: {colour};" in style() for name, colour in theme.items())
    assert "prefers-color-scheme: dark" in style()
    inside = parsed(map_svg(*_tiny(), day=DAY)).find(f"{SVG}style").text
    digest = base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()
    assert style_source() == f"'sha256-{digest}'"


def _tiny():
    plan = read({"beds": [{"id": "a"}], "plantings": [{"bed": "a", "crop": "kale", "season": "2027"}]})
    return plan, rules.check(plan, KNOWLEDGE), KNOWLEDGE


def test_text_is_cut_to_its_room_and_never_longer():
    name = "The long border by the old tannery wall"
    for room in range(0, 400, 7):
        shown = fit(name, room, 12, bold=True)
        assert width(shown, 12, True) <= room
        assert shown in (name, "") or shown.endswith("…")
    assert width("Wall", 12) < width("Wall", 12, bold=True)
    assert width("Zoë", 10) == width("Zoe", 10)
    assert sure("Zoë’s bed"[:3])
    assert not sure("菜園")
    assert all(width(line, 12) <= 90 for line in wrap(name, 90, 12, most=3))
    assert wrap("one two", 500, 12) == ["one two"]
