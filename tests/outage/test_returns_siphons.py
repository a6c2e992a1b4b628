"""Where a mouth under water stops draining the tank, on ways made by hand; and what stopped pumps siphon."""

import math
from types import SimpleNamespace

import pytest
from made_circuits import TANK, band

from layout3d.flow.network import Outlet
from layout3d.outage import without_circuit
from layout3d.outage.returns import _siphons

PUMP = {"pump.outlet": -math.inf}


def mouth(name, lower_edge, *, vessel="tank", kind="end", holes=()):
    return SimpleNamespace(name=name, node=name, lower_edge=lower_edge, vessel=vessel, kind=kind, holes=holes)


def hole(z, diameter=0.004):
    return SimpleNamespace(at=(0.0, 0.0, z), diameter=diameter)


def siphons(own, *others, nodes=None, level=0.3, valve="", outs=PUMP):
    """Judge a mouth in a pipe that runs down from a top at 500 mm, where a tee stands at 220.

    Each other mouth is reached from the pump by its own node and the tee; ``nodes`` says otherwise. A valve
    bars the way to the pump alone.
    """
    nodes = {"own": ("own", "tee", "top", "pump.outlet")} | (nodes or {})

    def way(start, end):
        path = nodes.get(start, (start, "tee", "top", end))
        barred = valve if end == "pump.outlet" else ""
        if path is None:
            return None
        return SimpleNamespace(nodes=path, barred_by=lambda: barred, valve_for=lambda: "")

    heights = {"own": 0.15, "tee": 0.22, "top": 0.5, "up": 0.4}
    return list(_siphons(SimpleNamespace(way=way, heights=heights, mouths=(own, *others)), own, outs, level))


def siphon(own, *others, **how):
    (found,) = siphons(own, *others, **how)
    return found


def test_a_mouth_alone_drains_to_its_lower_edge():
    found = siphon(mouth("own", 0.15))
    assert (found.mouth_level, found.broken_at, found.blocked_at) == (0.15, 0.15, 0.15)
    assert (found.breaks, found.check_valve) == ((), "")
    assert siphon(mouth("own", 0.15), valve="valve").check_valve == "valve"


@pytest.mark.parametrize(
    ("low", "valve", "told"),
    [
        (-0.5, "valve", [("", 0.15)]),  # over the sump, past the valve
        (0.2, "valve", [("", 0.2), ("valve", 0.15)]),  # so high it stops sooner, and the valve may leak
        (0.3, "valve", [("valve", 0.15)]),  # at the tank's water: nothing runs out
        (0.2, "", [("", 0.15)]),
    ],
)
def test_an_open_end_past_the_check_valve_lets_the_tank_down(low, valve, told):
    found = siphons(mouth("own", 0.15), valve=valve, outs=PUMP | {"by": low})
    assert [(one.check_valve, one.broken_at) for one in found] == told


def test_a_mouth_that_no_open_way_leads_to_siphons_nothing():
    assert siphons(mouth("own", 0.15), nodes={"own": None}) == []


@pytest.mark.parametrize(
    ("vent", "nodes", "broken", "blocked"),
    [
        # the lower of its own edge and the tee
        (mouth("vent", 0.40), None, 0.22, 0.22),
        (mouth("vent", 0.18), None, 0.18, 0.18),
        (mouth("vent", 0.15), None, 0.15, 0.15),  # no higher: it breaks nothing
        # joined over the water: it stops at the water
        (mouth("vent", 0.60), {"vent": ("vent", "top", "pump.outlet")}, 0.3, 0.3),
        # small holes let air in until they clog, at the upper of them and its lower edge
        (mouth("vent", 0.1, kind="holes", holes=(hole(0.19), hole(0.21), hole(0.2))), None, 0.208, 0.15),
        # in the pipe itself its own height is that of the hole
        (
            mouth("up", 0.1, kind="holes", holes=(hole(0.252),)),
            {"own": ("own", "tee", "up", "top", "pump.outlet"), "up": ("up", "top", "pump.outlet")},
            0.25,
            0.15,
        ),
        (mouth("vent", 0.4), {"vent": None}, 0.15, 0.15),  # shut off from it
    ],
)
def test_where_air_gets_in(vent, nodes, broken, blocked):
    found = siphon(mouth("own", 0.15), vent, nodes=nodes)
    assert (found.broken_at, found.blocked_at) == pytest.approx((broken, blocked))
    assert found.breaks == (("vent",) if vent.name == "vent" else ("up",)) * (broken > 0.15)


def test_of_several_breaks_the_highest_rules_whatever_their_order():
    low, holes, high = (
        mouth("low", 0.17),
        mouth("holes", 0.1, kind="holes", holes=(hole(0.222),)),
        mouth("high", 0.2),
    )
    none = mouth("none", 0.1)
    for others in ((none, low, holes, high), (high, holes, low, none)):
        found = siphon(mouth("own", 0.15), *others)
        assert (found.broken_at, found.blocked_at) == pytest.approx((0.22, 0.2))
        assert set(found.breaks) == {"low", "holes", "high"}


# -- without a circuit --------------------------------------------------------------------------------------


def system(*nodes, links=(("pump", "tank"),)):
    pumps = tuple(SimpleNamespace(name=name, start=start) for name, start in links)
    return SimpleNamespace(nodes=nodes, pumps=pumps)


def outlet(name):
    return Outlet(name=name, elevation=0.0, bore=0.02)


@pytest.fixture
def siphoned(monkeypatch):
    """Tell what full pipe siphons from a tank of 0.5 m² at 300 mm, by what leaves at each node, [m³/s]."""

    def told(flows, *mouths, inlets=None, pumped=1e-4, bottom=None):
        inlets = {"pump": 0.05} if inlets is None else inlets
        ports = tuple(SimpleNamespace(name=name, inlet=(0.0, 0.0, z)) for name, z in inlets.items())
        pipes = SimpleNamespace(mouths=mouths, pumps=ports)
        monkeypatch.setattr(without_circuit, "pipework", lambda model: pipes)
        monkeypatch.setattr(without_circuit, "tank_table", lambda model: TANK)
        nodes = [SimpleNamespace(name="tank") if name == "tank" else outlet(name) for name in flows]
        steady = SimpleNamespace(
            nodes={name: SimpleNamespace(outflow=flow) for name, flow in flows.items()},
            links={name: SimpleNamespace(flow=pumped) for name in inlets},
        )
        links = tuple((name, "tank") for name in inlets)
        model = SimpleNamespace(tank_name="tank", waterline=0.3)
        empty = without_circuit.StoppedPumps(stopped=("pump",))
        return without_circuit._siphoned(model, system(*nodes, links=links), steady, empty)

    return told


def at(node, vessel, lower_edge=0.1):
    return SimpleNamespace(node=node, vessel=vessel, lower_edge=lower_edge, words=f"the end of {node}")


def test_a_hose_over_the_rim_empties_the_tank_to_the_inlet(siphoned):
    """From 300 down to 50 mm of 0.5 m²."""
    found = siphoned({"tank": -1e-4, "a.out": 1e-4}, at("a", ""))
    assert (found.siphon, found.leaves, found.level) == pytest.approx((1e-4, 0.125, 0.05))
    assert (found.to, found.floor) == (("the end of a",), True)


def test_into_another_vessel_it_is_no_flood(siphoned):
    flows = {"tank": -3e-4, "a.out": 1e-4, "b.out": 2e-4}
    caught = siphoned(flows, at("a", "sump.return"), at("b", "bucket"))
    assert (caught.floor, caught.to) == (False, ("the end of a", "the end of b"))
    assert siphoned(flows, at("a", ""), at("b", "bucket")).floor


def test_a_mouth_in_the_tank_lets_its_water_in_and_back(siphoned):
    """What comes back through it is no loss; what it takes in drains the tank to its lower edge."""
    back = siphoned({"tank": -3e-4, "a.out": 1e-4, "b.out": 2e-4}, at("a", "tank"), at("b", ""))
    assert back.siphon == pytest.approx(2e-4)
    assert back.to == ("the end of b",)
    lower = siphoned(
        {"tank": 0.0, "a.out": -1e-4, "b.out": 1e-4}, at("a", "tank", 0.2), at("b", ""), pumped=0.0
    )
    assert (lower.level, lower.leaves) == pytest.approx((0.2, 0.05))


def test_of_several_ways_in_the_lowest_rules_within_the_water(siphoned):
    flows = {"tank": -1e-4, "a.out": 1e-4}
    assert siphoned(flows, at("a", ""), inlets={"p": 0.1, "q": 0.02}).level == pytest.approx(0.02)
    assert siphoned(flows, at("a", ""), inlets={"p": -0.1}).level == 0.0
    assert siphoned(flows, at("a", ""), inlets={"p": 0.4}).level == pytest.approx(0.3)


