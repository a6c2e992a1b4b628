"""Two drains that meet in a long one: with either blocked, the other may fill it."""

import pytest

from layout3d.band import Band
from layout3d.model.build import build_model
from layout3d.outage.outages import outages
from layout3d.outage.running import Running
from layout3d.scene.reader import read_scene

LONG_DRAIN = """format: 1
units: mm
title: Long drain
values:
  way: 2500
  fall: 1.5 %
waterline: 430
parts:
  tank:
    kind: tank
    inside: [900, 450, 550]
    glass: 10
    holes:
      one: {panel: back, bulkhead: d50, left: 200, bottom: 415}
      two: {panel: back, bulkhead: d50, left: 500, bottom: 415}
  stand: {kind: stand, height: 800}
  sump:
    kind: sump
    at: [2500, 350, -800]
    fixed_to: room
    inside: [700, 400, 400]
    compartments:
      - {name: inlet, length: 250, baffle: {height: 240}}
      - {name: return, level: 180}
  pump:
    kind: pump
    model: medium 3000
    speed: 80 %
    outlet: d32 pn 10
    at: {in: sump.return, left: 150, front: 200, bottom: 0}
  drain:
    kind: run
    pipe: d50 pn 10
    start: one.outside
    route:
      - back: 80
      - down: 300
      - right: 620
        fall: fall
      - {wye: back, lean: back, name: second}
      - right: way - 620
        fall: fall
      - {until: down, reach: {in: sump.inlet, left: 100, front: 100, bottom: 260}}
      - open
  drain_two:
    kind: run
    pipe: d50 pn 10
    start: two.outside
    route:
      - {until: back, reach: {from: drain.second, offset: [0, 150, 0]}}
      - {until: down, reach: drain.second}
      - {until: right, reach: {from: drain.second, offset: [-150, 0, 0]}}
      - join: drain.second
  supply:
    kind: run
    pipe: d32 pn 10
    start: pump.outlet
    route:
      - up: 1300
      - {until: front, reach: [0, 300, 0]}
      - {until: left, reach: [750, 0, 0]}
      - down: 120
      - open
"""


def test_a_drain_that_fills_with_the_other_blocked_is_still_told():
    """Two drains meet in a long one at 1.5 %; one carries all where the other is blocked, and fills."""
    found = outages(build_model(read_scene("long.yaml", text=LONG_DRAIN)))
    blocked = next(event for event in found.blocked if event.subject == "one")
    assert list(blocked.tank_levels) == sorted(blocked.tank_levels)


def test_a_pipe_that_two_drains_share_is_counted_once():
    """Running full, by hand: the bores of all stretches, that of the shared one once."""
    model = build_model(read_scene("long.yaml", text=LONG_DRAIN))
    found = outages(model).circuit
    running = Running(model=model, circuit=found)
    one, two = found.drains
    shared = sum(edge.volume for edge in one.way.edges if edge in two.way.edges)
    assert shared > 2e-3  # about 2 m of 45.2 mm

    def full(*drains):
        return running.in_drains(drains, flow=found.flow, level=Band.exact(found.rim))[2]

    assert full(one, two) == pytest.approx(full(one) + full(two) - shared, rel=0.02)
