"""Rows in and out.  Everything here runs inside a transaction that the caller opened (``Store``).

What is typed is what the plan's schema reads: a bed is ``{"id": ..., "length": 300.0, ...}``.
Whether it makes sense with the rest of the garden is for ``service.record`` to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Update, bindparam, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from service.store.contents import READING, Contents, Reading, Remembered, garden_row
from service.store.errors import Conflict, NotFound
from service.store.journal import Line
from service.store.keys import new_id
from service.store.rows import Rows, Typed, expect, fill
from service.store.tables import Answered, Bed, Club, Entry, Garden, Ground, OwnCrop, Planting, Token

_COUNT = Garden.__table__.c.revision
_COUNTED = update(Garden.__table__).where(Garden.__table__.c.id == bindparam("garden")).returning(_COUNT)
_LINE_COUNTED = _COUNTED.values(revision=_COUNT + 1)
_ROWS_COUNTED = _COUNTED.values(revision=_COUNT + 1, arranged=_COUNT + 1)
_LINE_ADDED = insert(Entry.__table__).returning(Entry.__table__.c.id)


class Repository(Rows):
    """The rows of a store, within one transaction."""

    @property
    def _reading(self) -> Reading:
        found: Reading = self.session.info.get(READING) or Reading(self.session, Remembered())
        self.session.info[READING] = found
        return found

    # Clubs and gardens.

    def add_club(self, name: str, *, now: datetime) -> Club:
        """A new club."""
        return self._add(Club(id=new_id(), name=name, created_at=now))

    def clubs(self) -> Sequence[Club]:
        """All clubs by name."""
        return self.session.scalars(select(Club).order_by(Club.name, Club.id)).all()

    def club(self, club_id: str) -> Club:
        """A club; ``NotFound``."""
        return self._found(select(Club).where(Club.id == club_id), "club", club_id)

    def add_garden(self, club_id: str, typed: Typed, *, now: datetime, extra: Typed | None = None) -> Garden:
        """A new garden of a club; ``NotFound`` for a club that is not there."""
        self.club(club_id)
        garden = Garden(id=new_id(), club_id=club_id, version=1, revision=1, created_at=now, extra=extra)
        self._reading.writes(garden.id)
        return self._add(fill(garden, typed))

    def gardens(self, club_id: str) -> Sequence[Garden]:
        """The gardens of a club, oldest first."""
        wanted = select(Garden).where(Garden.club_id == club_id).order_by(Garden.created_at, Garden.id)
        return self.session.scalars(wanted).all()

    def garden(self, garden_id: str, *, club_id: str | None = None) -> Garden:
        """A garden, of that club when one is given; ``NotFound``."""
        wanted = select(Garden).where(Garden.id == garden_id)
        if club_id is not None:
            wanted = wanted.where(Garden.club_id == club_id)
        return self._found(wanted, "garden", garden_id)

    def hold(self, garden_id: str) -> Garden:
        """Hold other writers to a garden off until this one ends; its row as a value, ``NotFound``.

        Every write to a garden begins with it, so that writers wait for each other in one place.
        """
        return garden_row(self.session, garden_id, held=True)

    def touch(self, garden_id: str) -> int:
        """Count a write to a garden's rows and hold other writers to it off; before anything but a line is written."""
        return self._counted(_ROWS_COUNTED, garden_id)

    def _counted(self, counted: Update, garden_id: str) -> int:
        self._reading.writes(garden_id)
        revision = self.session.execute(counted, {"garden": garden_id}).scalar()
        if revision is None:
            raise NotFound("garden", garden_id)
        return int(revision)

    def change_garden(self, garden_id: str, typed: Typed, *, version: int | None = None) -> Garden:
        """Set the given keys (None takes one away); ``Stale`` when the version is another."""
        self.touch(garden_id)
        garden = self._changed(self.garden(garden_id), typed, version)
        self.session.refresh(garden, ["revision"])  # counted in the database, past this row
        return garden

    def remove_garden(self, garden_id: str, *, club_id: str | None = None, version: int | None = None) -> None:
        """Take a garden away with all that is in it; ``NotFound`` for none of that club."""
        garden = self.garden(garden_id, club_id=club_id)
        held = select(Token.id).where(Token.garden_id == garden_id)
        # Writers hold their token and then the garden; in the same order nobody waits in a circle.
        self.session.execute(held.with_for_update())
        self.touch(garden_id)
        self.session.refresh(garden)
        expect(garden, version)
        # A club's own token may have answers about this garden; they run out by themselves.
        self.session.execute(delete(Answered).where(Answered.token_id.in_(held)))
        self.session.execute(delete(Entry).where(Entry.garden_id == garden_id, Entry.corrects.is_not(None)))
        for table in (Entry, Token, Planting, Ground, Bed, OwnCrop):
            self.session.execute(delete(table).where(table.garden_id == garden_id))
        self.session.execute(delete(Garden).where(Garden.id == garden_id))

    def contents(self, garden_id: str, *, held: Garden | None = None) -> Contents:
        """All of a garden; ``NotFound``.  ``held`` is what ``hold`` gave, where nothing was written since."""
        return self._reading.contents(garden_id, held)

    # Crops of one's own, beds and plantings.

    def add_crop(self, garden_id: str, typed: Typed, *, extra: Typed | None = None) -> OwnCrop:
        """A crop of the grower's own; ``Conflict`` for an id that is taken."""
        self.touch(garden_id)
        crop = OwnCrop(garden_id=garden_id, place=self._next(OwnCrop, garden_id), extra=extra)
        return self._add(fill(crop, typed), f"The crop {typed['id']} is there already.")

    def remove_crop(self, garden_id: str, crop_id: str) -> None:
        """Take a crop of the grower's own away; ``Conflict`` while plantings name it is the caller's to find."""
        self.touch(garden_id)
        wanted = select(OwnCrop).where(OwnCrop.garden_id == garden_id, OwnCrop.id == crop_id)
        self._remove(self._found(wanted, "crop", crop_id), "The crop is in use.")

    def add_bed(self, garden_id: str, typed: Typed, *, extra: Typed | None = None) -> Bed:
        """A new bed; ``Conflict`` for an id that is taken or for ground of no bed."""
        self.touch(garden_id)
        bed = Bed(garden_id=garden_id, place=self._next(Bed, garden_id), version=1, extra=extra)
        self._add(fill(bed, typed), f"The bed {typed['id']} is there already.")
        self.take_over(garden_id, bed.id, typed.get("replaces") or ())
        return bed

    def take_over(self, garden_id: str, bed_id: str, replaced: Iterable[Typed]) -> None:
        """Set which earlier beds' ground a bed stands on; the beds must be there."""
        self.session.execute(delete(Ground).where(Ground.garden_id == garden_id, Ground.newer == bed_id))
        for place, older in enumerate(replaced):
            ground = Ground(garden_id=garden_id, newer=bed_id, place=place)
            self._add(fill(ground, older), f"There is no bed {older['bed']} to replace.")

    def bed(self, garden_id: str, bed_id: str) -> Bed:
        """A bed; ``NotFound``."""
        return self._found(select(Bed).where(Bed.garden_id == garden_id, Bed.id == bed_id), "bed", bed_id)

    def change_bed(self, garden_id: str, bed_id: str, typed: Typed, *, version: int | None = None) -> Bed:
        """Set the given keys; ``Stale``, or ``Conflict`` for another id."""
        self.touch(garden_id)
        bed = self._changed(self.bed(garden_id, bed_id), typed, version, more="replaces" in typed)
        if "replaces" in typed:
            self.take_over(garden_id, bed_id, typed["replaces"] or ())
        return bed

    def remove_bed(self, garden_id: str, bed_id: str, *, version: int | None = None) -> None:
        """Take away a bed that nothing grew in; ``Conflict`` for one with a history."""
        self.touch(garden_id)
        bed = self.bed(garden_id, bed_id)
        expect(bed, version)
        self.take_over(garden_id, bed_id, ())
        self._remove(bed, f"{bed_id} has a history. Give it a last day (until) instead.")

    def add_planting(self, garden_id: str, typed: Typed, *, extra: Typed | None = None) -> Planting:
        """A new planting; ``Conflict`` for an id that is taken or no such bed, ``NotFound`` for what it replaces."""
        self.touch(garden_id)
        planting = Planting(garden_id=garden_id, place=self._next(Planting, garden_id), version=1, extra=extra)
        older = typed.get("replaces")
        if older is not None:
            self.planting(garden_id, older)
        taken = self.session.get(Planting, (garden_id, typed["id"])) is not None
        said = "is there already" if taken else "names a bed that is not there"
        return self._add(fill(planting, typed), f"The planting {typed['id']} {said}.")

    def planting(self, garden_id: str, planting_id: str) -> Planting:
        """A planting; ``NotFound``."""
        wanted = select(Planting).where(Planting.garden_id == garden_id, Planting.id == planting_id)
        return self._found(wanted, "planting", planting_id)

    def change_planting(
        self, garden_id: str, planting_id: str, typed: Typed, *, version: int | None = None
    ) -> Planting:
        """Set planned keys; ``Stale``, or ``Conflict`` for another id or bed."""
        self.touch(garden_id)
        return self._changed(self.planting(garden_id, planting_id), typed, version)

    def remove_planting(self, garden_id: str, planting_id: str, *, version: int | None = None) -> None:
        """Take away a planting that nothing was logged about; ``Conflict`` otherwise."""
        self.touch(garden_id)
        planting = self.planting(garden_id, planting_id)
        expect(planting, version)
        again = select(Planting.id).where(Planting.garden_id == garden_id, Planting.replaces == planting_id)
        if (resowing := self.session.scalars(again.limit(1)).first()) is not None:
            raise Conflict(f"{resowing} stands in place of {planting_id}, so it stays on record.")
        self._remove(planting, f"Something was logged about {planting_id}, so it stays on record.")

    # The journal.

    def log(self, garden_id: str, entry: Typed, *, now: datetime, token_id: str | None = None) -> Line:
        """Add a line: ``did``, ``date``, and as known bed, planting, detail, note, corrects, extra."""
        self._counted(_LINE_COUNTED, garden_id)
        values = {"recorded_at": now, "token_id": token_id, **entry}
        try:
            with self.session.begin_nested():
                number = self.session.execute(_LINE_ADDED, {"garden_id": garden_id, **values}).scalar_one()
        except IntegrityError as error:
            said = "The line names a bed, planting or line that is not there, or takes back one twice."
            raise Conflict(said) from error
        line = Line(number, **{key: values[key] for key in Line._fields if key in values})
        if line.planting is not None:
            # What a reader sees of the planting has changed, so its version has.
            mine = (Planting.garden_id == garden_id, Planting.id == line.planting)
            self.session.execute(update(Planting).where(*mine).values(version=Planting.version + 1))
        return line

    def line(self, garden_id: str, entry_id: int) -> Entry:
        """A line of the journal; ``NotFound``."""
        wanted = select(Entry).where(Entry.garden_id == garden_id, Entry.id == entry_id)
        return self._found(wanted, "line", entry_id)

    def lines(
        self,
        garden_id: str,
        *,
        bed: str | None = None,
        planting: str | None = None,
        after: int = 0,
        most: int | None = None,
    ) -> Sequence[Entry]:
        """Lines in the order of writing, from the first after ``after``; at most ``most``."""
        wanted = select(Entry).where(Entry.garden_id == garden_id, Entry.id > after).order_by(Entry.id)
        if bed is not None:
            wanted = wanted.where(Entry.bed == bed)
        if planting is not None:
            wanted = wanted.where(Entry.planting == planting)
        return self.session.scalars(wanted.limit(most)).all()

    def is_empty(self, garden_id: str) -> bool:
        """True for a garden with no beds, crops of its own or journal (and so no plantings)."""
        tables: tuple[Any, ...] = (Bed, OwnCrop, Entry)
        return not any(
            self.session.scalar(select(select(table).where(table.garden_id == garden_id).exists())) for table in tables
        )
