"""The shapes of pests and controls, the words their facts are written in, and what each word means."""

from __future__ import annotations

from rules.knowledge.factshapes import NEEDED
from rules.knowledge.shapes import Key

_TEXT, _WORDS = Key("text"), Key("words")
_SRC_LIST = Key("words", needed=True)

GROUPS = (
    "beetle", "moth_butterfly", "fly", "true_bug", "aphid", "thrips", "mite", "mollusc",
    "isopod", "nematode", "soil_insect", "other_insect", "vertebrate",
)  # fmt: skip
OVERWINTERS = {
    "soil_in_last_host_bed": "in the soil where its host grew",
    "soil_in_last_host_bed_and_field_edges": "in the soil where its host grew, and more of them in the edges",
    "soil_and_debris_of_last_host": "in the soil and litter of last year's host",
    "soil_and_debris_near_host": "in soil and litter close to its hosts",
    "soil_anywhere": "in any soil; it lives there whatever grew",
    "soil_and_mulch_anywhere": "in mulch and litter; it lives there whatever grew",
    "soil_anywhere_with_organic_matter": "in soil where manure, litter or green manure was dug in",
    "soil_or_migrant": "local kinds in the soil, others fly in",
    "crop_debris": "in stems and litter left on the bed",
    "crop_debris_and_edges": "in litter on the bed and in sheltered edges",
    "crop_debris_and_structures": "on litter, fences and walls",
    "crop_debris_and_soil": "in litter, bark and cracks of the soil",
    "crop_debris_or_migrant": "in litter where winters allow, else it flies in",
    "field_edges": "in hedges, woods and leaves outside the bed",
    "field_edges_and_debris": "in the edges first, litter second",
    "on_standing_host_plants": "on plants that stand through winter",
    "elsewhere": "on other plants, in buildings or in stored seed",
    "elsewhere_migrant": "far away; it dies out here and comes on the wind or the wing",
}
MOBILITY = {
    "soil_bound": "does not reach another bed by itself",
    "crawls": "comes on foot; a few metres between beds are a real gap",
    "crawls_at_night": "comes on foot, at night",
    "crawls_and_wind": "comes on foot and drifts on the air",
    "climbs": "climbs and jumps",
    "walks": "a large animal on foot",
    "walks_and_digs": "comes on foot and burrows",
    "walks_climbs_digs": "comes on foot, climbs and burrows",
    "walks_then_flies": "walks in spring and flies once it is warm",
    "short_flight": "flies metres to a few hundred metres",
    "short_flight_and_jump": "hops and flies short ways, and finds small gaps",
    "short_flight_wind_borne": "flies short ways, farther with the wind",
    "weak_flight": "a poor flier that keeps low",
    "weak_flight_wind_borne": "a poor flier that the wind carries",
    "winged_drift": "winged ones drift on the air",
    "winged_drift_long_distance": "drifts far on the air",
    "strong_flight": "flies freely between gardens",
    "strong_flight_long_distance": "comes from far away on the wing",
}
FROM_BED = {
    "yes": "comes up in spring out of the bed or litter that carried its host",
    "partly": "some may come out of the bed or litter that carried its host",
    "no": "does not come out of last year's bed",
}
SAME_SEASON = {
    "yes": "new adults come out of the soil under the crop",
    "partly": "new adults sometimes come out of the soil under the crop",
    "no": "no second generation this season",
    "on_plant": "spends its life on leaf or stem",
    "in_seed": "spends its life in the seed",
    "elsewhere": "its young live on other plants",
    "unknown": "not known",
}
ROTATION = {
    "yes": "moving the crop within the garden is worth planning for",
    "partly": "helps together with other measures",
    "no": "moving the crop within the garden does not help",
}
#: Which table explains the words of which value of a pest.
VOCABULARY = {
    "overwinters": OVERWINTERS,
    "emerges_from_bed": FROM_BED,
    "emerges_same_season": SAME_SEASON,
    "mobility": MOBILITY,
    "rotation_helps": ROTATION,
}
#: Regions a pest may be placed in beside single countries: what people read, and ISO 3166-1 codes.
REGIONS = {
    "north_america": ("North America", "US CA MX"),
    "americas": (
        "the Americas",
        "US CA MX BZ CR SV GT HN NI PA CU DO HT JM PR TT AR BO BR CL CO EC GY PE PY SR UY VE",
    ),
    "europe": (
        "Europe",
        "AL AT BA BE BG BY CH CY CZ DE DK EE ES FI FR GB GR HR HU IE IS IT LI LT LU LV MC MD ME MK MT NL NO PL"
        " PT RO RS RU SE SI SK UA XK",
    ),
}
#: The order in which to reach for a control, least harm first; the last two are for when all else failed.
STEPS = {
    "monitor": "watch first",
    "cultural": "prevent by the way of growing",
    "physical": "keep off or take away by hand",
    "biological": "set its enemies on it",
    "chemical_targeted": "a narrow active ingredient, by its label",
    "chemical_last": "last resort, by its label",
    "not_recommended": "not advised",
}
KINDS = ("watch", "prevent", "exclude", "trap", "remove", "release", "bait", "spray", "dust", "repel", "avoid")