def test_what_moves_nothing_out_of_the_tank_siphons_nothing(siphoned):
    """Less than 4 mL/h is none."""
    none = siphoned({"tank": -1e-9, "a.out": 1e-9}, at("a", ""))
    assert (none.siphon, none.to, none.level) == (0.0, (), None)
    still = siphoned({"tank": -1.1e-9, "a.out": 1e-9}, at("a", ""))
    assert (still.siphon, still.to) == (pytest.approx(1.1e-9), ())
    assert siphoned({"tank": -1e-4, "a.out": 1e-4}, at("a", ""), pumped=1e-9).siphon == 0.0


def test_what_runs_back_through_pumps_while_others_run(monkeypatch):
    """Through a stopped one, and through one that the others may overcome; 4 mL/h are none."""
    flows = {"a": (-3e-4, -2e-4, -1e-4), "b": (-1.1e-9, 1e-4, 2e-4), "c": (-1e-9, 1e-4, 2e-4)}
    runs = [SimpleNamespace(pump=name, flow=band(*flow)) for name, flow in flows.items()]
    results = [
        SimpleNamespace(pump_names=("z",), runs=False, failures=()),
        SimpleNamespace(pump_names=("a", "b", "c"), runs=True, pumps=runs, failures=()),
    ]
    speeds = []

    def running_with(model, given):
        speeds.append(given)
        return SimpleNamespace(systems=results)

    monkeypatch.setattr(without_circuit, "running_with", running_with)
    made = system(links=(("a", "tank"), ("b", "sump.return"), ("c", "tank")))
    found = without_circuit._one(None, made, "a", ("a", "b", "c"))
    assert speeds == [{"a": 0.0}]
    assert (found.stopped, found.others) == (("a",), ("b", "c"))
    assert found.back == (
        ("a", "tank", band(1e-4, 2e-4, 3e-4)),
        ("b", "sump.return", band(0.0, 0.0, 1.1e-9)),
    )
    results[1] = SimpleNamespace(
        pump_names=("a",), runs=False, failures=[SimpleNamespace(message=one) for one in ("x", "y", "x")]
    )
    assert without_circuit._one(None, made, "a", ("a", "b")).why_not == "x; y"


def test_with_all_stopped_what_runs_back_is_that_of_the_still_network(monkeypatch):
    """4 mL/h are none; pipes are asked for their water above all waters of the scene."""
    monkeypatch.setattr(without_circuit, "water_of", lambda model: None)
    asked = []

    def dry_volume(model, edges, level, levels):
        asked.append(([edge.name for edge in edges], level, levels))
        return 0.002

    monkeypatch.setattr(without_circuit, "dry_volume", dry_volume)
    pipes = SimpleNamespace(
        edges=[SimpleNamespace(name=name) for name in ("e", "other")], mouths=(), pumps=()
    )
    monkeypatch.setattr(without_circuit, "pipework", lambda model: pipes)
    links = {"a": -2e-4, "b": -1e-9, "c": -1.1e-9, "d": 1e-4}
    steady = SimpleNamespace(
        links={name: SimpleNamespace(flow=flow) for name, flow in links.items()}, nodes={}
    )
    case = SimpleNamespace(solved=lambda shut: steady)
    monkeypatch.setattr(without_circuit, "Case", lambda *given: case)
    compartment = SimpleNamespace(name="return", water_z=-0.55)
    sump = SimpleNamespace(
        part=SimpleNamespace(name="sump"), data=SimpleNamespace(compartments=(compartment,))
    )
    model = SimpleNamespace(tank_name="tank", waterline=0.3, sumps=(sump,))
    made = system(links=tuple((name, "tank") for name in links))
    made.links = [SimpleNamespace(name=name) for name in ("e", "pump")]
    speeds = []

    def at_speeds(given):
        speeds.append(given)
        return SimpleNamespace(refused={}, network=None)

    made.at_speeds = at_speeds
    found = without_circuit._all(model, made, tuple(links))
    assert found.back == (("a", "tank", band(2e-4, 2e-4, 2e-4)), ("c", "tank", band(1.1e-9, 1.1e-9, 1.1e-9)))
    assert (found.contents, found.siphon) == (0.002, 0.0)
    assert asked == [(["e"], 0.3, {"sump.return": -0.55})]
    assert speeds == [dict.fromkeys(links, 0.0)]
    made.at_speeds = lambda given: SimpleNamespace(refused={"a": "no loss", "b": "no bore"}, network=None)
    refused = without_circuit._all(model, made, tuple(links))
    assert (refused.why_not, refused.contents, refused.back) == ("no loss; no bore", 0.002, ())
