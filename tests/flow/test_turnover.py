"""How often an hour the tank's water is moved."""

import pytest

from layout3d.flow.running import running
from layout3d.flow.turnover import turnovers
from layout3d.water.figures import figures

SUMP = """
sump:
  kind: sump
  at: {left: 100, front: 50, bottom: -800}
  inside: [600, 400, 400]
  compartments: [{name: chamber, level: 220}]
main:
  {kind: pump, model: medium 3000, outlet: d25 pn 10, at: {in: sump.chamber, left: 150, back: 90, bottom: 0}}
rise:
  kind: run
  pipe: d25 pn 10
  start: main.outlet
  route: [{up: 500}, {until: back, reach: [0, 620, 0]}, {until: up, reach: [0, 0, 660]}, {front: 200}, open]
stream: {kind: pump, model: small 600, at: {right: 200, back: 120, bottom: 0}}
"""


def test_return_and_circulation_are_told_apart(scene):
    model = scene(SUMP)
    flow = running(model)
    back, around = turnovers(model, flow)
    assert (back.kind, back.pumps) == ("return", ("main",))
    assert (around.kind, around.pumps) == ("circulation", ("stream",))
    volume = figures(model)["water_volume_net"]
    pump = next(pump for pump in flow.pumps if pump.pump == "main")
    assert back.per_hour.likely == pytest.approx(pump.flow.likely * 3600 / volume)
    assert back.per_hour.low < back.per_hour.likely < back.per_hour.high


def test_a_pump_that_tops_up_the_sump_turns_no_tank_over(scene):
    store = """
store: {kind: sump, at: [-500, 50, -800], inside: [300, 300, 300], compartments: [{name: all, level: 250}]}
top_up: {kind: pump, model: small 1000, outlet: d25 pn 10,
  at: {in: store.all, left: 150, front: 150, bottom: 0}}
line: {kind: run, pipe: d25 pn 10, start: top_up.outlet, route: [{up: 450}, {right: 600}, {down: 300}, open]}
"""
    model = scene(SUMP.replace("sump:", "below:").replace("in: sump.", "in: below.") + store)
    assert [one.pumps for one in turnovers(model, running(model))] == [("main",), ("stream",)]


def test_a_dry_tank_has_none(scene):
    model = scene("", waterline=0)
    assert turnovers(model, running(model)) == ()
