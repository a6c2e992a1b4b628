"""The network solver against EPANET (by way of wntr), an independent and long-proven solver.

EPANET takes viscosity as a multiple of 1.022e-6 m²/s (1.1e-5 ft²/s, EPANET 2.2 manual); 0.9818 is water at
20 °C. Its Darcy-Weisbach factor is Swamee-Jain (within 1 % of Colebrook), with a cubic from Re 2000 to 4000.
It knows no exit loss, so its last pipes carry K 1.0 more.
"""

import math

import numpy as np
import pytest
from plain_flow import hole as drilled
from plain_flow import parabola

from layout3d.fittings.losses import Loss
from layout3d.flow.network import Junction, Network, Outlet, Pipe, Pump, Reservoir
from layout3d.flow.solve import solve
from layout3d.flow.water import water_at

LPH = 1 / 3.6e6
ROUGHNESS = 1.5e-6
MULTIPLIER = 0.9818


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


def test_a_return_with_two_branches(tmp_path):
    """Pump 2.5 (1 - (Q/3000 L/h)²) m in a sump; 1 in riser; mouths of 3/4 and 1/2 in."""
    model, run = epanet(tmp_path)
    # three points of one parabola: EPANET fits H = A - B Q^C through them
    full = 3000 * LPH
    model.add_curve("pump", "HEAD", [(0.0, 2.5), (0.5 * full, 1.875), (full, 0.0)])
    model.add_reservoir("sump", base_head=0.3)
    for name in ("out", "tee"):
        model.add_junction(name, elevation=0.3)
    model.add_reservoir("left", base_head=1.50)
    model.add_reservoir("right", base_head=1.20)
    model.add_pump("p", "sump", "out", pump_type="HEAD", pump_parameter="pump")
    for name, start, end, length, bore, k in (
        ("riser", "out", "tee", 1.4, 0.02624, 2.2),
        ("a", "tee", "left", 1.0, 0.02057, 4.0 + 1.0),
        ("b", "tee", "right", 1.6, 0.01544, 6.0 + 1.0),
    ):
        model.add_pipe(name, start, end, length=length, diameter=bore, roughness=ROUGHNESS, minor_loss=k)
    theirs = run().link["flowrate"].iloc[0]

    ours = solve(
        Network(
            nodes=(
                Reservoir(name="sump", level=0.3),
                Junction(name="out", elevation=0.3),
                Junction(name="tee", elevation=0.3),
                Outlet(name="left", elevation=1.50, bore=0.02057),
                Outlet(name="right", elevation=1.20, bore=0.01544),
            ),
            links=(
                Pump(name="p", start="sump", end="out", curve=parabola(2.5, full)),
                Pipe(name="riser", start="out", end="tee", length=1.4, bore=0.02624, loss=Loss.exact(2.2)),
                Pipe(name="a", start="tee", end="left", length=1.0, bore=0.02057, loss=Loss.exact(4.0)),
                Pipe(name="b", start="tee", end="right", length=1.6, bore=0.01544, loss=Loss.exact(6.0)),
            ),
        ),
        water=water_at(20.0),
    )
    for name in ("p", "riser", "a", "b"):
        assert ours.links[name].flow == pytest.approx(theirs[name], rel=0.005)  # asked: 1 %
    assert ours.links["a"].flow > 500 * LPH  # the case is not an idle one


