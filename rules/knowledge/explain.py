"""A rule in words: what it looks at, why, what to do, where it stays silent, what it rests on."""

from __future__ import annotations

from string import Formatter

from rules.knowledge.known import Knowledge
from rules.knowledge.ruleset import Rule

GRADES = {"trial": "trials", "guidance": "published guidance", "practice": "practice of the trade"}
EFFECTS = {"pest": "counts towards pests and diseases", "yield": "counts towards yield"}


def rule_text(rule: Rule, knowledge: Knowledge) -> str:
    """The page of a rule as plain text, lines unwrapped, headings on lines of their own."""
    points = f"{rule.points:+d}, {EFFECTS.get(rule.effect, 'counted')}" if rule.points else "none"
    parts = [
        f"{rule.id} ({rule.severity}, since {rule.since})",
        ("What it finds", readable(rule.title)),
        ("Why", readable(rule.why)),
        ("What to do", readable(rule.fix)),
        ("Where it stays silent", "\n".join(rule.exceptions) or "Nowhere that is known."),
        ("Points", points),
        ("Evidence", evidence_text(rule, knowledge)),
        ("Cautions", "\n".join(knowledge.cautions[key].text for key in rule.cautions)),
        ("Plans it flags", "\n".join(example_text(plan) for plan in rule.examples["flag"])),
        ("Plans it lets pass", "\n".join(example_text(plan) for plan in rule.examples["ok"])),
    ]
    return "\n\n".join(
        part if isinstance(part, str) else f"{part[0]}\n{part[1]}" for part in parts if isinstance(part, str) or part[1]
    )


def evidence_text(rule: Rule, knowledge: Knowledge) -> str:
    """Grade and sources of a rule, a line each."""
    lines = [GRADES[rule.evidence.grade][:1].upper() + GRADES[rule.evidence.grade][1:]]
    for lead, keys in (("", rule.evidence.sources), ("Contested by ", rule.evidence.contested_by)):
        for key in keys:
            source = knowledge.sources[key]
            lines.append(f"{lead}{source.publisher}: {source.title}" + (f", {source.url}" if source.url else ""))
    return "\n".join(lines)


def readable(template: str) -> str:
    """A rule's template with its words in plain brackets: "{crops} in {bed}" as "(crops) in (bed)"."""
    text = "".join(literal + (f"({name})" if name else "") for literal, name, _, _ in Formatter().parse(template))
    return text[:1].upper() + text[1:]


def example_text(plan: dict[str, object]) -> str:
    """An example plan in one line: "a: kale 2026; a: cabbage 2027"."""
    pieces = []
    for row in _rows(plan, "plantings"):
        span = str(row.get("season") or row.get("start") or "")
        end = f" to {row['end']}" if "end" in row else ""
        pieces.append(
            f"bed {row.get('bed')}: {row.get('crop')} {span if not row.get('start') else row['start']}{end}"
            + (f", part {row['part']}" if "part" in row else "")
            + (f", {row['status']}" if "status" in row else "")
        )
    pieces += [f"{row.get('of')} seen in bed {row.get('bed')} on {row.get('date')}" for row in _rows(plan, "sightings")]
    pieces += [
        f"{str(row.get('kind')).replace('_', ' ')} in bed {row.get('bed')} on {row.get('date')}"
        for row in _rows(plan, "amendments")
    ]
    return "; ".join(pieces)


def _rows(plan: dict[str, object], key: str) -> list[dict[str, object]]:
    rows = plan.get(key)
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []
