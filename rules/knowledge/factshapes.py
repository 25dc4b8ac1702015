"""The shape of each kind of fact: which keys an entry has and what stands under them."""

from __future__ import annotations

from rules.knowledge.shapes import Key
from rules.knowledge.traits import TRAITS

#: Stands for every family that the facts do not list (a grower's own crop).
OTHER_FAMILIES = "other"

_TEXT, NEEDED = Key("text"), Key("text", needed=True)
_WORDS, _WHOLE = Key("words"), Key("whole")
_SRC = Key("maps", needed=True)
_SRC_LIST = Key("words", needed=True)
KINDS = ("vegetable", "herb", "flower", "fruit", "green_manure")
LIFECYCLES = ("annual", "biennial", "perennial")
STANDS = ("first_frost", "winter_end")

SOURCE = {"publisher": NEEDED, "title": NEEDED, "year": _TEXT, "url": _TEXT, "seen": _TEXT}
CAUTION = {"text": NEEDED, "defer_to": NEEDED, "src": _SRC_LIST}
FAMILY = {
    "name": NEEDED,
    "old_name": _TEXT,
    "least": _WHOLE,
    "better": _WHOLE,
    "exempt": _TEXT,
    "confused": _TEXT,
    "other_view": Key("map", shape={"crops": Key("words", needed=True), "text": NEEDED, "src": _SRC_LIST}),
    "src": _SRC,
}
_DAYS = Key(
    "map",
    shape={
        "days": Key("any", needed=True),
        "from": Key("text", needed=True, among=("sowing", "transplanting", "planting")),
    },
)
CROP = {
    "name": NEEDED,
    "plural": NEEDED,
    "aliases": _WORDS,
    "scientific": _TEXT,
    "kind": Key("text", needed=True, among=KINDS),
    "lifecycle": Key("text", needed=True, among=LIFECYCLES),
    "maturity": _DAYS,
    "over_winter": _DAYS,
    "stands_days": Key("any"),
    "note": _TEXT,
    "traits": Key("map", shape=TRAITS),
    "src": _SRC,
}
GROUP = {"name": NEEDED, "plural": NEEDED, "aliases": _WORDS, "members": Key("words", needed=True), "src": _SRC_LIST}
DISEASE = {
    "name": NEEDED,
    "aliases": _WORDS,
    "pathogen": NEEDED,
    "kind": Key("text", needed=True, among=("fungus", "bacterium", "oomycete", "nematode", "protist", "virus")),
    "hosts": Key("map", needed=True, shape={"families": _WORDS, "crops": _WORDS, "except": _WORDS, "src": _SRC_LIST}),
    "carriers": Key("map", shape={"crops": _WORDS, "plants": _WORDS, "src": _SRC_LIST}),
    "reduced_by": Key("map", shape={"crops": Key("words", needed=True), "text": _TEXT, "src": _SRC_LIST}),
    "years": Key(
        "map", needed=True, shape={"least": _WHOLE, "better": _WHOLE, "never": Key("yes/no"), "src": _SRC_LIST}
    ),
    "in_soil": Key("yes/no", needed=True),
    "survives_in": Key("words", needed=True),
    "survival": _TEXT,
    "advice": NEEDED,
    "rotation_value": Key("text", needed=True, among=("strong", "partial", "weak", "none")),
    "resistance_holds": Key("yes/no"),
    "notes": Key("any"),
    "cautions": _WORDS,
    "src": _SRC,
}
LOSS = {"name": NEEDED, "aliases": _WORDS}
