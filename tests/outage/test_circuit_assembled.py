"""How a circuit is put together, with what it is put together from made by hand."""

import math
from types import SimpleNamespace

import numpy as np
import pytest
from made_circuits import TANK, band, drain, pump, return_way

from layout3d.band import Band
from layout3d.outage import circuit as module
from layout3d.water.level_table import LevelTable

INCH = 0.0254
FLOW = band(1e-4, 2e-4, 3e-4)


def box(low, high):
    return SimpleNamespace(bounds=np.array([low, high]))


def hole(name, z, diameter=0.02, *, bulkhead="", plugged=False):
    return SimpleNamespace(name=name, at=(0.1, 0.4, z), diameter=diameter, bulkhead=bulkhead, plugged=plugged)


WAY_ROUND = module.way_round.__wrapped__


def model(*, waterline=0.3, holes=(), braces=(), slots=0.33, boxes=(), baskets=()):
    bodies = [
        SimpleNamespace(
            kind=kind, solid=SimpleNamespace(bounds=np.array([[0.0, 0.1, low], [1.0, 0.5, low + 0.01]]))
        )
        for kind, low in (("panel", -0.01), *(("brace", low) for low in braces))
    ]
    compartment = SimpleNamespace(name="return", water_z=-0.55)
    sump = SimpleNamespace(
        part=SimpleNamespace(name="sump"), data=SimpleNamespace(compartments=(compartment,))
    )
    return SimpleNamespace(
        waterline=waterline,
        tank_name="tank",
        tank=SimpleNamespace(
            height=0.6,
            holes={one.name: one for one in holes},
            interior=SimpleNamespace(bounds=np.array([[0.0, 0.0, 0.0], [1.0, 0.5, 0.6]])),
        ),
        bodies_of=lambda name: bodies,
        scene=SimpleNamespace(
            style="metric",
            catalog=SimpleNamespace(limit=lambda name: SimpleNamespace(value={"slots_stopped": slots}[name])),
        ),
        sumps=(sump,),
        overflow_boxes=boxes,
        filter_baskets=baskets,
    )


@pytest.fixture
def put_together(monkeypatch):
    """Put a circuit together from returns, drains and the levels over them; tell what was asked with what."""

    def made(scene=None, *, returns=None, drains=None, shut=(), level=None, stopped=None):
        asked = SimpleNamespace(returns=[], levels=[], drains=None, inside=None)
        every = (drain("a"),) if drains is None else drains
        ways = (return_way(),) if returns is None else returns
        for way in ways:
            if not hasattr(way, "flow"):
                way.flow, way.failure = band(1e-4, 2e-4, 3e-4), ""
        for one in (*every, *shut):
            one.mouth = one

        def return_ways(scene, level, levels):
            asked.returns.append((level, levels))
            return ways

        def running_level(drains, flow, *, water, top, blocked=0.0):
            asked.levels.append((flow, top, blocked))
            return stopped if blocked else level

        def over_water(scene, drains, highest):
            asked.drains, asked.highest = drains, highest
            return drains

        chamber = SimpleNamespace(name="return", level=Band.exact(-0.55))
        inlet = SimpleNamespace(name="inlet", level=band(-0.498, -0.496, -0.492))
        water = SimpleNamespace(
            name="sump", data=SimpleNamespace(return_chamber=SimpleNamespace(name="return"))
        )
        for name, value in {
            "way_round": WAY_ROUND,
            "pipework": lambda scene: SimpleNamespace(parts=()),
            "return_ways": return_ways,
            "gravity_drains": lambda scene: (*every, *shut),
            "closed": lambda scene, mouth: mouth in shut,
            "over_water": over_water,
            "running_level": running_level,
            "water_of": lambda scene: None,
            "tank_table": lambda scene: TANK,
            "sump_water_of": lambda scene, built: water,
            "running_levels": lambda scene, sump, flow: (inlet, chamber),
            "in_drains": lambda scene, drains, **given: given,
        }.items():
            monkeypatch.setattr(module, name, value)
        return module.circuit.__wrapped__(scene or model()), asked

    return made


def test_without_a_return_there_is_no_circuit(put_together):
    found, _ = put_together(returns=())
    assert found is None


def test_the_level_is_that_over_the_drains_and_the_returns_are_asked_again_at_its_high_figure(put_together):
    found, asked = put_together(level=band(0.31, 0.32, 0.33), stopped=band(0.34, 0.35, 0.36))
    assert (found.level, found.level_stopped) == (band(0.31, 0.32, 0.33), band(0.34, 0.35, 0.36))
    assert found.flow == band(1e-4, 2e-4, 3e-4)
    assert asked.levels == [(found.flow, 0.6, 0.0), (found.flow, 0.6, 0.33)]
    assert asked.returns == [
        (0.3, {"sump.return": -0.55}),
        (0.33, {"sump.inlet": -0.496, "sump.return": -0.55}),
    ]
    assert asked.highest == {"sump.inlet": -0.492, "sump.return": -0.55}
    assert found.drain_contents == {
        "flow": found.flow,
        "level": 0.32,
        "sump_levels": {"sump.inlet": -0.496, "sump.return": -0.55},
    }
    assert not found.overflows
    assert (found.rim, found.spill, found.spill_words) == (0.6, 0.6, "the rim of tank")
    assert found.notes == ()


