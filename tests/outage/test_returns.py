"""What runs back through return pipework: siphons and what breaks them, check valves, water in the pipes."""

import math
from itertools import pairwise
from types import SimpleNamespace

import pytest
from made_outages import band

from layout3d.outage.circuit import circuit
from layout3d.outage.returns import dry_volume, flow_to_tank

LOW = {"supply": 180, "feed": "{front: 80 mm}, nozzle"}  # the mouth 80 mm under water
VALVE = "check_valve\n    - up: 100 mm"


def way_of(model):
    (way,) = circuit(model).returns
    return way


def test_a_mouth_above_the_water_is_no_siphon(sump_scene):
    assert way_of(sump_scene()).siphons == ()


def test_a_mouth_under_water_drains_to_its_lower_edge(sump_scene):
    (siphon,) = way_of(sump_scene(**LOW)).siphons
    # the nozzle's mouth is 0.6 of the bore, 22.0 mm
    assert siphon.mouth_level == pytest.approx(0.18 - 0.6 * 0.0220 / 2)
    assert siphon.broken_at == siphon.blocked_at == siphon.mouth_level
    assert siphon.breaks == ()
    assert siphon.check_valve == ""


def test_a_mouth_that_points_down_drains_to_its_end(sump_scene):
    (siphon,) = way_of(sump_scene(supply=300, feed="{front: 80 mm}, {down: 150 mm}, open")).siphons
    assert siphon.mouth_level == pytest.approx(0.15)


TEED = (
    "{front: 80 mm}, {up: 70 mm}, {tee: right, name: air}, {up: 70 mm}, {front: 80 mm}, {down: 140 mm}, open"
)


def teed(sump_scene, vent):
    """Build a mouth at 150 mm with a tee 70 mm above it, whose branch goes up to a vent in air."""
    (siphon,) = way_of(
        sump_scene(supply=150, feed=TEED, more=f"vent: {{kind: run, pipe: d25 pn 10, {vent}}}")
    ).siphons
    assert siphon.mouth_level == pytest.approx(0.15)
    return siphon


def test_a_second_mouth_in_air_breaks_the_siphon_where_they_meet(sump_scene):
    """The other branch ends in air: it stops at the tee."""
    siphon = teed(sump_scene, "start: feed.air, route: [{right: 80 mm}, {up: 150 mm}, open]")
    assert siphon.broken_at == pytest.approx(0.22)
    assert siphon.blocked_at == siphon.broken_at  # an open end does not clog
    assert siphon.breaks == ("vent.end",)


def test_a_branch_that_ends_close_before_the_glass_lets_no_air_in(sump_scene):
    """2 mm before it, a third of its bore of 22 mm is free; `buried` tells that nothing gets through."""
    to_glass = "{{until: right, reach: {{right: {}, front: 0, bottom: 0}}}}"
    vent = f"start: feed.air, route: [{{{{right: 80}}}}, {{{{up: 150}}}}, {to_glass}, open]"
    assert teed(sump_scene, vent.format(30)).breaks == ("vent.end",)
    assert teed(sump_scene, vent.format(2)).breaks == ()


def test_no_air_gets_in_against_a_check_valve_and_with_it_until_it_sticks(sump_scene):
    against = teed(
        sump_scene, "start: feed.air, route: [{right: 80 mm}, {up: 90 mm}, check_valve, {up: 90 mm}, open]"
    )
    assert (against.broken_at, against.breaks) == (against.mouth_level, ())
    lets_in = teed(
        sump_scene,
        "start: {from: feed.air, offset: [80, 0, 180]}, "
        "route: [{down: 90 mm}, check_valve, {down: 90 mm}, {left: 80 mm}, {join: feed.air}]",
    )
    assert lets_in.broken_at == pytest.approx(0.22)
    assert lets_in.blocked_at == lets_in.mouth_level


def test_a_small_hole_breaks_it_until_it_clogs(sump_scene):
    """One hole of 4 mm in the upright piece: air gets in once the water is below it."""
    feed = (
        "{front: 60 mm}, {up: 120 mm, drip: {diameter: 4 mm, pitch: 10 mm, margin: 25 mm, count: 1}}, "
        "{front: 80 mm}, {down: 120 mm}, open"
    )
    model = sump_scene(supply=150, feed=feed)
    (siphon,) = [one for one in way_of(model).siphons if one.mouth.kind == "open"]
    hole = next(e.holes[0] for e in model.built["feed"].data.elements if e.holes)
    assert siphon.mouth_level == pytest.approx(0.15)
    assert siphon.broken_at == pytest.approx(hole.at[2] - 0.002)
    assert siphon.blocked_at == siphon.mouth_level
    assert siphon.breaks == (model.built["feed"].data.elements[2].body,)


