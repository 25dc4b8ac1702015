"""General rule engines from the registry, each given our rows in its own language.

They are for the benchmark only and come with the extra ``bench``; a module is imported when its
engine is loaded.  Each is used as its manual says, with all rules put to each question.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from typing import Any

from engines import Answer, Ask, Engine, Limit, Question, Row, said


def libraries(rows: Sequence[Row]) -> list[Engine]:
    """All of them, installed or not."""
    return [
        Engine("rule-engine", lambda: _rule_engine(rows), "rule-engine"),
        Engine("JSON Logic", lambda: _json_logic(rows), "json-logic-qubit"),
        Engine("CLIPS", lambda: _clips(rows), "clipspy"),
        Engine("ZEN decision table", lambda: _zen(rows), "zen-engine"),
    ]


def _all(row: Row) -> tuple[Limit, ...]:
    """The sides as limits, then the conditions."""
    return (Limit("a", "in", row.a), Limit("b", "in", row.b), *row.limits)


def _by_fact(row: Row) -> dict[str, list[Limit]]:
    limits: dict[str, list[Limit]] = {}
    for one in _all(row):
        limits.setdefault(one.fact, []).append(one)
    return limits


# -- rule-engine: an expression a rule; the sides as patterns, which it matches faster than lists


def _rule_engine(rows: Sequence[Row]) -> Ask:
    from rule_engine import Context, DataType, Rule

    words, truths = ("a", "b", "ground"), ("same_bed", "treated")
    types = dict.fromkeys(words, DataType.STRING) | dict.fromkeys(truths, DataType.BOOLEAN)
    types |= dict.fromkeys(("days", "metres", "ahead", "out", "share"), DataType.FLOAT)
    context = Context(type_resolver=types)

    def limit(one: Limit) -> str:
        if isinstance(one.value, tuple):
            return f'{one.fact} =~ "^(?:{"|".join(one.value)})$"'
        return f"{one.fact} {one.sign} {json.dumps(one.value)}"

    made = [(row, Rule(" and ".join(map(limit, _all(row))), context)) for row in rows]

    def ask(question: Question) -> frozenset[Answer]:
        found: list[Answer] = []
        for way in question.ways:
            found += said((row for row, rule in made if rule.matches(way)), way["a"])
        return frozenset(found)

    return ask


# -- JSON Logic: a tree a rule, walked for each question


def _json_logic(rows: Sequence[Row]) -> Ask:
    from json_logic import jsonLogic

    def limit(one: Limit) -> dict[str, Any]:
        return {one.sign: [{"var": one.fact}, list(one.value) if isinstance(one.value, tuple) else one.value]}

    made = [(row, {"and": [limit(one) for one in _all(row)]}) for row in rows]

    def ask(question: Question) -> frozenset[Answer]:
        found: list[Answer] = []
        for way in question.ways:
            found += said((row for row, tree in made if jsonLogic(tree, way)), way["a"])
        return frozenset(found)

    return ask


# -- CLIPS: a production a rule, matched by its Rete network as facts are asserted


def _clips(rows: Sequence[Row]) -> Ask:
    import clips

    environment = clips.Environment()
    facts = ("a", "b", "days", "metres", "same_bed", "ahead", "out", "share", "ground", "treated")
    environment.build(f"(deftemplate ask {' '.join(f'(slot {fact})' for fact in facts)})")
    fired: list[int] = []
    environment.define_function(fired.append, "note")

    def slot(fact: str, limits: Iterable[Limit]) -> str:
        parts = []
        for one in limits:
            if isinstance(one.value, tuple):
                parts.append("|".join(one.value))
            elif one.value is True:
                parts.append("TRUE")
            else:
                parts.append(f"?{fact}&:({one.sign} ?{fact} {one.value})")
        return f"({fact} {'&'.join(parts)})"

    for number, row in enumerate(rows):
        slots = " ".join(slot(fact, limits) for fact, limits in _by_fact(row).items())
        environment.build(f"(defrule row-{number} (ask {slots}) => (note {number}))")
    template = environment.find_template("ask")
    symbol = clips.Symbol

    def ask(question: Question) -> frozenset[Answer]:
        found: list[Answer] = []
        for way in question.ways:
            fired.clear()
            slots = {fact: symbol(value) if isinstance(value, str) else value for fact, value in way.items()}
            fact = template.assert_fact(**slots)
            environment.run()
            fact.retract()
            found += said((rows[number] for number in fired), way["a"])
        return frozenset(found)

    return ask


# -- ZEN: one decision table, a line a rule, every line that holds collected


def _zen(rows: Sequence[Row]) -> Ask:
    import zen

    def cell(limits: Iterable[Limit]) -> str:
        parts = []
        for one in limits:
            if isinstance(one.value, tuple):
                parts.append(f"in [{', '.join(json.dumps(value) for value in one.value)}]")
            else:
                parts.append(f"{one.sign} {json.dumps(one.value)}")
        return " and ".join(parts)

    lines = []
    for number, row in enumerate(rows):
        cells = {fact: cell(limits) for fact, limits in _by_fact(row).items()}
        lines.append({"_id": f"row-{number}", "number": str(number), **cells})
    facts = sorted({fact for line in lines for fact in line} - {"_id", "number"})
    inputs = [{"id": fact, "field": fact, "name": fact, "type": "expression"} for fact in facts]
    outputs = [{"id": "number", "field": "number", "name": "number", "type": "expression"}]
    table = {"hitPolicy": "collect", "inputs": inputs, "outputs": outputs, "rules": lines}
    place = {"position": {"x": 0, "y": 0}}
    nodes = [
        {"id": "in", "type": "inputNode", "name": "in", **place},
        {"id": "table", "type": "decisionTableNode", "name": "table", "content": table, **place},
        {"id": "out", "type": "outputNode", "name": "out", **place},
    ]
    edges = [
        {"id": f"{start}-{end}", "type": "edge", "sourceId": start, "targetId": end}
        for start, end in (("in", "table"), ("table", "out"))
    ]
    # Content that was compiled is asked faster than text.
    content = zen.ZenDecisionContent(json.dumps({"nodes": nodes, "edges": edges}))
    decision = zen.ZenEngine().create_decision(content)

    def ask(question: Question) -> frozenset[Answer]:
        found: list[Answer] = []
        for way in question.ways:
            held = decision.evaluate(dict(way))["result"] or ()
            found += said((rows[int(line["number"])] for line in held), way["a"])
        return frozenset(found)

    return ask