def test_where_it_runs_at_the_scene_s_waterline_the_returns_are_asked_once(put_together):
    _, asked = put_together(level=band(0.29, 0.30, 0.33))
    assert len(asked.returns) == 1


@pytest.mark.parametrize(
    ("likely", "waterline", "overflows", "level", "note"),
    [
        (2e-4, 0.3, True, 0.6, "at the rim"),  # no way out: it stands at the rim
        (0.0, 0.3, False, 0.3, "the scene's waterline"),
        (0.0, 0.7, False, 0.6, "the scene's waterline"),  # no higher than it spills
        (None, 0.3, False, 0.3, "the scene's waterline"),
    ],
)
def test_where_no_level_is_found(put_together, likely, waterline, overflows, level, note):
    way = return_way()
    way.flow, way.failure = None if likely is None else band(0.0, likely, 3e-4), ""
    found, _ = put_together(model(waterline=waterline), returns=(way,))
    assert (found.overflows, found.level, found.level.note) == (overflows, Band.exact(level, note), note)


@pytest.mark.parametrize(("slots", "share"), [(0.33, 0.33), (1.0, 0.99)])
def test_no_more_slots_are_stopped_than_can_be_figured(put_together, slots, share):
    found, asked = put_together(model(slots=slots))
    assert found.slots_stopped == share
    assert asked.levels[-1][2] == share


def test_the_lowest_brace_is_told_by_its_lower_face(put_together):
    assert put_together()[0].brace is None
    assert put_together(model(braces=(0.5, 0.45, 0.55)))[0].brace == 0.45


def test_what_is_left_out_is_noted(put_together):
    """A second sump, a flow that is not known, a mouth that lies in something, another compartment."""
    first = return_way(pump("p", sump="sump"))
    other = return_way(pump("q", sump="second"))
    first.flow, first.failure = band(1e-4, 2e-4, 3e-4), ""
    other.flow, other.failure = None, "no curve"
    aside = pump("r")
    object.__setattr__(aside, "compartment", "inlet")
    third = return_way(aside)
    third.flow, third.failure = band(1e-4, 2e-4, 3e-4), ""
    found, asked = put_together(returns=(first, other, third), shut=(drain("shut"),))
    assert found.flow is None  # one that is not known leaves no sum
    assert [one.name for one in asked.drains] == ["a"]
    assert found.notes == (
        "second has return pumps of its own: its water is left out",
        "flow of q: no curve",
        "the mouth of the drain shut lies in something: it is not counted on",
        "r draws from sump.inlet, not from the last compartment: levels are figured as if it drew from the "
        "last",
    )
    assert [one.name for one in found.pumps] == ["p", "r"]


def test_flows_add_up_end_by_end_with_the_first_one_s_note():
    flows = [Band(low=1.0, likely=2.0, high=4.0, note="a"), Band(low=0.5, likely=0.5, high=1.0, note="b")]
    total = module._sum_of(flows)
    assert (total, total.note) == (Band(low=1.5, likely=2.5, high=5.0, note="a"), "a")
    assert module._sum_of([]) is None
    assert module._sum_of([flows[0], None]) is None


@pytest.mark.parametrize(
    ("holes", "spill", "words"),
    [
        ([hole("low", 0.31)], 0.6, "the rim of tank"),  # its lower edge at the water: open already
        ([hole("low", 0.3101)], 0.3001, "the open hole low"),
        ([hole("high", 0.5), hole("low", 0.4), hole("mid", 0.45)], 0.39, "the open hole low"),
        ([hole("led", 0.4, bulkhead="d20"), hole("shut", 0.4, plugged=True)], 0.6, "the rim of tank"),
        ([hole("over", 0.61)], 0.6, "the rim of tank"),
    ],
)
def test_the_tank_spills_at_its_lowest_open_hole(monkeypatch, holes, spill, words):
    monkeypatch.setattr(module, "pipework", lambda scene: SimpleNamespace(parts=()))
    found, told = module._spill(model(holes=holes))
    assert (found, told) == (pytest.approx(spill), words)


def test_a_box_stands_at_its_level_within_its_table(monkeypatch):
    table = LevelTable(levels=(0.1, 0.35), volumes=(0.0, 0.005))
    monkeypatch.setattr(module, "compartment_tables", lambda scene: {"box": table})
    for level, stands in ((0.25, 0.25), (0.05, 0.1), (0.4, 0.35)):
        built = SimpleNamespace(part=SimpleNamespace(name="box"), data=SimpleNamespace(level=level))
        (found,) = module._boxes(model(boxes=(built,)))
        assert (found.name, found.level, found.rim) == ("box", stands, 0.35)


