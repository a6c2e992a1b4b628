"""What runs in a whole scene: balances, bands, failures in words, and what must hold whatever is built."""

import math

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from layout3d.band import SETTINGS
from layout3d.errors import SceneRefused
from layout3d.flow.plumbing import Plumbing
from layout3d.flow.result import RunningFlow
from layout3d.flow.running import running

LPH = 1 / 3.6e6
FEW = settings(max_examples=5, suppress_health_check=[HealthCheck.function_scoped_fixture])
SINGLE = """
pump:
  {{kind: pump, model: {pump}, speed: {speed}, outlet: d20 pn 16, at: {{left: 150, back: 120, bottom: 0}}}}
line: {{kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{route}]}}
"""
OPEN = "{up: 250}, {right: 200}, open"


def single(scene, *, pump="small 1000", speed="80 %", route=OPEN, **more) -> RunningFlow:
    return running(scene(SINGLE.format(pump=pump, speed=speed, route=route), **more))


@pytest.fixture(scope="module")
def flow(bar_scene):
    return running(bar_scene())


def test_as_much_water_goes_in_as_comes_out(flow):
    (system,) = flow.systems
    for setting in SETTINGS:
        into = system.water_in.at(setting)
        assert into == pytest.approx(system.water_out.at(setting), rel=1e-9)
        assert into > 100 * LPH
    assert system.water_in.low < system.water_in.likely < system.water_in.high


def test_each_node_passes_on_what_it_gets(flow):
    (system,) = flow.systems
    sums: dict[str, float] = {}
    for stretch in system.stretches:
        sums[stretch.link.start] = sums.get(stretch.link.start, 0.0) - stretch.flow.likely
        end = stretch.link.end
        sums[end] = sums.get(end, 0.0) + stretch.flow.likely
    outs = {out.name: out.flow.likely for out in system.outs}
    outs |= {None: sum(bar.flow.likely for bar in system.bars)}  # a capped pipe goes on to its holes
    (pump,) = system.pumps
    for node, into in sums.items():
        source = pump.flow.likely if node == "pump.outlet" else 0.0
        assert into + source == pytest.approx(outs.get(node, 0.0), abs=1e-9 * pump.flow.likely), node


def test_a_bar_that_ends_open_is_no_bar_that_ends_in_a_cap(scene):
    """Its end gives what it does behind a coupling and a hand of pipe more, which is most of the flow."""
    route = "{{up: 250}}, {{right: 500, drip: {{diameter: 3, pitch: 40}}}}, {}open"
    bare, longer = (
        {out.name: out.flow.likely for out in single(scene, route=route.format(more)).outs}
        for more in ("", "coupling, {right: 40}, ")
    )
    assert bare == pytest.approx(longer, rel=0.05)
    assert bare["line.end.out"] > 0.5 * sum(bare.values())


def test_a_bar_that_is_told_from_its_open_end_to_the_pump_gives_the_same(scene):
    """Losses of a drilled pipe are the same from either end; the holes stand in the other order."""
    there = "{up: 250}, {right: 500, drip: {diameter: 3, pitch: 40}}, open"
    back = SINGLE.format(
        pump="small 1000",
        speed="80 %",
        route="{left: 500, drip: {diameter: 3, pitch: 40}}, {down: 250}, {join: pump.outlet}",
    ).replace("start: pump.outlet", "start: {from: pump.outlet, offset: [500, 0, 250]}")
    first, second = (
        sorted(out.flow.likely for out in found.outs)
        for found in (single(scene, route=there), running(scene(back)))
    )
    assert first == pytest.approx(second, rel=0.05)


@pytest.mark.parametrize("name", ["a", "b", "m", "x", "vent", "break_1", "zz"])
def test_what_gets_over_a_top_gets_to_all_behind_it_whatever_their_names(scene, name):
    """A tee 60 mm below the top, and two ends behind it. Whichever began first drew the other's top dry: sets
    have their order from the run of Python.
    """
    pipes = SINGLE.format(
        pump="medium 2000",
        speed="70 %",
        route="{up: 250}, {right: 100}, {down: 60}, {tee: right, name: side}, {down: 120}, open",
    )
    vent = f"{name}: {{kind: run, pipe: d20 pn 16, start: line.side, route: [{{right: 100}}, open]}}"
    model = scene(pipes + vent)
    (system,) = running(model).systems
    assert min(out.flow.likely for out in system.outs) > 100 * LPH


