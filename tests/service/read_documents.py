"""Documents read with a builder that keeps what it is given."""

import json
from datetime import date

from rules.knowledge.library import load_knowledge
from rules.reading import Fault, PlanFaults
from service.reading import (
    read_plan,
)

TODAY = date(2026, 11, 20)


class Builder:
    """Stands in for ``rules.reading.build_plan``: notes what it was given, raises the faults it was told."""

    def __init__(self, *faults):
        self.faults = [Fault(*fault) for fault in faults]
        self.calls = []

    def __call__(self, data, knowledge, **given):
        self.calls.append((data, given))
        if self.faults:
            raise PlanFaults(self.faults)
        return "the plan"


def read(document, *, kind="json", build_plan=None, today=lambda zone: TODAY, **given):
    body = document if isinstance(document, bytes) else json.dumps(document).encode()
    knowledge = None if build_plan else load_knowledge()
    return read_plan(body, kind, today=today, knowledge=knowledge, build_plan=build_plan, **given)


def data_of(document, kind="json"):
    """The typed data that ``build_plan`` gets."""
    builder = Builder()
    assert read(document, kind=kind, build_plan=builder) == "the plan"
    return builder.calls[0][0]


WHOLE = b"""
format: 1
as_of: 2026-11-20
judge: {season: 2027-Fall}
garden:
  name: Tannery Row Plots
  site: tannery
  latitude: 46.2
  country: fr
  time_zone: Europe/Paris
  last_spring_frost: 05-04
  first_autumn_frost: {p10: 09-20, p50: 10-02}
  units: Metric
  rotation: full
  soil: {ph: 6.5, texture: Sandy loam, drainage: good}
  x-color: green
crops:
  - {id: oca, family: Oxalidaceae, lifecycle: Annual}
beds:
  - id: kiln
    name: Kiln bed
    kind: Raised
    length: 10 ft
    width: 120
    position: {x: 0, y: 2.5}
    turn: 90
    irrigation: {method: drip, emitter_spacing: 30, emitter_flow: 2.0, lines: 2}
    soil: {ph: 6.2}
    replaces: [old-kiln, {bed: 7, from: 2020-01-01, until: 2021-12-31}]
    from: 2022-01-01
  - {id: old-kiln, until: 2021-12-31}
  - {id: 7}
plantings:
  - {id: p1, bed: kiln, part: [0, 0.5], crop: Cabbage, season: 2027-spring, start: 2027-04-20,
     end: 2027-09-30, first_harvest: 2027-07-20, status: planned, method: transplant, count: 8, spacing: 50, x-tag: a,
     variety: {name: Early, resists: [clubroot], parthenocarpic: false}}
  - {bed: 7, crop: kale, season: 2024, end: null}
covers:
  - {bed: kiln, kind: net, mesh: 0.8, start: 2027-04-20, plantings: [p1], edges: Shut, open_by_day_from: null}
sightings: [{bed: kiln, date: 2025-07-01, of: clubroot, level: severe}]
treatments: [{bed: kiln, planting: p1, date: 2027-06-01, active: azadirachtin, harvest_interval: 3}]
amendments: [{bed: kiln, date: 2027-03-01, kind: raw manure}]
x-mine: [1, 2]
"""


PLANTING = {"bed": "kiln", "crop": "kale", "season": "2027"}
