import math
import time
from dataclasses import replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from plain_flow import even_bar, hole, parabola, torricelli, velocity_head
from scipy.optimize import brentq

from layout3d.band import SETTINGS
from layout3d.errors import LayoutError, NoOperatingPoint, OutOfRange
from layout3d.fittings.losses import NO_LOSS, Loss, fitting_loss, throttled_loss
from layout3d.flow.network import (
    DrilledPipe,
    Junction,
    Network,
    Outlet,
    Pipe,
    Pump,
    Reservoir,
)
from layout3d.flow.orifice import hold_head
from layout3d.flow.pipe import friction_head
from layout3d.flow.pump import Curve
from layout3d.flow.solve import solve
from layout3d.flow.water import water_at
from layout3d.units import GRAVITY

LPH = 1 / 3.6e6
CURVE = Curve(flows=(0, 1000 * LPH, 2000 * LPH, 3000 * LPH), heads=(2.5, 2.2, 1.4, 0.0))
WATER = water_at(20.0)


def one_pipe(level=1.0, mouth=0.0, length=1.0, bore=0.02, k=2.0, **outlet):
    return Network(
        nodes=(
            Reservoir(name="tank", level=level),
            Outlet(name="mouth", elevation=mouth, bore=bore, **outlet),
        ),
        links=(Pipe(name="pipe", start="tank", end="mouth", length=length, bore=bore, loss=Loss.exact(k)),),
    )


def test_a_siphon_hose_spends_its_fall():
    """By hand: the fall is friction plus (K + 1) velocity heads."""
    steady = solve(one_pipe(level=0.5, bore=0.012, length=1.5, k=0.5), water=WATER)
    flow, speed = steady.links["pipe"].flow, steady.links["pipe"].velocity
    assert velocity_head(flow, 0.012) == pytest.approx(speed**2 / (2 * 9.80665))
    friction = friction_head(flow, 1.5, inside_diameter=0.012, viscosity=WATER.viscosity)
    spent = friction + 1.5 * velocity_head(flow, 0.012)
    assert spent == pytest.approx(0.5, rel=1e-6)


def test_one_pump_and_one_pipe_is_the_operating_point():
    net = Network(
        nodes=(
            Reservoir(name="sump", level=0.0),
            Junction(name="out", elevation=0.0),
            Outlet(name="mouth", elevation=1.2, bore=0.02),
        ),
        links=(
            Pump(name="pump", start="sump", end="out", curve=CURVE),
            Pipe(name="pipe", start="out", end="mouth", length=3.0, bore=0.02, loss=Loss.exact(4.0)),
        ),
    )

    def needed(flow):
        friction = friction_head(flow, 3.0, inside_diameter=0.02, viscosity=WATER.viscosity)
        return 1.2 + friction + 5.0 * velocity_head(flow, 0.02)

    flow = brentq(lambda trial: CURVE.head_at(trial) - needed(trial), 0.0, CURVE.max_flow, xtol=1e-14)
    steady = solve(net, water=WATER)
    assert steady.links["pump"].flow == pytest.approx(flow, rel=1e-6)
    assert -steady.links["pump"].loss == pytest.approx(needed(flow), rel=1e-6)


@given(level=st.floats(0.0, 2.0), more=st.floats(0.0, 1.0))
def test_more_head_never_gives_less_flow(level, more):
    flows = [solve(one_pipe(level=height)).links["pipe"].flow for height in (level, level + more)]
    assert flows[1] >= flows[0] * (1 - 1e-9) >= 0.0


@given(length=st.floats(0.0, 20.0), more=st.floats(0.0, 10.0))
@example(length=1e-6, more=1e-6)
def test_a_longer_pipe_never_gives_more(length, more):
    flows = [solve(one_pipe(length=size)).links["pipe"].flow for size in (length, length + more)]
    # pipe up to 1 µm long is solved with a trace of slope in place of its friction, 1e-6 m of head at 1 L/s
    assert flows[1] <= flows[0] * (1 + 1e-6)


def test_a_mouth_above_the_grade_line_gives_nothing():
    steady = solve(one_pipe(level=1.0, mouth=1.2))
    assert steady.links["pipe"].flow == 0.0
    assert steady.links["pipe"].state == "still"
    assert steady.nodes["mouth"].head - 1.2 == pytest.approx(-0.2)


