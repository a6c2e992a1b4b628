"""A scene without a sump: what stopped pumps let back, and what full pipe siphons on."""

import math

import pytest

from layout3d.flow.running import running_with
from layout3d.outage.outages import outages
from layout3d.outage.without_circuit import stopped_without_circuit
from layout3d.report.outage import outage_json, outage_lines
from layout3d.units import GRAVITY

HEADER = """
weak: {{kind: pump, model: small 600, outlet: d20 pn 16, at: {{left: 100, back: 120, bottom: 0}}}}
strong: {{kind: pump, model: medium 2000, outlet: d20 pn 16, at: {{left: 400, back: 120, bottom: 0}}}}
line:
  kind: run
  pipe: d20 pn 16
  start: weak.outlet
  route: [{{up: 130}}{valve}, {{tee: right, name: t}}, {{up: 150}}, open]
join:
  kind: run
  pipe: d20 pn 16
  start: strong.outlet
  route: [{{until: up, reach: {{from: line.t}}}}, {{until: left, reach: {{from: line.t}}}}, {{join: line.t}}]
"""
OVER_THE_RIM = """
pump: {kind: pump, model: medium 2000, at: {left: 100, back: 120, bottom: 0}}
hose: {kind: run, tube: 12/16 mm, start: pump.outlet,
  route: [{up: 700}, {left: 300}, {down: 1000}, open]}
"""


def header(scene, valve=""):
    return scene(HEADER.format(valve=valve), waterline=150)


def test_one_of_two_pumps_in_the_tank_lets_the_others_water_back(scene):
    """By hand: the head at its outlet over the water of 150 mm is 8 velocity heads of its bore."""
    model = header(scene)
    assert outages(model) is None
    alone = next(one for one in stopped_without_circuit(model) if one.stopped == ("weak",))
    ((pump, water, back),) = alone.back
    assert (alone.others, pump, water) == (("strong",), "weak", "tank")
    (system,) = running_with(model, {"weak": 0.0}).systems
    head = next(point.head.likely for point in system.grade if point.node == "weak.outlet")
    bore = model.built["weak"].ports[0].bore
    by_hand = math.pi / 4 * bore**2 * math.sqrt(2 * GRAVITY * (head - 0.150) / 8.0)
    assert back.likely == pytest.approx(by_hand, rel=1e-4)
    text = "\n".join(line.text for line in outage_lines(model, None))
    assert "weak stopped, strong running: no check valve stops" in text
    assert "nothing floods" not in text
    assert "the scene has no sump" in text
    assert len(outage_json(model, None)["without_circuit"]) == 3


def test_a_check_valve_holds_it_back(scene):
    valve = ", {up: 60}, check_valve, {up: 80}"
    alone = next(one for one in stopped_without_circuit(header(scene, valve)) if one.stopped == ("weak",))
    assert alone.back == ()


def test_with_all_stopped_the_pipes_run_empty(scene):
    """By hand: 17 mm of bore (20 less twice 1.5, DIN 8062) from 150 mm: 65 + 20 mm up, then 280."""
    both = stopped_without_circuit(header(scene))[-1]
    assert both.stopped == ("weak", "strong")
    upright, across = 0.085 + 0.280 - 0.150, 0.300
    # the second comes up at 400 mm to the height of the tee, 215 mm, and goes to 100
    by_hand = math.pi / 4 * 0.017**2 * (upright + across + 0.065)
    assert both.contents == pytest.approx(by_hand, rel=0.01)
    assert (both.siphon, both.leaves) == (0.0, 0.0)


def test_a_hose_over_the_rim_siphons_on_to_the_floor(scene):
    """Once full it empties the tank to the pump's inlet: 0.6 m² from 400 mm down to 0.45 of 95 mm."""
    model = scene(OVER_THE_RIM, waterline=400)
    (alone,) = stopped_without_circuit(model)
    assert alone.floor
    assert alone.siphon > 1e-5
    assert alone.leaves == pytest.approx(0.6 * (0.400 - 0.45 * 0.095), rel=0.01)
    text = "\n".join(line.text for line in outage_lines(model, None))
    assert "nothing catches it" in text
