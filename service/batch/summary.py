"""What a coordinator asks of a whole batch, added up garden by garden.

``Brief`` is what the summary needs of one garden's line: small, so that workers send back little more
than finished bytes.  Lists of gardens are cut at ``MOST_TOLD`` names, with the number of all beside them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any, NamedTuple

from rules.checks.footprints import Box, boxes_apart, close_by

VERDICTS = ("breach", "caution", "unknown", "clear")
MOST_TOLD = 1_000
#: Rules of which the summary speaks, the commonest.
MOST_RULES = 20
#: Plots whose beds lie no farther apart are neighbours: a path and what boots carry over it (judgement).
NEAR_M = 5.0
#: Beds on one spot that are looked at for each.
_MOST_NEAR = 200


class RuleSet(NamedTuple):
    """What a garden was judged by."""

    version: str
    digest: str
    overlay: str | None


class Brief(NamedTuple):
    """What the summary needs of one garden's line."""

    line: int
    garden: str | None
    verdict: str | None
    planned: bool
    breaches: tuple[tuple[str, int, str], ...]
    closed: tuple[str, ...]
    recorded: bool
    diseases: tuple[Mapping[str, Any], ...]
    site: str | None
    extent: Box | None
    fault: tuple[str | None, int, str | None, str] | None
    faults: int
    rules: RuleSet | None


def brief_of(line: Mapping[str, Any]) -> Brief:
    """The brief of a line of ``judge_garden``."""
    if line["type"] == "error":
        first = line["errors"][0]
        fault = (first.get("sheet"), first["line"], first.get("column") or first.get("pointer"), first["detail"])
        return Brief(line["line"], line["garden"], None, True, (), (), True, (), None, None, fault, line["total"], None)
    report = line["report"]
    rules: dict[str, tuple[int, str]] = {}
    for finding in report["findings"]:
        if finding["severity"] == "breach":
            count, title = rules.get(finding["rule"], (0, finding["title"]))
            rules[finding["rule"]] = count + 1, title
    return Brief(
        line["line"],
        line["garden"],
        report["verdict"],
        report["verdict"] != "unknown" or bool(report["not_checked"]),
        tuple((rule, count, title) for rule, (count, title) in rules.items()),
        tuple(_closed(report)),
        any(bed["known_from"] is not None for bed in report["beds"]),
        tuple(line["diseases"]),
        line["site"],
        tuple(line["extent"]) if line["extent"] else None,
        None,
        0,
        RuleSet(**report["rules"]),
    )


def middle(judged: Mapping[str, str]) -> date:
    """The middle of a judged window: what is free only later is of no use to most of its season."""
    start, end = date.fromisoformat(judged["from"]), date.fromisoformat(judged["to"])
    return start + (end - start) / 2


def _closed(report: Mapping[str, Any]) -> Iterator[str]:
    """Families on record for which no bed is free by the middle of the judged window; what is unknown may be free."""
    day = middle(report["judged"]).isoformat()
    beds = [bed["free_from"] for bed in report["beds"]]
    for family in sorted({family for bed in beds for family in bed}):
        told = [bed.get(family, "open") for bed in beds]
        if all(one == "never" or (isinstance(one, dict) and one["least"] > day) for one in told):
            yield family


class Told:
    """Gardens of one kind: how many, and the names of the first."""

    def __init__(self) -> None:
        self.gardens = 0
        self.names: list[str] = []

    def add(self, brief: Brief) -> None:
        """One more garden."""
        self.gardens += 1
        if len(self.names) < MOST_TOLD:
            self.names.append(brief.garden or f"line {brief.line}")

    def plain(self) -> dict[str, Any]:
        """The count and the names."""
        return {"gardens": self.gardens, "names": self.names}


class Breached(Told):
    """Gardens that break one rule, with how often it is broken and the first case."""

    def __init__(self, example: dict[str, Any]) -> None:
        super().__init__()
        self.findings, self.example = 0, example

    def plain(self) -> dict[str, Any]:
        """The counts, the case and the names."""
        return {"findings": self.findings, "example": self.example, **super().plain()}