def test_a_mouth_under_water_runs_backward_unless_checked():
    back = solve(one_pipe(level=0.5, mouth=0.2))
    assert back.links["pipe"].flow > 0
    net = Network(
        nodes=(Reservoir(name="low", level=0.5), Outlet(name="mouth", elevation=0.2, bore=0.02, level=0.9)),
        links=(Pipe(name="pipe", start="low", end="mouth", length=1.0, bore=0.02),),
    )
    steady = solve(net)
    assert steady.links["pipe"].flow < 0
    assert steady.nodes["low"].outflow == pytest.approx(-steady.nodes["mouth"].outflow)
    assert solve(replace(net, links=(replace(net.links[0], one_way=True),))).links["pipe"].flow == 0.0


def valve(name, start, end, bore, opening=1.0):
    loss = throttled_loss("ball_valve", bore, opening) if opening else NO_LOSS
    return Pipe(name=name, start=start, end=end, length=0.0, bore=bore, loss=loss, shut=opening == 0.0)


def bar(heads_of_holes, level=0.5, diameter=0.003):
    names = [f"h{place}" for place in range(len(heads_of_holes))]
    return Network(
        nodes=(
            Reservoir(name="tank", level=level),
            *(hole(name, z, diameter) for name, z in zip(names, heads_of_holes, strict=True)),
        ),
        links=tuple(
            Pipe(name="p" + b, start=a, end=b, length=0.05, bore=0.015)
            for a, b in zip(["tank", *names], names, strict=False)
        ),
    )


def test_a_hole_above_the_grade_line_gives_nothing_and_the_rest_go_on():
    steady = solve(bar([0.0, 0.7, 0.0]), water=WATER)
    assert steady.nodes["h1"].outflow == 0.0
    assert steady.nodes["h0"].outflow == pytest.approx(torricelli(0.003, steady.nodes["h0"].head), rel=1e-6)
    assert steady.nodes["h2"].outflow > 0.0


def test_a_hole_holds_its_drop_under_a_small_head():
    hold = hold_head(0.003, water=WATER)
    for share, flows in ((0.9, False), (1.2, True)):
        one = even_bar(1, pitch=0.05, diameter=0.003, bore=0.015, height=0.5 - share * hold)
        pipe = DrilledPipe(name="bar", start="tank", bar=one)
        net = Network(nodes=(Reservoir(name="tank", level=0.5),), links=(pipe,))
        assert (solve(net, water=WATER).bars["bar"].flow > 0.0) is flows
        assert solve(net, water=WATER, holds=False).bars["bar"].flow > 0.0


def test_the_order_of_nodes_and_links_does_not_matter():
    net = bar([0.0, 0.1, 0.05, 0.0])
    turned = Network(nodes=net.nodes[::-1], links=net.links[::-1])
    a, b = solve(net), solve(turned)
    for node in net.nodes:
        assert a.nodes[node.name].outflow == pytest.approx(b.nodes[node.name].outflow, rel=1e-7)


def test_a_pipe_drawn_the_other_way_carries_the_same_backward():
    net = bar([0.0, 0.1])
    flipped = replace(net, links=(net.links[0], replace(net.links[1], start="h1", end="h0")))
    assert solve(flipped).links["ph1"].flow == pytest.approx(-solve(net).links["ph1"].flow, rel=1e-9)


