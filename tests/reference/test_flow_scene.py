"""A scene's flow against EPANET (by way of wntr): the same network typed by hand from the same scene.

EPANET takes viscosity as a multiple of 1.022e-6 m²/s (1.1e-5 ft²/s, EPANET 2.2 manual); its Darcy-Weisbach
factor is Swamee-Jain. It knows no exit loss and no K that rises at low Reynolds number: its links carry both
here. Pipe of d20 PN 16 has a bore of 17.0 mm (DIN 8062: wall 1.5 mm).
"""

import math
from pathlib import Path

import numpy as np
import pytest

from layout3d.flow.plumbing import plumbing
from layout3d.flow.running import running
from layout3d.flow.water import water_of
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

LPH = 1 / 3.6e6
G = 9.80665
# 25 °C: 0.8927e-6 m²/s (IAPWS-95 and IAPWS 2008) over EPANET's 1.022e-6
VISCOSITY, MULTIPLIER = 0.8927e-6, 0.8735
# H = 2.4 (1 - (Q/2500 L/h)²) m, ten points of it
CURVE = [(250.0 * step, 2.4 * (1 - (step / 10) ** 2)) for step in range(11)]

TWO_BRANCHES = """
format: 1
units: mm
waterline: 300
conditions: {water_temperature: 25 °C}
catalog:
  pumps:
    own: {like: medium 2000, points: [POINTS]}
parts:
  tank: {kind: tank, inside: [1200, 500, 600], glass: 12}
  pump: {kind: pump, model: own, outlet: d20 pn 16, at: {left: 150, back: 150, bottom: 0}}
  supply:
    kind: run
    pipe: d20 pn 16
    start: pump.outlet
    route:
      - up: 400
      - right: 250
      - {tee: front, name: split}
      - right: 400
      - down: 100
      - open
  other:
    kind: run
    pipe: d20 pn 16
    start: supply.split
    route: [{front: 120}, {down: 100}, open]
"""


def epanet(tmp_path):
    import wntr  # takes a second, and every process that collects the tests would wait for it

    model = wntr.network.WaterNetworkModel()
    with pytest.warns(UserWarning, match="headloss formula"):  # roughness is in metres here, as it should be
        model.options.hydraulic.headloss = "D-W"
    model.options.hydraulic.viscosity = MULTIPLIER
    model.options.hydraulic.accuracy = 1e-8
    model.options.hydraulic.trials = 500
    model.options.time.duration = 0

    def run():
        return wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(tmp_path / "case"))

    return model, run


def built(text):
    return build_model(read_scene(Path("made.yaml"), text=text))


def k_at(turbulent, laminar, flow, bore):
    """K∞ + K1/Re of the two-K form, at a flow in L/h."""
    speed = flow * LPH / (0.25 * math.pi * bore**2)
    return turbulent + laminar * VISCOSITY / (speed * bore)


def test_a_return_with_two_branches_is_epanets(tmp_path):
    """Lengths: centre to centre less 11 mm at each fitting, plus 16 mm of socket at a port (ISO 727-1 rules).

    Mouths: the pump is 95 mm high, its socket stands 20 mm over it; 400 up and 100 down: 415 mm. K∞ at a
    bore of 17.0 mm, between those of 1/2 and 3/4 in (15.44 and 20.57 mm): elbow 1.270, tee run 0.697, branch
    1.909; K1 800, 200, 500. Flows in K1/Re to two figures.
    """
    points = ", ".join(f"[{flow:g} L/h, {head:.6f} m]" for flow, head in CURVE)
    ours = running(built(TWO_BRANCHES.replace("POINTS", points)))

    model, run = epanet(tmp_path)
    model.add_curve("own", "HEAD", [(0.0, 2.4), (1250 * LPH, 1.8), (2500 * LPH, 0.0)])
    model.add_reservoir("tank", base_head=0.3)
    for name in ("out", "tee"):
        model.add_junction(name, elevation=0.1)
    model.add_pump("p", "tank", "out", pump_type="HEAD", pump_parameter="own")
    for name in ("right", "front"):
        model.add_reservoir(name, base_head=0.415)
    bore = 0.0170
    for name, start, end, length, k in (
        ("riser", "out", "tee", 0.405 + 0.228, k_at(1.270, 800, 1900, bore)),
        ("a", "tee", "right", 0.378 + 0.089, k_at(0.697 + 1.270, 200 + 800, 1000, bore) + 1.0),
        ("b", "tee", "front", 0.125 + 0.089, k_at(1.909 + 1.270, 500 + 800, 910, bore) + 1.0),
    ):
        model.add_pipe(name, start, end, length=length, diameter=bore, roughness=1.5e-6, minor_loss=k)
    theirs = run().link["flowrate"].iloc[0]

    flows = {out.part: out.flow.likely for out in ours.outs}
    assert ours.pumps[0].flow.likely == pytest.approx(theirs["p"], rel=0.01)
    assert flows["supply"] == pytest.approx(theirs["a"], rel=0.01)
    assert flows["other"] == pytest.approx(theirs["b"], rel=0.01)
    assert 0.6 < theirs["p"] / (2500 * LPH) < 0.8  # the pipework tells, not the pump alone