def test_the_bars_holes_give_what_the_network_sends_it(flow):
    (bar,) = flow.bars
    out = next(out for out in flow.outs if out.kind == "bar")
    assert math.fsum(hole.flow.likely for hole in bar.holes) == pytest.approx(out.flow.likely, rel=1e-6)
    assert bar.flow_per_metre.likely * bar.bar.served_length == pytest.approx(out.flow.likely, rel=1e-6)


@pytest.mark.parametrize(
    "odd",
    [
        {"speed": "40 %", "hole": 1.2, "riser": 450, "level": 450, "pump": "small 600", "turn": "up: 80"},
        {"speed": "100 %", "hole": 5, "level": 350, "riser": 450, "pump": "small 300", "angles": "[180 deg]"},
        {
            "speed": "70 %",
            "hole": 7,
            "opening": "100 %",
            "level": 350,
            "pump": "small 300",
            "turn": "down: 250",
        },
    ],
)
def test_holes_on_the_brink_still_give_what_they_get(bar_scene, odd):
    """Heads about as small as those that hold a drop: figured to a tenth of a percent, or told as failed."""
    found = running(bar_scene(**odd))
    assert found.systems[0].runs or tuple(found.failures())
    for bar in found.bars:
        out = next(out for out in found.outs if out.name == bar.body)
        assert bar.flow.likely == pytest.approx(out.flow.likely, rel=2e-3, abs=1e-12)
    for system in found.systems:
        if system.costs:
            assert math.fsum(cost.share for cost in system.costs) == pytest.approx(1.0, abs=1e-3)


def test_all_of_the_pumps_power_is_accounted_for(flow):
    """Energy: lift, losses and the speed that leaves add up to flow times head of the pump."""
    (system,) = flow.systems
    assert math.fsum(cost.share for cost in system.costs) == pytest.approx(1.0, abs=1e-6)
    assert all(cost.share >= 0.0 for cost in system.costs)


def test_bernoulli_holds_along_a_single_line(scene):
    """Head of the pump = lift + losses + exit, link by link, at each setting's likely value."""
    (system,) = single(scene).systems
    (pump,) = system.pumps
    (out,) = system.outs
    lost = math.fsum(stretch.loss.likely for stretch in system.stretches)
    left = out.velocity.likely**2 / (2 * 9.80665)  # an open end loses one velocity head
    assert pump.head.likely == pytest.approx((out.height - 0.2) + lost + left, abs=1e-6)


def test_the_point_of_operation_lies_on_the_pumps_curve(flow):
    (pump,) = flow.pumps
    assert pump.head.likely == pytest.approx(pump.curve.head_at(pump.flow.likely), abs=1e-6)
    assert pump.curve.shut_off_head == pytest.approx(0.7**2 * 1.60)  # affinity: the rated head is 1.60 m


def test_bands_hold_what_is_likely_and_have_a_width(flow):
    for out in flow.outs:
        assert out.flow.low < out.flow.likely < out.flow.high
    for stretch in flow.stretches:
        assert stretch.loss.low <= stretch.loss.likely <= stretch.loss.high


def test_a_branch_has_a_wider_band_than_the_pump(flow):
    """What one branch lacks the other takes: the sum is known better than its parts."""
    (pump,) = flow.pumps

    def width(band):
        return (band.high - band.low) / band.likely

    assert all(width(out.flow) > width(pump.flow) for out in flow.outs)


def test_a_pump_too_weak_is_told_with_what_it_lacks(scene):
    """Shut-off head 1.60 m x 0.3² = 0.144 m; the open end stands at 80 + socket + 250 mm, water at 200 mm."""
    found = single(scene, speed="30 %")
    (failure,) = found.failures()
    assert failure.kind == "no flow"
    assert failure.measured == pytest.approx(0.144)
    assert failure.limit > failure.measured
    assert f"{1000 * (failure.limit - failure.measured):.3g} mm short" in failure.message
    assert not found.systems[0].runs
    assert found.bars == ()


def test_a_flow_beyond_the_curve_is_refused_not_guessed(scene):
    own = """
catalog:
  pumps:
    short: {like: large 5000, points: [[0 L/h, 3 m], [500 L/h, 2.5 m]]}
"""
    found = single(scene, pump="short", speed="100 %", more=own)
    failure = next(one for one in found.failures() if one.setting == "likely")
    assert failure.kind == "beyond the curve"
    assert "the last point it is known at, 500 L/h" in failure.message


def test_a_valve_that_no_figure_is_known_for_is_refused_where_it_stands(scene):
    with pytest.raises(SceneRefused, match=r"line\.route\[2\]\.ball_valve: open by 0\.2: no loss is known"):
        single(scene, route="{up: 120}, {ball_valve: 20 %}, {up: 120}, {right: 200}, open")


