"""The proposed plan as a document: the one that was sent, with what is proposed among its plantings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import yaml

from rules.knowledge.yamlfile import WORDS, is_number
from rules.model import WHOLE, Planting

if TYPE_CHECKING:
    from rules.planning.propose import Proposal
    from service.proposing.question import Question

Row = dict[str, Any]
#: Carried by every reader of plans, and looked at by none.
TOLD = "x-proposal"
_SIMPLE = ("season", "cause", "method", "replaces", "spacing")


def proposed_document(question: Question, proposal: Proposal) -> Row:
    """The document that ``breakcrop check`` reads: judged over the years that were planned, ready to plan on from."""
    sent, wishes, plan = question.document, question.wishes, question.plan
    horizon = proposal.plan.judge
    document = {key: value for key, value in sent.items() if key not in ("plantings", "wishes", TOLD)}
    document["as_of"] = plan.as_of.isoformat()
    document["judge"] = {"from": horizon.start.isoformat(), "to": horizon.end.isoformat()}
    document["plantings"] = [*sent.get("plantings", ()), *map(planting_row, proposal.plantings)]
    document["wishes"] = {**(sent.get("wishes") or {}), "from": wishes.first_year, "years": wishes.years}
    document[TOLD] = {
        "stopped": proposal.stopped,
        "gap": round(proposal.gap, 4),
        "added": [planting.id for planting in proposal.plantings],
        "not_placed": [f"{one.wish.crop.plural} in {one.year}: {one.reason}" for one in proposal.unplaced],
    }
    return document


def planting_row(planting: Planting) -> Row:
    """A planting as the plan format writes it; what is assumed is left out."""
    row: Row = {"id": planting.id, "bed": planting.bed}
    if planting.part != WHOLE:
        row["part"] = list(planting.part)
    row["crop"] = planting.crop.id
    if planting.exact == "day":
        row["start"] = planting.start.isoformat()
    if not planting.assumed_end:
        row["end"] = planting.end.isoformat()
    if planting.first_harvest is not None:
        row["first_harvest"] = planting.first_harvest.isoformat()
    if planting.status != "planned":
        row["status"] = planting.status
    if planting.plants is not None:
        row["count"] = planting.plants
    return row | {key: value for key in _SIMPLE if (value := getattr(planting, key)) is not None}


# -- as YAML


class _Dumper(yaml.SafeDumper):
    """Writes what our reader reads: no anchors, and quotes only where it would take text for something else."""

    def ignore_aliases(self, data: Any) -> bool:
        return True


_Dumper.yaml_implicit_resolvers = {
    first: [(tag, form) for tag, form in forms if not tag.endswith(":timestamp")]
    for first, forms in yaml.SafeDumper.yaml_implicit_resolvers.items()
}


def _text(dumper: yaml.SafeDumper, text: str) -> yaml.ScalarNode:
    style = None
    if not text.isprintable():
        style = '"'
    elif text in WORDS or is_number(text):
        style = "'"
    return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)


_Dumper.add_representer(str, _text)


def document_yaml(document: Mapping[str, Any]) -> str:
    """The document as YAML, one row of a list to a line."""
    return "".join(_part(key, value) for key, value in document.items() if value not in ({}, []))


def _part(key: str, value: Any) -> str:
    if isinstance(value, list) and all(isinstance(row, Mapping) for row in value):
        return f"{_flow(key)}:\n{''.join(f'  - {_flow(row)}{chr(10)}' for row in value)}"
    if isinstance(value, Mapping | list):
        dumped: str = yaml.dump({key: value}, Dumper=_Dumper, default_flow_style=None, **_OPTIONS)
        return dumped
    return f"{_flow(key)}: {_flow(value)}\n"


_OPTIONS: Mapping[str, Any] = {"sort_keys": False, "allow_unicode": True, "width": float("inf")}


def _flow(value: Any) -> str:
    """A value on one line."""
    dumped: str = yaml.dump(value, Dumper=_Dumper, default_flow_style=True, **_OPTIONS)
    return re.sub(r"\n\.\.\.\n$", "", dumped).rstrip("\n")