BAR = """
format: 1
units: mm
waterline: 150
conditions: {water_temperature: 25 °C}
parts:
  tank: {kind: tank, inside: [1800, 500, 600], glass: 12}
  pump: {kind: pump, model: medium 2000, outlet: d20 pn 16, at: {left: 150, back: 150, bottom: 0}}
  bar:
    kind: run
    pipe: d20 pn 16
    start: pump.outlet
    route:
      - up: 250
      - right: 1300
        drip: {diameter: 3, pitch: 40, margin: 30, count: 30}
      - cap
"""


def test_a_scenes_bar_of_thirty_holes_without_recovery_is_epanets(solve_bar, tmp_path):
    """Holes of 3 mm straight down, 40 mm apart, the first 30 mm from the elbow's face: 16 + 30 mm along.

    The pipe's middle lies at 95 + 20 + 250 = 365 mm, the holes on its underside at 355 mm. The coefficient of
    a hole is that of its wall, 1.5 of 3 mm: sharp plate, 0.61.
    """
    model = built(BAR)
    (pipe,) = plumbing(model).drilled
    bar = pipe.bar
    ours = solve_bar(bar, 0.655, kind="static", recovery=0.0, holds=False, water=water_of(model))

    network, run = epanet(tmp_path)
    network.options.hydraulic.emitter_exponent = 0.5
    network.add_reservoir("tank", base_head=0.655)
    before, length = "tank", 0.046
    for number in range(30):
        name = f"h{number}"
        network.add_junction(name, elevation=0.355)
        network.get_node(name).emitter_coefficient = 0.61 * math.pi / 4 * 0.003**2 * math.sqrt(2 * G)
        network.add_pipe("p" + name, before, name, length=length, diameter=0.017, roughness=1.5e-6)
        before, length = name, 0.040
    flows = run().link["flowrate"].iloc[0]
    along = np.array([flows[f"ph{number}"] for number in range(30)])
    np.testing.assert_allclose(ours.flows, along - np.append(along[1:], 0.0), rtol=0.01)
    assert ours.flows[0] > 1.02 * ours.flows[-1]  # friction alone: the first hole gives most


def test_with_recovery_the_far_holes_of_that_bar_give_more_than_without(solve_bar, tmp_path):
    """Momentum (Perry's Handbook, sec. 6): behind each hole the pressure rises, which EPANET leaves out."""
    model = built(BAR)
    (bar,) = running(model).bars
    inlet = bar.total_head.likely
    plain = solve_bar(bar.bar, inlet, kind="total", recovery=0.0, holds=False, water=water_of(model))
    far = bar.holes[-1].flow.likely / bar.holes[0].flow.likely
    assert far > plain.flows[-1] / plain.flows[0]


def test_a_hole_of_a_scene_is_torricellis(tmp_path):
    """One hole in a still bar: Q = C A sqrt(2 g h), White, Fluid Mechanics, 4th ed., sec. 3.7, with the head
    that the pump holds against it.
    """
    (bar,) = running(built(BAR.replace("count: 30", "count: 1"))).bars
    (hole,) = bar.holes
    wanted = 0.61 * math.pi / 4 * 0.003**2 * math.sqrt(2 * G * hole.head)
    assert hole.flow.likely == pytest.approx(wanted, rel=1e-3)