def test_a_shut_valve_is_no_way_out(scene):
    found = single(scene, route="{up: 120}, {ball_valve: 0}, {up: 120}, {right: 200}, open")
    (failure,) = found.failures()
    assert failure.kind == "no flow"
    assert "shut" in failure.message


def test_a_check_valve_against_the_flow_is_told(scene):
    """A run laid from the far end has its check valve toward the pump."""
    parts = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, faces: side, at: {left: 150, back: 120, bottom: 0}}
line:
  kind: run
  pipe: d20 pn 16
  start: {left: 500, front: 380, bottom: 400}
  route: [{until: down, reach: pump.outlet}, {left: 150}, check_valve, {until: left, reach: pump.outlet}, \
{join: pump.outlet}]
"""
    (failure,) = running(scene(parts)).failures()
    assert failure.kind == "no flow"
    assert "one-way" in failure.message


def test_a_pump_in_no_water_is_idle(scene):
    parts = "pump: {kind: pump, model: small 1000, at: {left: -400, front: 200, bottom: 0}}"
    found = running(scene(parts))
    (idle,) = found.idle
    assert idle.pump == "pump"
    assert found.systems == ()


def test_a_scene_without_pumps_runs_nothing(scene):
    found = running(scene(""))
    assert (found.systems, found.idle) == ((), ())


def test_a_fault_of_one_pump_leaves_the_other_alone(scene):
    weak = SINGLE.format(pump="small 1000", speed="30 %", route=OPEN)
    other = "stream: {kind: pump, model: small 600, at: {right: 200, back: 120, bottom: 0}}"
    found = running(scene(weak + other))
    assert [pump.pump for pump in found.pumps] == ["stream"]
    assert [failure.parts for failure in found.failures()] == [("pump",)]


def test_a_bar_out_of_reach_is_dry_while_the_nozzle_runs(bar_scene):
    found = running(bar_scene(speed="65 %", opening="100 %", turn="up: 200"))
    flows = {out.kind: out.flow.likely for out in found.outs}
    assert flows["mouth"] > 0.0
    assert flows["bar"] == 0.0
    assert found.bars[0].count("dry") == found.bars[0].bar.count
    assert tuple(found.failures()) == ()


def test_a_bar_on_two_legs_has_its_pressure_back_behind_each_hole(scene):
    """Momentum (Perry's Handbook, sec. 6), in a pipe that goes on into a second drilled leg: with holes that
    take little of the bore and a short pipe, the last hole of all has the highest head.
    """
    route = (
        "{up: 150}, {right: 500, drip: {diameter: 3, pitch: 40, margin: 40}}, "
        "{front: 200, drip: {diameter: 3, pitch: 40, margin: 40}}, cap"
    )
    found = single(scene, route=route)
    first, second = found.bars
    assert first.flow.likely + second.flow.likely == pytest.approx(found.pumps[0].flow.likely, rel=1e-9)
    assert first.static_head.likely < first.total_head.likely
    heads = [hole.head for hole in first.holes]
    assert heads == sorted(heads)
    speed = first.velocity.likely
    assert first.total_head.likely - first.static_head.likely == pytest.approx(speed**2 / (2 * 9.80665))


def test_an_upright_drip_pipe_runs_below_its_grade_line_only(scene):
    """Holes 20 mm apart up a pipe: those above the level that the pump holds are dry."""
    route = "{up: 200, drip: {diameter: 2.5, pitch: 20, margin: 25}}, cap"
    found = single(scene, pump="small 600", speed="30 %", route=route, waterline=150)
    (bar,) = found.bars
    level = bar.total_head.likely
    for hole in bar.holes:
        if hole.height > level:
            assert hole.state == "dry"
        if hole.height < level - 0.012:  # 4 σ/(ρ g d) of 2.5 mm
            assert hole.flow.likely > 0.0
    assert 0 < bar.count("dry", "holds") < bar.bar.count


def test_a_hole_that_the_head_breaks_free_runs_on(scene):
    """Where shutting the weak holes would raise the head above what holds their drops, they run."""
    route = "{up: 100}, {right: 420, drip: {diameter: 4.6, pitch: 14, margin: 20}}, cap"
    parts = SINGLE.replace("d20", "d16")
    found = running(scene(parts.format(pump="small 1000", speed="50 %", route=route), waterline=150))
    (bar,) = found.bars
    assert bar.count("dry", "holds") == 0
    assert bar.count("weeps") > 0


@FEW
@given(first=st.floats(0.45, 1.0), second=st.floats(0.45, 1.0))
def test_a_faster_pump_never_gives_less_anywhere(bar_scene, first, second):
    slow, fast = sorted((first, second))
    flows = [
        {out.name: out.flow.likely for out in running(bar_scene(speed=f"{100 * speed} %")).outs}
        for speed in (slow, fast)
    ]
    for name, flow in flows[0].items():
        assert flows[1].get(name, 0.0) >= flow - 1e-12


@FEW
@given(first=st.integers(150, 330), second=st.integers(150, 330))
def test_a_higher_source_never_gives_less(scene, first, second):
    low, high = sorted((first, second))
    flows = [
        single(scene, waterline=level, speed="100 %", route="{up: 300}, {right: 200}, open").pumps[0].flow
        for level in (low, high)
    ]
    assert flows[1].likely >= flows[0].likely - 1e-12


@FEW
@given(first=st.integers(100, 900), second=st.integers(100, 900))
def test_a_longer_pipe_never_gives_more(scene, first, second):
    short, long = sorted((first, second))
    flows = [
        single(scene, route=f"{{up: 250}}, {{right: {length}}}, open").pumps[0].flow.likely
        for length in (short, long)
    ]
    assert flows[1] <= flows[0] + 1e-15


@FEW
@given(first=st.floats(1.5, 4.0), second=st.floats(1.5, 4.0))
def test_wider_holes_never_give_less_together(bar_scene, first, second):
    narrow, wide = sorted((first, second))
    flows = [running(bar_scene(hole=size)).bars[0].flow.likely for size in (narrow, wide)]
    assert flows[1] >= flows[0] * (1 - 1e-6)


def test_the_order_of_rows_of_holes_does_not_matter(bar_scene):
    """But for the two holes at one place, which are marched one behind the other."""
    one, other = (
        running(bar_scene(angles=angles)).bars[0] for angles in ("[20 deg, 60 deg]", "[60 deg, 20 deg]")
    )
    assert one.flow.likely == pytest.approx(other.flow.likely, rel=1e-4)
    assert sorted(h.flow.likely for h in one.holes) == pytest.approx(
        sorted(h.flow.likely for h in other.holes), rel=5e-3
    )


def test_units_of_the_scene_do_not_matter(scene):
    """The same scene in inches: 254 mm are 10 in, and so on."""
    metric = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 152.4, back: 127, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 254}, {right: 203.2}, open]}
"""
    inch = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 6, back: 5, bottom: 0}}