PEST = {
    "name": NEEDED,
    "aliases": _WORDS,
    "scientific": _TEXT,
    "group": Key("text", needed=True, among=GROUPS),
    "hosts": Key(
        "map",
        needed=True,
        shape={
            "families": _WORDS,
            "except": _WORDS,
            "crops": _WORDS,
            "preferred": _WORDS,
            "wide": Key("yes/no"),
            "src": _SRC_LIST,
        },
    ),
    "non_hosts": Key("map", shape={"families": _WORDS, "crops": _WORDS, "src": _SRC_LIST}),
    "bridge_plants": Key("map", shape={"crops": _WORDS, "plants": _WORDS, "src": _SRC_LIST}),
    "overwinters": Key("text", needed=True, among=tuple(OVERWINTERS)),
    "emerges_from_bed": Key("text", needed=True, among=tuple(FROM_BED)),
    "emerges_same_season": Key("text", among=tuple(SAME_SEASON)),
    "mobility": Key("text", needed=True, among=tuple(MOBILITY)),
    "season": NEEDED,
    "susceptible_stage": NEEDED,
    "max_mesh_mm": Key("number"),
    "rotation_helps": Key("text", needed=True, among=tuple(ROTATION)),
    "carries": _TEXT,
    "regions": Key("map", shape={"in": _WORDS, "absent_from": _WORDS, "text": _TEXT, "src": _SRC_LIST}),
    "notes": Key(
        "map", shape=dict.fromkeys(("bed", "hosts", "mesh", "reach", "rotation", "same_season", "winter"), _TEXT)
    ),
    "cautions": _WORDS,
    "src": Key("maps", needed=True),
}
_AIM = {"pests": _WORDS, "groups": Key("words", among=GROUPS), "src": _SRC_LIST}
CONTROL = {
    "name": NEEDED,
    "aliases": _WORDS,
    "step": Key("text", needed=True, among=tuple(STEPS)),
    "kind": Key("text", needed=True, among=KINDS),
    "against": Key("map", shape=_AIM),
    "weak_on": Key("map", shape={**_AIM, "text": _TEXT}),
    "when": NEEDED,
    "how": NEEDED,
    "acts": _TEXT,
    "reapply": _TEXT,
    "before_harvest": _TEXT,
    "conditions": _WORDS,
    "evidence": Key(
        "map",
        needed=True,
        shape={
            "grade": Key("text", needed=True, among=("trial", "guidance", "practice")),
            "text": _TEXT,
            "src": _SRC_LIST,
        },
    ),
    "mind": Key(
        "map",
        shape=dict.fromkeys(
            ("pollinators", "water", "pets", "people", "plants", "helpers", "wildlife", "law", "crop"), _TEXT
        ),
    ),
    "cautions": _WORDS,
    "src": Key("maps", needed=True),
}