@st.composite
def networks(draw):
    """Any tree of up to nine junctions under a tank, with extra links for loops, and all kinds of ends."""
    count = draw(st.integers(1, 9))
    heights = st.floats(-0.5, 1.5)
    bores = st.sampled_from([0.004, 0.012, 0.01544, 0.02057, 0.02624, 0.052])
    nodes = [Reservoir(name="n0", level=draw(st.floats(0.2, 1.2)))]
    for place in range(1, count + 1):
        kind, z, name = draw(st.integers(0, 4)), draw(heights), f"n{place}"
        if kind == 0:
            nodes.append(Junction(name=name, elevation=z))
        elif kind == 1:
            nodes.append(Outlet(name=name, elevation=z, bore=draw(bores)))
        elif kind == 2:
            nodes.append(Outlet(name=name, elevation=z, bore=draw(bores), level=z + draw(st.floats(0, 0.5))))
        elif kind == 3:
            nodes.append(hole(name, z, draw(st.floats(0.001, 0.005))))
        else:
            nodes.append(Reservoir(name=name, level=z))
    links = []
    extra = draw(st.integers(0, 4))
    for place in range(1, count + 1 + extra):
        if place <= count:
            a, b = draw(st.integers(0, place - 1)), place
        else:
            a, b = draw(st.integers(0, count)), draw(st.integers(0, count))
            if a == b:
                continue
        start, end = f"n{a}", f"n{b}"
        kind, name, bore = draw(st.integers(0, 5)), f"l{place}", draw(bores)
        if kind == 0:
            links.append(valve(name, start, end, bore, draw(st.sampled_from([0.0, 0.4, 1.0]))))
        elif kind == 1:
            swing = fitting_loss("swing_check", bore)
            links.append(
                Pipe(name=name, start=start, end=end, length=0.0, bore=bore, loss=swing, one_way=True)
            )
        elif kind == 2:
            links.append(
                Pump(
                    name=name, start=start, end=end, curve=CURVE, speed=draw(st.sampled_from([0.0, 0.5, 1.0]))
                )
            )
        else:
            length = draw(st.sampled_from([0.0, 0.01, 1.0, 30.0]))
            links.append(
                Pipe(
                    name=name,
                    start=start,
                    end=end,
                    length=length,
                    bore=bore,
                    loss=fitting_loss("elbow_90", 0.02),
                )
            )
    return Network(nodes=tuple(nodes), links=tuple(links))


def test_a_wide_open_valve_takes_the_whole_head_between_two_waters():
    """By hand: K V²/2g is the metre between them, whatever the flow; 40 L/s here."""
    net = Network(
        nodes=(Reservoir(name="high", level=1.0), Reservoir(name="low", level=0.0)),
        links=(valve("valve", "high", "low", 0.052),),
    )
    speed = solve(net, water=WATER).links["valve"].velocity
    loss = net.links[0].loss
    spent = (loss.at("likely") * speed**2 + loss.laminar * WATER.viscosity * speed / 0.052) / (2 * GRAVITY)
    assert spent == pytest.approx(1.0, abs=1e-7)


@settings(max_examples=30)
@given(net=networks(), setting=st.sampled_from(SETTINGS))
def test_any_network_balances_or_is_refused_in_words(net, setting):
    try:
        steady = solve(net, setting=setting)
    except NoOperatingPoint as failure:
        if "did not settle" in str(failure):
            raise
        return
    scale = max(abs(link.flow) for link in steady.links.values()) + 1e-6
    for node in net.nodes:
        flow_in = sum(steady.links[link.name].flow for link in net.links if link.end == node.name)
        flow_out = sum(steady.links[link.name].flow for link in net.links if link.start == node.name)
        assert flow_in - flow_out == pytest.approx(steady.nodes[node.name].outflow, abs=1e-9 * scale + 1e-12)
        into_air = isinstance(node, Outlet) and node.level is None
        assert not into_air or steady.nodes[node.name].outflow >= 0.0
        assert not isinstance(node, Junction) or steady.nodes[node.name].outflow == 0.0
    for link in net.links:
        found = steady.links[link.name]
        if isinstance(link, Pump) or link.one_way:
            assert found.flow >= 0.0
        elif found.loss is not None and not link.shut:
            v = abs(found.velocity)
            nu = water_at().viscosity
            k = link.loss.at(setting) * v * v + link.loss.laminar * nu * v / link.bore
            lost = friction_head(
                abs(found.flow), link.length, inside_diameter=link.bore, viscosity=nu
            ) + k / (2 * 9.80665)
            assert math.copysign(lost, found.flow) == pytest.approx(found.loss, abs=1e-6)


def test_higher_losses_carry_less():
    net = Network(
        nodes=(Reservoir(name="tank", level=1.0), Outlet(name="mouth", elevation=0.0, bore=0.02)),
        links=(
            Pipe(
                name="pipe",
                start="tank",
                end="mouth",
                length=1.0,
                bore=0.02,
                loss=fitting_loss("elbow_90", 0.02).times(4),
            ),
        ),
    )
    band = {setting: solve(net, setting=setting) for setting in SETTINGS}
    assert (
        band["low"].links["pipe"].flow > band["likely"].links["pipe"].flow > band["high"].links["pipe"].flow
    )