line: {kind: run, pipe: d20 pn 16, start: pump.outlet, route: [{up: 10}, {right: 8}, open]}
"""
    tank = "kind: tank, inside: [1200 mm, 500 mm, 600 mm], glass: 12 mm"
    one = running(scene(metric, tank=tank, waterline="200 mm")).pumps[0]
    other = running(scene(inch, tank=tank, waterline="200 mm", units="in")).pumps[0]
    assert one.flow.likely == pytest.approx(other.flow.likely, rel=1e-12)


def test_it_is_figured_once_for_each_model(bar_scene):
    model = bar_scene()
    assert running(model) is running(model)


def test_a_pump_s_shares_are_of_its_own_curve(scene):
    """Head over shut-off head and flow over greatest flow at the set speed: a point inside the curve."""
    (run,) = single(scene).pumps
    for setting in ("low", "likely", "high"):
        assert run.head_share.at(setting) == pytest.approx(run.head.at(setting) / run.curve.shut_off_head)
        assert run.flow_share.at(setting) == pytest.approx(run.flow.at(setting) / run.curve.max_flow)
    assert 0.0 < run.head_share.likely < 1.0
    assert 0.0 < run.flow_share.likely < 1.0


def test_the_grade_line_has_the_speed_of_the_fastest_pipe_at_each_node(flow):
    (system,) = flow.systems
    fastest: dict[str, float] = {}
    for stretch in system.stretches:
        for node in (stretch.link.start, stretch.link.end):
            fastest[node] = max(fastest.get(node, 0.0), stretch.velocity.likely)
    points = {point.node: point for point in system.grade}
    assert points["pump.outlet"].velocity > 0.0
    for node, point in points.items():
        if node in fastest and point.velocity > 0.0:
            assert point.velocity == pytest.approx(fastest[node], rel=1e-6), node


def test_pipework_without_a_link_is_no_system():
    assert Plumbing(nodes=(), links=(), outlets={}).systems() == ()