def test_air_gets_in_at_the_highest_of_several_small_holes(sump_scene):
    """Two holes of 4 mm, 10 mm apart up the pipe: the upper is bare first, and ends the siphon."""
    feed = (
        "{front: 60 mm}, {up: 120 mm, drip: {diameter: 4 mm, pitch: 10 mm, margin: 20 mm, count: 2}}, "
        "{front: 80 mm}, {down: 120 mm}, open"
    )
    model = sump_scene(supply=150, feed=feed)
    (siphon,) = [one for one in way_of(model).siphons if one.mouth.kind == "open"]
    lower, upper = sorted(h.at[2] for e in model.built["feed"].data.elements for h in e.holes)
    assert upper - lower == pytest.approx(0.010)
    assert siphon.broken_at == pytest.approx(upper - 0.002)


def test_a_check_valve_on_the_way_is_told(sump_scene):
    way = way_of(sump_scene(**LOW, valve=VALVE))
    (siphon,) = way.siphons
    assert siphon.check_valve == way.check_valves[0]
    assert 0 < way.contents_held < way.contents


def test_water_in_the_pipes_by_hand(sump_scene):
    """Bore of d25 PN 10 is 22.0 mm (DIN 8062: 25 less twice 1.5): area times the centre line out of water."""
    model = sump_scene()
    way = way_of(model)
    area = math.pi / 4 * 0.0220**2
    points = [e.path for name in ("return", "feed") for e in model.built[name].data.elements]
    length = sum(math.dist(a, b) for path in points for a, b in pairwise(path))
    nozzle = model.built["feed"].data.elements[-1].flow_length  # 0.6 of the bore: counted apart
    under = (-0.694 + 0.18) - model.ports["pump.outlet"].at[2]  # of the riser, in the chamber's water
    socket = model.ports["pump.outlet"].depth
    inside, outside = (model.ports[f"tank.supply.{side}"] for side in ("inside", "outside"))
    between = math.dist(inside.at, outside.at) - inside.depth - outside.depth  # pipes end in its sockets
    assert way.contents == pytest.approx(
        area * (length - nozzle * (1 - 0.6**2) + between - under - socket), rel=0.005
    )


def test_pipe_under_water_holds_no_water_of_its_own(sump_scene):
    model = sump_scene()
    lengths = way_of(model).pipework.edges
    levels = {"sump.chamber": -0.514, "sump.inlet": -0.444}
    whole = dry_volume(model, lengths, 0.257, levels)
    assert dry_volume(model, lengths, 0.5, levels) < whole
    assert dry_volume(model, lengths, 0.257, {**levels, "sump.chamber": -0.4}) < whole


def test_the_flow_to_the_tank_leaves_out_what_goes_back_to_the_sump(sump_scene):
    back = """
bypass:
  {kind: run, pipe: d25 pn 10, start: return.side, route: [{left: 80 mm}, {down: 60 mm}, open]}"""
    split = sump_scene(valve="{tee: left, name: side}\n    - up: 100 mm", more=back.strip())
    plain = circuit(sump_scene())
    found = circuit(split)
    assert found.flow.likely < plain.flow.likely


def test_the_flow_to_the_tank_is_that_of_the_pump_s_own_network():
    """Two networks by hand: the other one comes first and brings more."""
    other, own = (
        SimpleNamespace(
            pump_names=(name,),
            runs=(1,),
            failures=(),
            outs=(),
            pumps=(SimpleNamespace(pump=name, flow=flow),),
        )
        for name, flow in (("stream", band(7e-4, 8e-4, 9e-4)), ("return", band(1e-4, 2e-4, 3e-4)))
    )
    pumps = (SimpleNamespace(name="return"),)
    ways = SimpleNamespace(mouths=())
    model = SimpleNamespace(tank_name="tank")
    found, failure = flow_to_tank(model, ways, pumps, SimpleNamespace(systems=(other, own), idle=()))
    assert (found.low, found.likely, found.high, failure) == (1e-4, 2e-4, 3e-4, "")
    idle = (SimpleNamespace(pump="stream", why="off"), SimpleNamespace(pump="return", why="has no curve"))
    assert flow_to_tank(model, ways, pumps, SimpleNamespace(systems=(other,), idle=idle)) == (
        None,
        "has no curve",
    )


@pytest.mark.parametrize(
    ("holds", "rim", "under"), [(True, 0.5, False), (True, 0.1, True), (False, 0.5, True)]
)
def test_a_pipe_in_an_overflow_box_is_dry_and_one_beside_or_over_it_is_not(monkeypatch, holds, rim, under):
    """A metre of 20 mm bore at 0.2 m, the water at 0.3: within the box it holds its own water, 0.314 L."""
    from layout3d.outage import returns

    monkeypatch.setattr(returns, "drained_bores", lambda model: SimpleNamespace(bodies=()))
    box = SimpleNamespace(data=SimpleNamespace(holds=lambda point: holds, rim=rim))
    model = SimpleNamespace(overflow_boxes=(box,), tank=SimpleNamespace(holds=lambda point: True))
    pipe = SimpleNamespace(body="pipe", bore=0.02, points=((0.0, 0.0, 0.2), (1.0, 0.0, 0.2)))
    found = dry_volume(model, [pipe], 0.3, {})
    assert found == pytest.approx(0.0 if under else math.pi / 4 * 0.02**2)
