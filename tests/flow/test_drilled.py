"""Drilled pipe in a network: rings, which holes begin, pumps stopped, mouths, bands; by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_flow import even_bar
from scipy.optimize import brentq

from layout3d.band import SETTINGS, Band
from layout3d.fittings.losses import Loss
from layout3d.flow.network import DrilledPipe, Junction, Network, Outlet, Pipe, Pump, Reservoir
from layout3d.flow.orifice import hold_head
from layout3d.flow.pipe import friction_head
from layout3d.flow.pump import Curve
from layout3d.flow.running import running, running_with
from layout3d.flow.solve import solve
from layout3d.flow.water import water_at

LPH = 1 / 3.6e6
G = 9.80665
WATER = water_at(20.0)
CD = Band.exact(0.62)
CURVE = Curve(flows=(0, 1000 * LPH, 2000 * LPH, 3000 * LPH), heads=(2.5, 2.2, 1.4, 0.0))
FEW = settings(max_examples=8)


def test_half_of_a_ring_is_a_bar_by_itself():
    """A ring fed at one place is two equal dead ends back to back: by symmetry no water passes its far point.

    Each half is marched by hand, from the far hole to the tee: static head rises by the velocity head lost at
    each hole (momentum, Perry's Handbook, sec. 6) and friction is Darcy's.
    """
    pitch, bore, size, head = 0.05, 0.017, 0.003, 0.5
    ring = even_bar(
        30, pitch=pitch, first=pitch / 2, tail=pitch / 2, diameter=size, bore=bore, coefficient=CD
    )
    net = Network(
        nodes=(Reservoir(name="tank", level=head), Junction(name="far", elevation=0.0)),
        links=(
            DrilledPipe(name="ring", start="tank", end="far", bar=ring),
            Pipe(name="closing", start="far", end="tank", length=1e-9, bore=bore),
        ),
    )
    found = solve(net, water=WATER, holds=False).bars["ring"]
    area, hole = math.pi / 4 * bore**2, 0.62 * math.pi / 4 * size**2

    def march(level):
        """Return the flows from the far hole on, and the total head at the tee."""
        flows, passing = [], 0.0
        for number in range(15):
            static = level - (passing / area) ** 2 / (2 * G)
            flows.append(hole * math.sqrt(2 * G * max(static, 0.0)))
            passing += flows[-1]
            step = pitch if number < 14 else pitch / 2
            level += friction_head(passing, step, inside_diameter=bore, viscosity=WATER.viscosity)
        return flows, level

    level = brentq(lambda trial: march(trial)[1] - head, 1e-3, head, xtol=1e-12)
    half = march(level)[0][::-1]
    np.testing.assert_allclose(found.flows[:15], half, rtol=1e-4)
    np.testing.assert_allclose(found.flows[15:], half[::-1], rtol=1e-4)


def brink(count, speed=1.0, level=0.0, opening=1.0, size=0.004):
    """A bar 1.2 m up whose holes take more than the pump brings, beside a branch into air."""
    bar = even_bar(count, pitch=0.03, diameter=size, bore=0.02, height=1.2, coefficient=CD)
    return Network(
        nodes=(
            Reservoir(name="sump", level=level),
            Junction(name="out", elevation=0.0),
            Junction(name="split", elevation=0.5),
            Outlet(name="mouth", elevation=0.9, bore=0.012),
        ),
        links=(
            Pump(name="pump", start="sump", end="out", curve=CURVE, speed=speed),
            Pipe(name="riser", start="out", end="split", length=1.0, bore=0.02, loss=Loss.exact(4.0)),
            Pipe(
                name="branch",
                start="split",
                end="mouth",
                length=0.5,
                bore=0.012,
                loss=Loss.exact(4.0 / opening),
            ),
            DrilledPipe(name="bar", start="split", bar=bar),
        ),
    )


def shut(net):
    """How many holes of the bar give nothing."""
    return int((solve(net, water=WATER).bars["bar"].flows == 0.0).sum())


SPEEDS = st.floats(0.72, 1.0)


@FEW
@given(one=SPEEDS, other=SPEEDS, count=st.integers(5, 60))
def test_a_faster_pump_never_leaves_more_holes_shut(one, other, count):
    slow, fast = sorted((one, other))
    assert shut(brink(count, speed=fast)) <= shut(brink(count, speed=slow))


@FEW
@given(one=st.floats(-0.3, 0.3), other=st.floats(-0.3, 0.3), speed=SPEEDS)
def test_a_higher_level_never_leaves_more_holes_shut(one, other, speed):
    low, high = sorted((one, other))
    assert shut(brink(40, speed=speed, level=high)) <= shut(brink(40, speed=speed, level=low))


@FEW
@given(one=st.integers(1, 60), other=st.integers(1, 60), speed=SPEEDS)
def test_fewer_holes_never_leave_more_of_them_shut(one, other, speed):
    few, many = sorted((one, other))
    assert shut(brink(few, speed=speed)) <= shut(brink(many, speed=speed))


@FEW
@given(one=st.floats(0.05, 1.0), other=st.floats(0.05, 1.0), speed=SPEEDS)
def test_throttling_the_other_branch_never_leaves_more_holes_shut(one, other, speed):
    throttled, wide = sorted((one, other))
    assert shut(brink(40, speed=speed, opening=throttled)) <= shut(brink(40, speed=speed, opening=wide))


def test_on_the_brink_one_hole_more_begins_at_a_time():
    """As the speed rises by small steps the count of shut holes falls from all without a step back."""
    counts = [shut(brink(40, speed=speed)) for speed in np.linspace(0.70, 1.0, 31)]
    assert counts == sorted(counts, reverse=True)
    assert counts[0] == 40
    assert len(set(counts)) > 5


def test_no_hole_begins_under_less_head_than_breaks_its_drop():
    speed = next(share for share in np.linspace(0.70, 1.0, 31) if 0 < shut(brink(40, speed=share)) < 40)
    found = solve(brink(40, speed=speed), water=WATER).bars["bar"]
    hold = hold_head(0.004, water=WATER)
    held = found.hole_heads[found.flows == 0.0]
    assert len(held)
    assert held.max() <= hold
    assert found.margin < 0.0


TWIN = """
one: {kind: pump, model: medium 2000, speed: 70 %, outlet: d20 pn 16, at: {left: 100, back: 120, bottom: 0}}
two: {kind: pump, model: medium 2000, speed: 70 %, outlet: d20 pn 16, at: {left: 400, back: 120, bottom: 0}}
line:
  kind: run
  pipe: d20 pn 16
  start: one.outlet
  route: [{up: 130}, CHECK{tee: right, name: t}, {up: 150}, open]
join:
  kind: run
  pipe: d20 pn 16
  start: two.outlet
  route: [{until: up, reach: {from: line.t}}, CHECK{until: left, reach: {from: line.t}}, {join: line.t}]
"""


def of(flow, pump):
    return next(one for one in flow.pumps if one.pump == pump)


def test_a_pump_stopped_beside_another_lets_its_water_back(scene):
    """Without check valves water runs back through the stopped one; alone a pump gives more than half."""
    model = scene(TWIN.replace("CHECK", ""), waterline=150)
    both, alone = running(model), running_with(model, {"two": 0.0})
    stopped = of(alone, "two")
    assert stopped.state == "stopped"
    assert stopped.flow.likely < -50 * LPH
    assert of(alone, "one").flow.likely > 1.1 * of(both, "one").flow.likely
    (out,) = alone.outs
    assert out.flow.likely == pytest.approx(of(alone, "one").flow.likely + stopped.flow.likely, rel=1e-9)
    assert out.flow.likely < of(both, "one").flow.likely + of(both, "two").flow.likely


def test_an_open_branch_of_a_tee_is_a_way_out(scene):
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 150, back: 120, bottom: 0}}
line:
  kind: run
  pipe: d20 pn 16
  start: pump.outlet
  route: [{up: 150}, {tee: right, name: t}, {up: 100}, open]
"""
    flow = running(scene(parts, waterline=150))
    outs = {out.where: out.flow.likely for out in flow.outs}
    assert set(outs) == {"branch line.t", "end of line"}
    assert outs["branch line.t"] > 100 * LPH
    assert sum(outs.values()) == pytest.approx(flow.pumps[0].flow.likely, rel=1e-9)


def test_a_nozzle_is_told_by_the_speed_in_its_mouth(bar_scene):
    """Continuity by hand: a nozzle on d25 PN 10 pipe is narrower than that, and its water faster."""
    flow = running(bar_scene())
    out = next(out for out in flow.outs if out.kind == "mouth")
    before = next(one for one in flow.stretches if one.link.part == "supply" and one.link.kind == "pipe")
    mouth = next(one for one in flow.stretches if one.link.kind == "mouth")
    assert mouth.link.bore < before.link.bore
    assert out.velocity.likely == pytest.approx(out.flow.likely / (math.pi / 4 * mouth.link.bore**2))


def test_the_pumps_curve_is_in_the_band(scene):
    """With no fittings to speak of the band of a lone pump is that of its curve: 5 % of the flow and more."""
    parts = "pump: {kind: pump, model: MODEL, at: {left: 150, back: 120, bottom: 0}}"
    own = "catalog:\n  pumps:\n    own: {like: small 1000, tolerance: 0}\n"
    (generic,) = running(scene(parts.replace("MODEL", "small 1000"))).pumps
    (measured,) = running(scene(parts.replace("MODEL", "own"), more=own)).pumps
    assert generic.flow.likely == measured.flow.likely
    assert generic.flow.low == pytest.approx(0.9**0.5 * generic.flow.likely, rel=0.02)
    assert generic.flow.high == pytest.approx(1.1**0.5 * generic.flow.likely, rel=0.02)
    assert measured.flow.high == pytest.approx(measured.flow.low, rel=0.005)


def test_each_setting_gives_its_water_whole(bar_scene):
    """Low, likely and high each balance: what the pump gives is what holes and nozzle get."""
    (system,) = running(bar_scene()).systems
    for setting in SETTINGS:
        assert system.water_out.at(setting) == pytest.approx(system.pumps[0].flow.at(setting), rel=1e-9)


def test_a_thousand_holes_beside_a_branch_settle():
    net = brink(1000, size=0.0015)
    wide = even_bar(1000, pitch=0.01, diameter=0.0015, bore=0.04, height=1.2, coefficient=CD)
    net = replace(net, links=(*net.links[:-1], DrilledPipe(name="bar", start="split", bar=wide)))
    steady = solve(net, water=WATER)
    assert steady.links["pump"].flow == pytest.approx(
        steady.nodes["mouth"].outflow + steady.bars["bar"].flow, rel=1e-9
    )