def lifted(mouth, speed=1.0, **kw):
    return Network(
        nodes=(
            Reservoir(name="sump", level=0.0),
            Junction(name="out", elevation=0.0),
            Outlet(name="mouth", elevation=mouth, bore=0.02),
        ),
        links=(
            Pump(name="pump", start="sump", end="out", curve=CURVE, speed=speed),
            valve("valve", "out", "mouth", 0.02, **kw),
        ),
    )


def test_too_high_a_lift_is_refused_with_the_miss():
    with pytest.raises(
        NoOperatingPoint,
        match=r"pump pump lifts at most 1\.6 m at 80% speed.*2 m above its water: 0\.4 m short",
    ):
        solve(lifted(2.0, speed=0.8))


def test_a_shut_way_out_is_refused():
    with pytest.raises(NoOperatingPoint, match="its way out is shut"):
        solve(lifted(1.0, opening=0.0))


def test_running_off_the_curve_is_refused():
    with pytest.raises(NoOperatingPoint, match=r"pump pump would carry more than the last point.*3,000 L/h"):
        solve(lifted(-2.0))


def test_a_stopped_pump_passes_nothing():
    steady = solve(lifted(1.0, speed=0.0))
    assert steady.links["pump"].state == "stopped"
    assert steady.links["pump"].flow == 0.0


def test_a_weak_pump_beside_a_strong_one_is_dead_headed():
    weak = Curve(flows=(0, 1e-3), heads=(0.5, 0))
    net = lifted(1.0)
    steady = solve(replace(net, links=(*net.links, Pump(name="weak", start="sump", end="out", curve=weak))))
    assert steady.links["weak"].state == "dead-headed"
    assert steady.links["pump"].flow > 0.0


def test_water_runs_back_through_a_weak_pump_that_another_one_overcomes():
    """By hand: the strong pump's head at the tee drives water up the pipe, and what is above the weak one's
    shut-off head drives it back through 8 velocity heads of its bore (a stopped pump's likely loss).
    """
    weak, bore = parabola(0.5, 1e-3), 0.013
    net = lifted(1.0)
    passage = Pump(name="weak", start="sump", end="out", curve=weak, bore=bore)
    steady = solve(replace(net, links=(*net.links, passage)))
    head, area = steady.nodes["out"].head, math.pi / 4 * bore**2
    assert steady.links["weak"].state == "pushed back"
    assert -steady.links["weak"].flow == pytest.approx(
        area * math.sqrt(2 * GRAVITY * (head - 0.5) / 8.0), rel=1e-5
    )
    strong = steady.links["pump"].flow
    assert head == pytest.approx(CURVE.head_at(strong), rel=1e-6)
    assert strong > solve(net).links["pump"].flow
    assert strong + steady.links["weak"].flow == pytest.approx(steady.nodes["mouth"].outflow, rel=1e-9)


def test_a_part_cut_off_from_open_water_has_no_head():
    net = Network(
        nodes=(
            Reservoir(name="tank", level=1.0),
            Junction(name="a", elevation=0.0),
            Junction(name="b", elevation=0.0),
        ),
        links=(
            valve("shut", "tank", "a", 0.02, 0.0),
            Pipe(name="pipe", start="a", end="b", length=1.0, bore=0.02),
        ),
    )
    steady = solve(net)
    assert steady.nodes["b"].head is None
    assert steady.links["shut"].state == "shut"
    assert steady.links["pipe"].loss is None


def test_a_network_of_a_thousand_ends_is_quick():
    began = time.process_time()
    steady = solve(bar([0.0] * 1000, diameter=0.002), water=WATER)
    assert time.process_time() - began < 3.0
    assert sum(node.outflow for node in steady.nodes.values()) == pytest.approx(0.0, abs=1e-10)


def test_an_unknown_setting():
    with pytest.raises(OutOfRange, match="no setting"):
        solve(one_pipe(), setting="worst")
    assert issubclass(NoOperatingPoint, LayoutError)