@pytest.mark.parametrize(
    ("at", "vessel", "count"),
    [
        ((0.05, 0.05, 0.2), "sump.inlet", 1),
        ((0.1, 0.1, 0.01), "sump.inlet", 1),
        ((0.05, 0.05, 0.0), "sump.inlet", 0),  # under it
        ((0.11, 0.05, 0.2), "sump.inlet", 0),
        ((0.05, 0.11, 0.2), "sump.inlet", 0),
        ((0.05, -0.01, 0.2), "sump.inlet", 0),
        ((0.05, 0.05, 0.2), "tank", 0),
    ],
)
def test_a_sock_is_what_a_drain_ends_over(at, vessel, count):
    """A basket of 100 by 100 by 150 mm with walls of 5: 90 by 90 mm inside, its floor 5 mm up."""
    body = SimpleNamespace(solid=box((0.0, 0.0, 0.0), (0.1, 0.1, 0.15)))
    part = SimpleNamespace(name="sock", wall=0.005, size=(0.1, 0.12, 0.15))
    basket = SimpleNamespace(part=part, bodies=(body,))
    one = drain()
    one.outlet = SimpleNamespace(at=at, vessel=vessel)
    elsewhere = drain()
    elsewhere.outlet = SimpleNamespace(at=(9.0, 9.0, 9.0), vessel="sump.inlet")
    found = module._socks(model(baskets=(basket,)), (elsewhere, one))
    assert len(found) == count
    for sock in found:
        assert (sock.name, sock.compartment, sock.rim, sock.floor) == ("sock", vessel, 0.15, 0.005)
        assert sock.area == pytest.approx(0.09 * 0.11)


# -- water in drains ----------------------------------------------------------------------------------------


class Edge:
    """A piece of pipe by its ends; its bore holds 1 L."""

    def __init__(self, *points):
        self.points = points


UPRIGHT = Edge((0.0, 0.0, 0.3), (0.0, 0.0, -0.3))
LEVEL = Edge((0.0, 0.0, 0.3), (0.5, 0.0, 0.3))


def held_in(monkeypatch, *drains, flow=FLOW, level=0.3):
    monkeypatch.setattr(module, "dry_volume", lambda scene, edges, level, levels: 0.001 * len(edges))
    return module.in_drains(model(), drains, flow=flow, level=level, sump_levels={})


def running_drain(*edges, crest=0.29, bore=INCH):
    return SimpleNamespace(crest=crest, way=SimpleNamespace(bore=bore, edges=edges))


def share_of(flow, bore=INCH):
    """Share of a stack that a sheet takes, Q = 27.8 r^(5/3) d^(8/3) gpm of inches (Wyly and Eaton 1961)."""
    return (flow / (27.8 * 6.30902e-5 * (bore / INCH) ** (8 / 3))) ** 0.6


def test_a_sheet_in_uprights_and_up_to_full_pipe_elsewhere(monkeypatch):
    share = share_of(2e-4)
    found = held_in(monkeypatch, running_drain(UPRIGHT, LEVEL))
    assert (found.low, found.likely, found.high) == pytest.approx(
        (0.002 * share, 0.001 * share + 0.001, 0.002), rel=0.01
    )


def test_where_drains_join_a_stretch_counts_once_and_as_the_fuller(monkeypatch):
    wide, narrow = running_drain(UPRIGHT, bore=2 * INCH), running_drain(UPRIGHT)
    for drains in ((wide, narrow), (narrow, wide)):
        found = held_in(monkeypatch, *drains)
        assert found.likely == pytest.approx(0.001 * share_of(2e-4), rel=0.01)
        assert found.high == pytest.approx(0.001)


def test_no_fuller_than_full(monkeypatch):
    found = held_in(monkeypatch, running_drain(UPRIGHT, LEVEL), flow=band(0.0, 1.0, 1.0))
    assert found == Band(low=0.002, likely=0.002, high=0.002, note=found.note)


@pytest.mark.parametrize(
    ("flow", "level"), [(None, 0.3), (band(0.0, 0.0, 1e-4), 0.3), (band(1e-4, 1e-4, 1e-4), 0.29)]
)
def test_a_drain_that_does_not_run_is_empty(monkeypatch, flow, level):
    found = held_in(monkeypatch, running_drain(UPRIGHT), flow=flow, level=level)
    assert (found.low, found.likely, found.high) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize(("degrees", "falls"), [(90, True), (46, True), (43, False), (0, False), (-60, True)])
def test_a_leg_falls_from_some_45_degrees_on(degrees, falls):
    """The sine of 44.4 degrees is 0.7, whichever way it runs and however long it is."""
    for long in (0.2, 3.0):
        end = (long * math.cos(math.radians(degrees)), 0.1, 0.3 + long * math.sin(math.radians(degrees)))
        assert module._falls(((0.0, 0.1, 0.3), (0.1, 0.1, 9.9), end)) == falls
