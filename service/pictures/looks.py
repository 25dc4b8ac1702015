"""How a family looks in a picture: a colour, a pattern and two letters, so that no one needs to see colour.

The colours are those of M. Okabe and K. Ito, Color Universal Design, 2008: chosen to be told apart
by people of all kinds of colour vision.  A colour comes back among the many families; a colour
with its pattern, and the letters, do not.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from rules.knowledge.known import Knowledge

COLOURS = {
    "orange": "#e69f00",
    "sky": "#56b4e9",
    "green": "#009e73",
    "yellow": "#f0e442",
    "blue": "#0072b2",
    "vermillion": "#d55e00",
    "purple": "#cc79a7",
}
PATTERNS = ("rising", "falling", "level", "upright", "grid", "lattice", "dots", "rings", "crosses", "zigzag", "bricks")
#: For a word that stands for crops of several families.
SEVERAL = ""
#: Colours of the page and its parts in light and in dark; text is ink or quiet, on paper, soft or soil.
THEMES = {
    "light": {
        "paper": "#fdfdfb", "soft": "#f1f0ea", "soil": "#e4dccd", "ink": "#1d1d1a", "quiet": "#55554f",
        "line": "#7a7a74",
    },
    "dark": {
        "paper": "#1b1b19", "soft": "#2a2a27", "soil": "#3d372e", "ink": "#ebebe4", "quiet": "#bdbdb4",
        "line": "#92928b",
    },
}  # fmt: skip


class Look(NamedTuple):
    """The letters of a family, its colour, its pattern, and black or white, whichever shows on the colour.

    Without a colour it has those of the page, soil and ink.
    """

    code: str
    colour: str | None
    pattern: str
    ink: str | None
    name: str


_CATALOGUE: dict[str, tuple[str, str, str]] = {
    "Aizoaceae": ("Ic", "sky", "lattice"),
    "Amaranthaceae": ("Be", "purple", "level"),
    "Amaryllidaceae": ("On", "sky", "rings"),
    "Apiaceae": ("Cr", "orange", "upright"),
    "Asparagaceae": ("As", "green", "upright"),
    "Asteraceae": ("Da", "yellow", "crosses"),
    "Basellaceae": ("Ms", "green", "falling"),
    "Boraginaceae": ("Bo", "blue", "dots"),
    "Brassicaceae": ("Ca", "blue", "rising"),
    "Caprifoliaceae": ("Ho", "sky", "rising"),
    "Convolvulaceae": ("Bi", "vermillion", "zigzag"),
    "Cucurbitaceae": ("Sq", "orange", "zigzag"),
    "Ericaceae": ("He", "purple", "falling"),
    "Fabaceae": ("Pe", "green", "dots"),
    "Grossulariaceae": ("Cu", "vermillion", "rings"),
    "Juglandaceae": ("Wa", "orange", "lattice"),
    "Lamiaceae": ("Mi", "green", "lattice"),
    "Linaceae": ("Fl", "blue", "level"),
    "Malvaceae": ("Ma", "purple", "dots"),
    "Montiaceae": ("Ml", "sky", "dots"),
    "Poaceae": ("Gr", "yellow", "falling"),
    "Polygonaceae": ("Do", "vermillion", "dots"),
    "Portulacaceae": ("Pu", "yellow", "dots"),
    "Rosaceae": ("Ro", "purple", "lattice"),
    "Solanaceae": ("Po", "vermillion", "grid"),
    "Tropaeolaceae": ("Na", "orange", "dots"),
}
#: Letters, colour, pattern and ink of a word for crops of several families; no colour of the palette is theirs.
_PLAIN = ("Mx", None, "bricks", None)


def looks_of(families: Iterable[str], knowledge: Knowledge) -> dict[str, Look]:
    """The look of every family that is shown, by family id, catalogue first and then by name.

    A family outside the catalogue gets letters of its own name that no other has, and bricks.
    """
    families = set(families)
    taken = {code for code, _, _ in _CATALOGUE.values()} | {_PLAIN[0]}
    found: dict[str, Look] = {}
    for family in sorted(families & _CATALOGUE.keys()):
        code, colour, pattern = _CATALOGUE[family]
        found[family] = _look(code, COLOURS[colour], pattern, knowledge.family_name(family))
    own = sorted(families - _CATALOGUE.keys() - {SEVERAL})
    for number, family in enumerate(own):
        code = next(code for code in _codes(family, number) if code not in taken)
        taken.add(code)
        colour = list(COLOURS.values())[number % len(COLOURS)]
        found[family] = _look(code, colour, "bricks", knowledge.family_name(family))
    if SEVERAL in families:
        found[SEVERAL] = Look(*_PLAIN, "of several families")
    return found


def _codes(family: str, number: int) -> Iterable[str]:
    first = family[:1].upper()
    yield from (first + letter for letter in family[1:])
    yield from (first + str(digit) for digit in range(10))
    yield f"F{number}"


def _look(code: str, colour: str, pattern: str, name: str) -> Look:
    return Look(code, colour, pattern, max(("#000000", "#ffffff"), key=lambda ink: contrast(ink, colour)), name)


def contrast(one: str, other: str) -> float:
    """The contrast of two colours, 1 to 21 (Web Content Accessibility Guidelines 2.2, "contrast ratio")."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
