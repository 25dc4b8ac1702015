"""Which row of a document a planting was read from: ids of rows without one are worked out and sorted elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from rules.reading import build_plan

if TYPE_CHECKING:
    from rules.model import Plan, Planting

Row = dict[str, Any]


class _Placed(str):
    """A bed's id that remembers the row it stands in."""

    __slots__ = ("place",)
    place: int


def remembering(kept: list[Row]) -> Callable[..., Plan]:
    """A ``build_plan`` after which ``place_of`` tells the row of each planting; ``kept`` gets the typed document."""

    def build(data: Row, *args: Any, **kwargs: Any) -> Plan:
        kept.append(data)
        rows = [_marked(row, place) for place, row in enumerate(data.get("plantings") or ())]
        return build_plan({**data, "plantings": rows}, *args, **kwargs)

    return build


def place_of(planting: Planting) -> int:
    """The number of the row that a planting was read from, from 0."""
    return planting.bed.place  # type: ignore[attr-defined,no-any-return]


def _marked(row: Any, place: int) -> Any:
    if not isinstance(row, Mapping) or not isinstance(row.get("bed"), str):
        return row
    bed = _Placed(row["bed"])
    bed.place = place
    return {**row, "bed": bed}