class Summary:
    """The sums over all gardens that were added, in their order."""

    def __init__(self, season: str | None, as_of: str) -> None:
        self.season, self.as_of = season, as_of
        self.rules: dict[RuleSet, None] = {}  # in the order in which they were met
        self.gardens = self.failed = self.strays = 0
        self.verdicts = dict.fromkeys(VERDICTS, 0)
        self.breaches: dict[str, Breached] = {}
        self.closed: dict[str, Told] = {}
        self.unplanned, self.unrecorded = Told(), Told()
        self.failures: list[dict[str, Any]] = []
        self.diseased = 0
        self.diseases: list[dict[str, Any]] = []
        self._boxes: dict[str, dict[str, Box]] = {}
        self._before: str | None = None
        self._waiting: list[dict[str, Any]] = []

    def add(self, brief: Brief) -> None:
        """Add the next garden of the batch."""
        self._next(brief)
        self.gardens += 1
        if brief.verdict is None:
            self.failed += 1
            self._fault(brief)
            return
        self.verdicts[brief.verdict] += 1
        if brief.rules is not None:
            self.rules.setdefault(brief.rules)
        if not brief.planned:
            self.unplanned.add(brief)
        if not brief.recorded:
            self.unrecorded.add(brief)
        for rule, count, title in brief.breaches:
            example = {"garden": brief.garden, "line": brief.line, "title": title}
            sums = self.breaches.setdefault(rule, Breached(example))
            sums.add(brief)
            sums.findings += count
        for family in brief.closed:
            self.closed.setdefault(family, Told()).add(brief)

    def stray(self, brief: Brief) -> None:
        """A fault that belongs to no garden of the batch."""
        self.strays += 1
        self._fault(brief)

    def _fault(self, brief: Brief) -> None:
        if len(self.failures) < MOST_TOLD and brief.fault:
            sheet, line, column, detail = brief.fault
            told = {"sheet": sheet, "line": line, "garden": brief.garden, "column": column}
            kept = {key: value for key, value in told.items() if value is not None or key == "garden"}
            self.failures.append({**kept, "detail": detail, "faults": brief.faults})

    def _next(self, brief: Brief) -> None:
        """Neighbours in the sheet, and the place of each plot that has one."""
        name = brief.garden or f"line {brief.line}"
        for one in self._waiting:
            one["neighbours"].append(name)
        self._waiting = []
        if brief.extent is not None and brief.site is not None:
            self._boxes.setdefault(brief.site, {})[name] = brief.extent
        self.diseased += bool(brief.diseases)
        if brief.diseases and len(self.diseases) < MOST_TOLD:
            told = {"garden": name, "line": brief.line, "site": brief.site, "seen": list(brief.diseases)}
            self.diseases.append({**told, "neighbours": [self._before] if self._before else [], "by": "sheet"})
            self._waiting.append(self.diseases[-1])
        self._before = name

    def status(self) -> str | None:
        """The worst verdict of all, or None where a garden failed."""
        if self.failed or self.strays:
            return None
        return next((verdict for verdict in VERDICTS if self.verdicts[verdict]), "unknown")

    def line(self) -> dict[str, Any]:
        """The last line of a batch."""
        common = sorted(self.breaches.items(), key=lambda item: (-item[1].gardens, -item[1].findings, item[0]))
        closed = sorted(self.closed.items(), key=lambda item: (-item[1].gardens, item[0]))
        return {
            "type": "summary",
            "complete": True,
            "season": self.season,
            "as_of": self.as_of,
            "rules": [one._asdict() for one in self.rules],
            "gardens": self.gardens,
            "failed": self.failed,
            "strays": self.strays,
            "verdicts": self.verdicts,
            "breaches": [{"rule": rule, **told.plain()} for rule, told in common[:MOST_RULES]],
            "no_free_bed": [{"family": family, **told.plain()} for family, told in closed],
            "nothing_planned": self.unplanned.plain(),
            "no_records": self.unrecorded.plain(),
            "diseases": {"gardens": self.diseased, "plots": [*self._placed()]},
            "failures": self.failures,
        }

    def _placed(self) -> Iterator[dict[str, Any]]:
        """The plots that had a disease; where their place is known, with the plots that lie beside them."""
        near: dict[tuple[str, str], list[str]] = {}
        for site, boxes in self._boxes.items():
            ill = {one["garden"] for one in self.diseases if one["site"] == site}
            for one, other in _neighbours(boxes) if ill & boxes.keys() else ():
                near.setdefault((site, one), []).append(other)
                near.setdefault((site, other), []).append(one)
        order = {site: {name: at for at, name in enumerate(boxes)} for site, boxes in self._boxes.items()}
        for told in self.diseases:
            site = told["site"]
            plain = {key: value for key, value in told.items() if key != "site"}
            if told["garden"] in self._boxes.get(site, ()):
                found = sorted(near.get((site, told["garden"]), ()), key=order[site].__getitem__)
                plain |= {"neighbours": found, "by": "position"}
            yield plain


def _neighbours(boxes: Mapping[str, Box]) -> Iterable[tuple[str, str]]:
    for one, other in close_by(boxes, NEAR_M, _MOST_NEAR):
        if boxes_apart(boxes[one], boxes[other]) <= NEAR_M:
            yield one, other
