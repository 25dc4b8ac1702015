"""A small garden that is told by phone: each line in a transaction of its own, each sentence fit to be spoken."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

from service.mapping import garden_plan
from service.phonelog import note
from service.reading import PlanRejected
from service.record import Record
from service.store.errors import Conflict
from service.store.repository import Repository

NOW = datetime(2027, 4, 22, 9, 30, tzinfo=UTC)
SPEAKABLE = re.compile(r"(Logged|Taken back): [\w .,?!'’-]+(?:\. Note: [\w .,?!'’-]+)?[.?]")
GARDEN = {"name": "Tannery Row Plots", "latitude": 46.2, "country": "FR", "time_zone": "Europe/Paris"}


class Phone:
    """A garden of two beds, and whoever stands in it with a phone on ``today``."""

    def __init__(self, store, knowledge, today=date(2027, 4, 22), garden=GARDEN):
        self.store, self.knowledge, self.today = store, knowledge, today
        with store.write() as session:
            repository = Repository(session)
            self.club = repository.add_club("Tannery Row", now=NOW).id
            self.garden = repository.add_garden(self.club, garden, now=NOW).id
            for name in ("Kiln", "Quay"):
                self.record(session).add_bed(
                    {"id": name.lower(), "name": f"{name} bed", "length": 300.0, "width": 120.0}
                )

    def record(self, session):
        return Record(Repository(session), self.garden, self.knowledge, today=self.today, now=NOW)

    def plan(self, **typed):
        """A planting that is planned or on record, not told by phone."""
        with self.store.write() as session:
            return self.record(session).add_planting({"bed": "kiln", **typed}).id

    def noted(self, **flat):
        with self.store.write() as session:
            noted = note(self.record(session), flat)
        assert SPEAKABLE.fullmatch(noted.say), noted.say
        assert len(noted.say) < 200
        return noted

    def say(self, **flat):
        return self.noted(**flat).say

    def refused(self, **flat):
        """What is said of a line that cannot be written down; nothing of it stands."""
        lines = len(self.contents().journal)
        try:
            self.noted(**flat)
        except PlanRejected as refused:
            said = [error.detail for error in refused.errors]
        except Conflict as refused:
            said = [refused.detail]
        else:
            raise AssertionError("it was written down")
        assert len(self.contents().journal) == lines
        assert all(len(text) < 200 for text in said)
        return said

    def wait(self, days):
        self.today += timedelta(days=days)

    def contents(self):
        with self.store.read() as session:
            return Repository(session).contents(self.garden)

    def standing(self, bed="kiln"):
        """The crops that stand in a bed on the day."""
        plan = garden_plan(self.contents(), self.knowledge, as_of=self.today)
        there = [p for p in plan.plantings if p.bed == bed and p.status in ("growing", "planned")]
        return sorted(p.crop.id for p in there if p.start <= self.today <= p.end)

    def statuses(self):
        plan = garden_plan(self.contents(), self.knowledge, as_of=self.today)
        return {p.id: p.status for p in plan.plantings}
