"""A rule in words: what it looks at, why, what to do, where it stays silent, what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from string import Formatter
from typing import Any

from rules.knowledge.facts import Caution, Source
from rules.knowledge.known import Knowledge
from rules.knowledge.looks import looks_at, sides
from rules.knowledge.pairrows import Measured, Pair
from rules.knowledge.ruleset import Rule
from rules.report import counts_for

GRADES = {"trial": "trials", "guidance": "published guidance", "practice": "practice of the trade"}
EFFECTS = {
    "pest": "counts towards pests and diseases",
    "yield": "counts towards yield",
    "sequence": "counts towards the sequence of crops",
}
#: What an example plan may tell beside its beds and plantings, and how a row of it reads.
_ROWS = (
    ("sightings", "{of} seen in bed {bed} on {date}"),
    ("amendments", "{kind} in bed {bed} on {date}"),
    ("treatments", "{active} used in bed {bed} on {date}"),
)


@dataclass(frozen=True, slots=True)
class Explained:
    """A rule for its page, whatever the page is written in.

    ``against`` is a finding that disagrees; ``flags`` and ``passes`` are example plans, one line each.
    """

    id: str
    weight: str
    points: str
    title: str
    looks_at: tuple[str, ...]
    why: str
    fix: str
    silent: tuple[str, ...]
    grade: str
    sources: tuple[Source, ...]
    contested_by: tuple[Source, ...]
    against: str | None
    measured: tuple[Measured, ...]
    cautions: tuple[Caution, ...]
    flags: tuple[str, ...]
    passes: tuple[str, ...]


def explained(rule: Rule, knowledge: Knowledge) -> Explained:
    """All that a rule's page tells."""
    pair = rule.compiled if isinstance(rule.compiled, Pair) else None
    words = {name: side.plural for name, side in sides(rule, knowledge).items()} if pair else {}
    grade = GRADES[rule.evidence.grade]
    return Explained(
        rule.id,
        f"{rule.severity}, since {rule.since}",
        f"{rule.points:+d}, {EFFECTS.get(counts_for(rule.id, rule.effect), 'counted')}" if rule.points else "none",
        readable(rule.title, words),
        looks_at(rule, knowledge),
        readable(rule.why, words),
        readable(rule.fix, words),
        rule.exceptions or ("Nowhere that is known.",),
        grade[:1].upper() + grade[1:],
        tuple(knowledge.sources[key] for key in rule.evidence.sources),
        tuple(knowledge.sources[key] for key in rule.evidence.contested_by),
        pair.against if pair else None,
        pair.measured if pair else (),
        tuple(knowledge.cautions[key] for key in rule.cautions),
        tuple(example_text(plan, knowledge) for plan in rule.examples["flag"]),
        tuple(example_text(plan, knowledge) for plan in rule.examples["ok"]),
    )


def rule_text(rule: Rule, knowledge: Knowledge) -> str:
    """The page of a rule as plain text, lines unwrapped, headings on lines of their own."""
    page = explained(rule, knowledge)
    evidence = [page.grade, *map(source_text, page.sources)]
    evidence += [f"Contested by {source_text(source)}" for source in page.contested_by]
    if page.against:
        evidence.append(f"What speaks against it: {page.against}")
    parts: tuple[tuple[str, Sequence[str]], ...] = (
        ("What it finds", [page.title]),
        ("What it looks at", page.looks_at),
        ("Why", [page.why]),
        ("What to do", [page.fix]),
        ("Where it stays silent", page.silent),
        ("Points", [page.points]),
        ("Measured", [measured_text(one) for one in page.measured]),
        ("Evidence", evidence),
        ("Cautions", [caution.text for caution in page.cautions]),
        ("Plans it flags", page.flags),
        ("Plans it lets pass", page.passes),
    )
    told = [f"{heading}\n{_lines(lines)}" for heading, lines in parts if lines]
    return "\n\n".join([f"{page.id} ({page.weight})", *told])


def _lines(lines: Sequence[str]) -> str:
    """A paragraph, or several as a list."""
    return lines[0] if len(lines) == 1 else "\n".join(f"- {line}" for line in lines)


def source_text(source: Source) -> str:
    """A publication in one line: who, what, where."""
    return f"{source.publisher}: {source.title}" + (f", {source.url}" if source.url else "")


def measured_text(one: Measured) -> str:
    """A published figure in one line: "small white on the cabbages: -49 percent"."""
    return f"{one.of}: {one.value} {one.unit}"


def readable(template: str, words: Mapping[str, str] | None = None) -> str:
    """A rule's template, words that are not given in plain brackets: "{crops} in {bed}" as "(crops) in (bed)"."""
    given = words or {}
    text = "".join(
        literal + (given.get(name, f"({name})") if name else "") for literal, name, _, _ in Formatter().parse(template)
    )
    return text[:1].upper() + text[1:]


def example_text(plan: Mapping[str, object], knowledge: Knowledge) -> str:
    """An example plan in one line: "bed a: kale 2026; bed a: cabbage 2027"."""
    pieces = [_planting_text(row, knowledge) for row in _rows(plan, "plantings")]
    for key, text in _ROWS:
        for row in _rows(plan, key):
            told = text.format_map({name: str(value).replace("_", " ") for name, value in row.items()})
            days = row.get("harvest_interval")
            pieces.append(told if days is None else f"{told}, {days} days on its label")
    pieces += [_cover_text(row) for row in _rows(plan, "covers")]
    pieces += [text for bed in _rows(plan, "beds") if (text := _bed_text(bed))]
    return "; ".join(pieces)


def _planting_text(row: Mapping[str, Any], knowledge: Knowledge) -> str:
    crop = knowledge.crops.get(str(row.get("crop")))
    span = str(row.get("season") if "start" not in row else row["start"])
    end = f" to {row['end']}" if "end" in row else ""
    parts = [
        f"bed {row.get('bed')}: {crop.name if crop else row.get('crop')} {span}{end}",
        f"part {row['part']}" if "part" in row else "",
        f"{row['count']} plants" if "count" in row else "",
        str(row.get("method", "")),
        f"picked from {row['first_harvest']}" if "first_harvest" in row else "",
        str(row.get("status", "")),
    ]
    return ", ".join(filter(None, parts))


def _cover_text(row: Mapping[str, Any]) -> str:
    mesh = f" of {row['mesh']} mm" if "mesh" in row else ""
    end = f" to {row['end']}" if "end" in row else ""
    edges = f", edges {row['edges']}" if "edges" in row else ""
    opened = f", open by day from {row['open_by_day_from']}" if "open_by_day_from" in row else ""
    return f"{row.get('kind')}{mesh} over bed {row.get('bed')} from {row.get('start')}{end}{edges}{opened}"


def _bed_text(bed: Mapping[str, Any]) -> str:
    """What matters of a bed: its kind where it is not open ground, and where it lies."""
    parts = [str(bed["kind"])] if bed.get("kind", "ground") != "ground" else []
    place = bed.get("position")
    if isinstance(place, dict):
        parts.append(f"lies at {place.get('x')} m east, {place.get('y')} m north")
    return f"bed {bed.get('id')}: {', '.join(parts)}" if parts else ""


def _rows(plan: Mapping[str, object], key: str) -> list[Mapping[str, Any]]:
    rows = plan.get(key)
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
