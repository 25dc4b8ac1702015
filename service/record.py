"""Writes to a garden that leave it whole: whatever is stored can be read as a plan.

Each function runs inside a transaction of the store.  What is wrong raises ``PlanRejected`` with a
pointer into what was sent; the caller's transaction then leaves nothing behind.
"""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Mapping
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, TypeVar

from rules.reading import PlanFaults, build_plan
from service.journalrows import columns, lying, states, typed_line
from service.lines import name_faults, time_faults
from service.mapping import document, planned_document
from service.reading import PlanError, PlanRejected, pointer
from service.schemas.entry import JOINED, MADE, misfits
from service.store.errors import Conflict, NotFound
from service.store.journal import Line
from service.store.keys import short_id
from service.store.projection import State
from service.store.repository import Contents, Repository
from service.store.tables import Bed, Entry, Garden, OwnCrop, Planting

if TYPE_CHECKING:
    from rules.knowledge.known import Knowledge

Typed = Mapping[str, Any]
Written = TypeVar("Written")
_NOT_IN_IDS = re.compile("[^A-Za-z0-9_.-]+")


class Record:
    """A garden being written to, by someone who may.

    Parameters
    ----------
    repository
        Of an open write transaction.
    knowledge, today, now
        What names mean, the day in the garden's zone, and the moment.
    token_id
        Who writes; kept with each line of the journal.
    held
        The garden's row, where the transaction holds it already (``Repository.hold``).
    """

    def __init__(
        self,
        repository: Repository,
        garden_id: str,
        knowledge: Knowledge,
        *,
        today: date,
        now: datetime,
        token_id: str | None = None,
        held: Garden | None = None,
    ) -> None:
        self.repository, self.garden_id, self.knowledge = repository, garden_id, knowledge
        self.today, self.now, self.token_id = today, now, token_id
        self._held, self._contents, self._wrote = held, None, False

    def hold(self) -> None:
        """Keep other writers to the garden off until the transaction ends: what is read then stays so."""
        if self._held is None:
            self._held, self._contents = self.repository.hold(self.garden_id), None

    def contents(self) -> Contents:
        """All of the garden as it stands in this transaction, read once between two writes."""
        if self._contents is None:
            held = None if self._wrote else self._held
            self._contents = self.repository.contents(self.garden_id, held=held)
        return self._contents

    def wrote(self, row: Written) -> Written:
        """What was just written; the garden is read anew when it is asked for next."""
        self._contents, self._wrote = None, True
        return row

    def state(self, planting: Planting) -> State:
        """What became of a planting."""
        contents = self.contents()
        return states([planting], contents.journal, contents.garden.latitude)[planting.id]

    def change_garden(self, typed: Typed, *, version: int | None = None) -> Garden:
        """Set keys of the garden; None takes one away."""
        garden = self.wrote(self.repository.change_garden(self.garden_id, typed, version=version))
        self._whole("garden", None)
        return garden

    def add_crop(self, typed: Typed) -> OwnCrop:
        """A crop of the grower's own."""
        crop = self.wrote(self.repository.add_crop(self.garden_id, typed))
        self._whole("crops", crop.id)
        return crop

    def remove_crop(self, crop_id: str) -> None:
        """Take a crop of the grower's own away; refused while a planting names it."""
        self.wrote(self.repository.remove_crop(self.garden_id, crop_id))
        self._whole("crops", None)

    def add_bed(self, typed: Typed) -> Bed:
        """A new bed."""
        self._refuse(
            ("replaces", f"no bed has the id {older['bed']!r}")
            for older in typed.get("replaces") or ()
            if self.repository.find(Bed, self.garden_id, older["bed"]) is None
        )
        bed = self.wrote(self.repository.add_bed(self.garden_id, typed))
        self._whole("beds", bed.id)
        return bed

    def change_bed(self, bed_id: str, typed: Typed, *, version: int | None = None) -> Bed:
        """Set keys of a bed; None takes one away."""
        self._refuse(
            ("replaces", f"no bed has the id {older['bed']!r}")
            for older in typed.get("replaces") or ()
            if self.repository.find(Bed, self.garden_id, older["bed"]) is None
        )
        bed = self.wrote(self.repository.change_bed(self.garden_id, bed_id, typed, version=version))
        self._whole("beds", bed_id)
        return bed

    def add_planting(self, typed: Typed) -> Planting:
        """A new planting; without an id it is named from its bed, crop and time."""
        self.hold()
        contents = self.contents()
        taken = {planting.id for planting in contents.plantings}
        self._refuse(self._planting_faults(typed, {bed.id for bed in contents.beds}, taken))
        if "id" not in typed:
            typed = {**typed, "id": short_id(self.name_of(typed), taken)}
        planting = self.wrote(self.repository.add_planting(self.garden_id, typed))
        self._whole("plantings", planting.id)
        return planting

    def name_of(self, typed: Typed) -> str:
        """What a planting without an id is called, by its bed, crop and time."""
        crop = self.knowledge.find_crop(typed["crop"])
        word = crop.id if crop else _NOT_IN_IDS.sub("-", typed["crop"])
        return f"{typed['bed']}.{word}.{typed.get('season') or typed.get('start')}"

    def change_planting(self, planting_id: str, typed: Typed, *, version: int | None = None) -> Planting:
        """Set planned keys; what became of it is logged, not changed."""
        if self.state(self.repository.planting(self.garden_id, planting_id)).told:
            self._refuse(
                (key, "this follows from the journal; log what happened, or undo what is wrong")
                for key in ("status", "cause")
                if key in typed
            )
        planting = self.wrote(self.repository.change_planting(self.garden_id, planting_id, typed, version=version))
        self._whole("plantings", planting_id)
        return planting

    def log(self, typed: Typed) -> Line:
        """Add a line to the journal; without a date it is of today.

        The bed of a line about a planting is the planting's.
        """
        self.hold()
        contents = self.contents()
        line = {"date": self.today, **typed}
        if line["did"] == "undo":
            raise Conflict("A line is taken back by undo, which says which.")
        named = {*line.get("plantings", ()), *([line["planting"]] if "planting" in line else [])}
        plantings = {row.id: row for row in contents.plantings if row.id in named}
        about = plantings.get(line.get("planting", ""))
        if about is not None and line.setdefault("bed", about.bed) != about.bed:
            self._refuse([("bed", f"{about.id} stands in {about.bed}")])
        beds = {bed.id for bed in contents.beds}
        faults = [(key, detail) for key, details in misfits(line).items() for detail in details]
        faults += name_faults(line, beds, {name: row.bed for name, row in plantings.items()}, self.knowledge)
        self._refuse(faults)
        state = self.state(about) if about is not None else None
        self._refuse(time_faults(line, self.today, state))
        if line["did"] == "uncovered":
            covered = lying(contents.journal, line["bed"], line["date"], line.get("planting"))
            self._refuse([] if covered else [("did", f"no cover is on record there on {line['date']}")])
        return self.wrote(self.repository.log(self.garden_id, columns(line), now=self.now, token_id=self.token_id))

    def undo(
        self, entry_id: int | None = None, *, bed: str | None = None, plantings: Container[str] | None = None
    ) -> Line:
        """Take back a line, or the last one that stands (in a bed, about some plantings): another line says so.

        Raises
        ------
        Conflict
            when there is nothing to take back, or it was taken back before.
        NotFound
            for a line that is not there.
        """
        self.hold()
        journal = self.contents().journal
        if entry_id is None:
            stand = (line for line in reversed(journal.standing) if bed in (None, line.bed))
            line = next((line for line in stand if plantings is None or line.planting in plantings), None)
            if line is None:
                any_line = bed is None and plantings is None
                raise Conflict(f"There is nothing {'' if any_line else 'about that '}to take back.")
        else:
            line = next((line for line in journal if line.id == entry_id), None)
            if line is None:
                raise NotFound("line", entry_id)
            if line.corrects is not None:
                raise Conflict("An undo cannot be taken back. Log what is right instead.")
            if line.id in journal.undone:
                raise Conflict(f"Line {entry_id} was taken back before.")
        taken = {"did": "undo", "date": self.today, "corrects": line.id, "bed": line.bed, "planting": line.planting}
        return self.wrote(self.repository.log(self.garden_id, taken, now=self.now, token_id=self.token_id))

    # What the above share.

    def _planting_faults(self, typed: Typed, beds: set[str], taken: set[str]) -> Iterable[tuple[str, str]]:
        if typed["bed"] not in beds:
            yield "bed", f"no bed has the id {typed['bed']!r}"
        if "replaces" in typed and typed["replaces"] not in taken:
            yield "replaces", f"no planting has the id {typed['replaces']!r}"

    def _whole(self, key: str, row_id: str | None) -> None:
        """The garden can still be read as a plan; else what is wrong, told by the row that was sent.

        What was planned is judged apart from what was logged: an undo may bring any of it back.
        """
        contents = self.contents()
        if not contents.beds and not contents.plantings:
            return
        for data in (planned_document(contents), document(contents, as_of=self.today)):
            try:
                build_plan(data, self.knowledge, as_of=self.today)
            except PlanFaults as found:
                errors = [_told_of(data, key, row_id, fault.path, fault.detail) for fault in found.faults]
                raise PlanRejected(errors[:100], len(errors)) from None

    @staticmethod
    def _refuse(faults: Iterable[tuple[str, str]]) -> None:
        errors = [PlanError(pointer((key,)), detail) for key, detail in faults]
        if errors:
            raise PlanRejected(errors, len(errors))


def _told_of(data: Typed, key: str, row_id: str | None, path: Any, detail: str) -> PlanError:
    """A fault of the whole garden, as one of the row that was sent where it is one."""
    rows = data.get(path[0]) if path else None
    if isinstance(rows, list) and len(path) > 1:
        name = rows[path[1]].get("id")
        if path[0] == key and name == row_id:
            return PlanError(pointer(path[2:]), detail)
        return PlanError("", f"{path[0]} {name}: {detail}" if name else f"{path[0]}: {detail}")
    return PlanError(pointer(path[1:]) if path and path[0] == key else "", detail)


def line_row(entry: Line | Entry) -> dict[str, Any]:
    """A line as it is told: its number, what it says, and when it was written down."""
    told = {key: value for key, value in typed_line(entry).items() if key not in (MADE, JOINED)}
    return {"id": entry.id, **told, "recorded": entry.recorded_at}
