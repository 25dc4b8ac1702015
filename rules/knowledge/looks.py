"""What a rule looks at, in words that a grower understands: its kind, its sides, its options."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from rules.checks import KINDS
from rules.checks.conditions import conditions_in_words
from rules.knowledge.facts import Crop
from rules.knowledge.known import Knowledge
from rules.knowledge.pairrows import ABOUT, OnlyIf, Pair
from rules.knowledge.ruleset import Rule
from rules.knowledge.selectors import SIDE
from rules.knowledge.shapes import Key

#: A side with more crops than this in a group is told by the group's word alone.
_MOST_MEMBERS = 6
#: Traits whose words need more than "whose TRAIT is WORD"; {} is the word or words.
_TRAITS = {
    "kind": "that are grown as {}",
    "lifecycle": "that are {}",
    "height": "that grow {}",
    "roots": "with {} roots",
    "feeder": "that are {} feeders",
    "pollination": "whose harvest needs this pollination: {}",
    "part": "of which this is eaten: {}",
}
#: Words of traits that read otherwise in a sentence.
_WORDS = {
    "vegetable": "vegetables",
    "herb": "herbs",
    "flower": "flowers",
    "green_manure": "green manures",
    "fixer": "nitrogen-fixing",
}
_YES_NO = {
    "fixes_nitrogen": ("that fix nitrogen", "that do not fix nitrogen"),
    "soil_contact": ("whose harvest touches the soil", "whose harvest is kept off the soil"),
    "small_seed": ("with small seeds", "with large seeds"),
}
#: What stands in a condition where a side is more than one crop.
_PARTNER = Crop("partner", "partner", "partners", "", "vegetable")
_CROP = Crop("crop", "crop", "crops", "", "vegetable")


def looks_at(rule: Rule, knowledge: Knowledge) -> tuple[str, ...]:
    """Sentences on what a rule looks at."""
    kind = KINDS[rule.kind]
    lines = [kind.looks_at] if kind.looks_at else []
    if isinstance(rule.compiled, Pair):
        return (*lines, *_pair(rule, rule.compiled, knowledge))
    for name, key in kind.options.items():
        if name in rule.options:
            lines.append(_option(name, key, rule.options[name], knowledge))
    return tuple(lines)


def side_in_words(side: Mapping[str, Any], knowledge: Knowledge) -> str:
    """The crops of a side: "onions (bulb onions and onion sets) and all of the cabbage family, but not kale"."""
    named = [knowledge.crops[key].plural for key in side.get("crops", ())]
    named += [_group(knowledge.groups[key], knowledge) for key in side.get("groups", ())]
    named += [f"all of the {knowledge.family_name(key)}" for key in side.get("families", ())]
    said = listed(named) or "all crops"
    clauses = [_trait(name, value) for name, value in (side.get("traits") or {}).items()]
    if clauses:
        said += (", of these the ones " if named else " ") + " and ".join(clauses)
    spared = [knowledge.crops[key].plural for key in side.get("except", ())]
    return said + (f", but not {listed(spared)}" if spared else "")


def listed(words: list[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""


def _group(group: Crop, knowledge: Knowledge) -> str:
    if len(group.members) > _MOST_MEMBERS:
        return group.plural
    return f"{group.plural} ({listed([knowledge.crops[key].plural for key in group.members])})"


def _trait(name: str, value: Any) -> str:
    if isinstance(value, bool) and name in _YES_NO:
        return _YES_NO[name][0 if value else 1]
    words = value if isinstance(value, list) else [value]
    said = " or ".join(_WORDS.get(str(word), str(word).replace("_", " ")) for word in words)
    return _TRAITS[name].format(said) if name in _TRAITS else f"whose {name.replace('_', ' ')} is {said}"


def sides(rule: Rule, knowledge: Knowledge) -> dict[str, Crop]:
    """What stands for each side of a pair rule in a sentence: its one crop or group, else a plain word."""
    return {
        "a": _alone(rule.options["a"], knowledge) or _PARTNER,
        "b": _alone(rule.options["b"], knowledge) or _CROP,
    }


def _pair(rule: Rule, pair: Pair, knowledge: Knowledge) -> Iterator[str]:
    """What a pair rule looks at: both sides, what about, and under which conditions."""
    a, b = (side_in_words(rule.options[side], knowledge) for side in ("a", "b"))
    if pair.both:
        yield f"One crop: {a}."
        yield f"The other, and each acts on the other: {b}."
    else:
        yield f"The crop that acts: {a}."
        yield f"The crop that it acts on: {b}."
    yield f"What it is about: {ABOUT[pair.about]}."
    targets = [*(knowledge.pests[key].name for key in pair.pests), *pair.others]
    if targets:
        yield f"Against: {listed(targets)}."
    if pair.diseases:
        yield f"Diseases: {listed([knowledge.diseases[key].name for key in pair.diseases])}."
    yield f"Where: {_where(pair.only_if)}."
    for condition in conditions_in_words(pair, *sides(rule, knowledge).values()):
        yield f"Only if {condition}."


def _where(only_if: OnlyIf) -> str:
    days = f"for {only_if.together} days or more"
    if only_if.reach_m:
        return f"at most {only_if.reach_m:g} m apart, {days}"
    return f"in one bed, where their parts overlap or touch, {days}"


def _alone(side: Mapping[str, Any], knowledge: Knowledge) -> Crop | None:
    """The one crop or group that a side names; None where it names more."""
    keys = [*side.get("crops", ()), *side.get("groups", ())]
    if set(side) - {"crops", "groups"} or len(keys) != 1:
        return None
    return knowledge.crops.get(keys[0]) or knowledge.groups.get(keys[0])


def _option(name: str, key: Key, value: Any, knowledge: Knowledge) -> str:
    """An option in words; one whose kind gives it none by its name."""
    if isinstance(key.says, Mapping):
        words = value if isinstance(value, list) else [value]
        return " ".join(key.says.get(_plain(word), _plain(word)) for word in words)
    if isinstance(value, Mapping):
        known = set(value) <= set(SIDE.shape or ())
        said = side_in_words(value, knowledge) if known else str(value)
    elif isinstance(value, list) and len(value) == 2 and all(isinstance(word, int | float) for word in value):
        said = f"{value[0]:g} to {value[1]:g}"
    elif isinstance(value, list):
        said = listed([_name(word, knowledge) for word in value])
    else:
        said = _name(value, knowledge)
    return (key.says or f"{name.replace('_', ' ').capitalize()}: {{}}.").format(said)


def _plain(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _name(value: Any, knowledge: Knowledge) -> str:
    """What people call an id; any other value as it is."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, str):
        return f"{value:g}" if isinstance(value, float) else str(value)
    for crops in (knowledge.crops, knowledge.groups):
        if value in crops:
            return crops[value].plural
    for troubles in (knowledge.pests, knowledge.diseases):
        if value in troubles:
            return troubles[value].name
    return knowledge.family_name(value) if value in knowledge.families else value.replace("_", " ")
