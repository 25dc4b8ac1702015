"""Lines of a batch as bytes: NDJSON, or CSV with one row a finding."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from service.encode import to_bytes
from service.tables import CSV_HEADER, defused
from service.words import COUNTED, as_list, publishers

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

#: Before what a row of a report has: the line of the sheet, what the row is, and the column of a fault.
HEADER = ("line", "type", "column", *CSV_HEADER)


#: Reasons for an unknown verdict that its row tells.
MOST_WHYS = 3


def to_ndjson(line: Mapping[str, Any]) -> bytes:
    """A line as one line of JSON."""
    return to_bytes(line) + b"\n"


def csv_head() -> bytes:
    """The first row of a CSV answer."""
    return _rows([HEADER])


def to_csv(line: Mapping[str, Any], knowledge: Knowledge) -> bytes:
    """A line as CSV (RFC 4180): a row for the verdict and one a finding, a row a fault, or the summary's row."""
    if line["type"] == "report":
        return _rows(_report_rows(line, knowledge))
    if line["type"] == "error":
        return _rows(_error_rows(line))
    return _rows([("", "summary", "", "", "", "", "", "", "", counted(line), "complete", "")])


def counted(summary: Mapping[str, Any]) -> str:
    """ "500 gardens: 120 breach, 80 caution, 0 unknown, 290 clear, 10 could not be checked"."""
    parts = [f"{count:,} {verdict}" for verdict, count in summary["verdicts"].items()]
    gardens = "1 garden" if summary["gardens"] == 1 else f"{summary['gardens']:,} gardens"
    return f"{gardens}: {', '.join(parts)}, {summary['failed']:,} could not be checked"


def _report_rows(line: Mapping[str, Any], knowledge: Knowledge) -> Iterator[Sequence[Any]]:
    number, garden, report = line["line"], line["garden"], line["report"]
    verdict = report["verdict"]
    said = [
        COUNTED[severity][count > 1].format(n=count)
        for severity in COUNTED
        if (count := sum(one["severity"] == severity for one in report["findings"]))
    ]
    told = "; ".join(filter(None, (as_list(said), *(_unsure(report) if verdict == "unknown" else ()))))
    yield number, "verdict", "", garden, verdict, "", "", "", "", told, "", ""
    for one in report["findings"]:
        yield (
            number,
            "finding",
            "",
            garden,
            verdict,
            one["severity"],
            one["rule"],
            "; ".join(one["beds"]),
            "; ".join(one["plantings"]),
            one["title"],
            one["fix"]["text"],
            "; ".join(publishers(one["evidence"]["sources"], knowledge)),
        )


def _unsure(report: Mapping[str, Any]) -> Iterator[str]:
    """Why a verdict is unknown, the first reasons."""
    whys = [one["why"] for one in report["not_checked"]]
    yield from whys[:MOST_WHYS] or ("nothing is planned in the season",)
    if len(whys) > MOST_WHYS:
        yield f"and {len(whys) - MOST_WHYS:,} more"


def _error_rows(line: Mapping[str, Any]) -> Iterator[Sequence[Any]]:
    for one in line["errors"]:
        place = one.get("column") or one.get("pointer", "")
        where = f"sheet of {one['sheet']}: " if "sheet" in one else ""
        yield one["line"], "error", place, line["garden"] or "", "", "", "", "", "", where + one["detail"], "", ""
    if line["total"] > len(line["errors"]):
        more = f"and {line['total'] - len(line['errors']):,} more"
        yield line["line"], "error", "", line["garden"] or "", "", "", "", "", "", more, "", ""


def _rows(rows: Iterator[Sequence[Any]] | Sequence[Sequence[Any]]) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow([defused(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue().encode("utf-8", "replace")