def test_a_loop_with_two_pumps(tmp_path):
    """Two unlike pumps feed one ring of 3/4 in pipe that has three ways out, one of them under water."""
    model, run = epanet(tmp_path)
    curves = {"one": (2.0, 2500 * LPH), "two": (2.4, 2000 * LPH)}
    model.add_reservoir("sump", base_head=0.0)
    for name in ("n1", "n2", "n3", "n4"):
        model.add_junction(name, elevation=0.0)
    heads = {"air": 1.1, "high": 1.4, "under": 1.0}
    for name, head in heads.items():
        model.add_reservoir(name, base_head=head)
    for name, (top, full) in curves.items():
        model.add_curve(name, "HEAD", [(0.0, top), (0.5 * full, 0.75 * top), (full, 0.0)])
    model.add_pump("one", "sump", "n1", pump_type="HEAD", pump_parameter="one")
    model.add_pump("two", "sump", "n3", pump_type="HEAD", pump_parameter="two")
    ring = [("n1", "n2", 0.8), ("n2", "n3", 0.5), ("n3", "n4", 0.9), ("n4", "n1", 0.4)]
    spurs = [("n2", "air", 0.3), ("n3", "high", 0.7), ("n4", "under", 0.6)]
    for start, end, length in ring:
        model.add_pipe(
            start + end, start, end, length=length, diameter=0.02057, roughness=ROUGHNESS, minor_loss=1.8
        )
    for start, end, length in spurs:
        model.add_pipe(
            start + end, start, end, length=length, diameter=0.01544, roughness=ROUGHNESS, minor_loss=3.0
        )
    theirs = run().link["flowrate"].iloc[0]

    loss = Loss.exact(1.8)
    ours = solve(
        Network(
            nodes=(
                Reservoir(name="sump", level=0.0),
                *(Junction(name=name, elevation=0.0) for name in ("n1", "n2", "n3", "n4")),
                Outlet(name="air", elevation=1.1, bore=0.01544),
                Outlet(name="high", elevation=1.4, bore=0.01544),
                Outlet(name="under", elevation=0.9, bore=0.01544, level=1.0),
            ),
            links=(
                *(
                    Pump(name=name, start="sump", end=end, curve=parabola(*curves[name]))
                    for name, end in (("one", "n1"), ("two", "n3"))
                ),
                *(Pipe(name=a + b, start=a, end=b, length=c, bore=0.02057, loss=loss) for a, b, c in ring),
                *(
                    Pipe(name=a + b, start=a, end=b, length=c, bore=0.01544, loss=Loss.exact(2.0))
                    for a, b, c in spurs
                ),
            ),
        ),
        water=water_at(20.0),
    )
    for link in ours.links.values():
        assert link.flow == pytest.approx(theirs[link.name], rel=0.01, abs=2 * LPH)


def test_a_drip_bar_of_thirty_holes_without_recovery(tmp_path):
    """30 holes of 3 mm, 40 mm apart, on 1/2 in pipe fed from a still tank 0.30 m above; emitters C h^0.5."""
    count, pitch, bore, hole, cd, head = 30, 0.04, 0.01544, 0.003, 0.62, 0.30
    model, run = epanet(tmp_path)
    model.options.hydraulic.emitter_exponent = 0.5
    model.add_reservoir("tank", base_head=head)
    names = [f"h{place}" for place in range(count)]
    for before, name in zip(["tank", *names], names, strict=False):
        model.add_junction(name, elevation=0.0)
        area = math.pi / 4 * hole**2
        model.get_node(name).emitter_coefficient = cd * area * math.sqrt(2 * 9.80665)
        model.add_pipe("p" + name, before, name, length=pitch, diameter=bore, roughness=ROUGHNESS)
    run_flows = run().link["flowrate"].iloc[0]
    along = np.array([run_flows["p" + name] for name in names])
    theirs = along - np.append(along[1:], 0.0)

    ours = solve(
        Network(
            nodes=(
                Reservoir(name="tank", level=head),
                *(drilled(name, 0.0, hole, cd) for name in names),
            ),
            links=tuple(
                Pipe(name="p" + name, start=before, end=name, length=pitch, bore=bore)
                for before, name in zip(["tank", *names], names, strict=False)
            ),
        ),
        water=water_at(20.0),
    )
    flows = np.array([ours.nodes[name].outflow for name in names])
    np.testing.assert_allclose(flows, theirs, rtol=0.01)  # per hole
    assert flows[0] > 1.05 * flows[-1]  # without recovery the first hole gives most
