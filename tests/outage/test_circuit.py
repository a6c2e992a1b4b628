"""What runs round: where it spills, what the returns bring, what stands in pipes; events by their books."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest

from layout3d.band import Band
from layout3d.outage.circuit import circuit
from layout3d.outage.evaporation import evaporation, natatorium_rate, still_surface_rate
from layout3d.outage.events import power_cut
from layout3d.outage.fill_line import FillLine, FillMark
from layout3d.outage.ledger import Event, Ledger
from layout3d.outage.outages import outages
from layout3d.outage.parts import _chamber_for
from layout3d.outage.returns import _share_above, dry_volume, flow_to_tank
from layout3d.outage.running import Running
from layout3d.outage.sump import running_levels

FLOOR = -0.694
DAY = 86400.0
LOW = {"supply": 180, "feed": "{front: 80 mm}, nozzle"}  # the mouth 80 mm under water
VALVE = "check_valve\n    - up: 100 mm"
SOCK = """
sock: {{kind: filter_basket, size: [120 mm, 100 mm, 200 mm], wall: 3 mm,
  at: {{in: sump.{place}, left: {left} mm, front: 287 mm, bottom: 100 mm}}}}"""


@pytest.fixture(scope="module")
def plain(sump_scene):
    model = sump_scene()
    return model, outages(model)


# -- where the tank spills ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("holes", "spill", "words"),
    [
        ("", 0.500, "the rim of tank"),
        # lower edges at 385 and 365 mm, the running water at 257
        ("a: {panel: back, left: 200 mm, bottom: 400 mm, diameter: 30 mm}", 0.385, "the open hole a"),
        (
            "a: {panel: back, left: 200 mm, bottom: 400 mm, diameter: 30 mm}, "
            "b: {panel: back, left: 600 mm, bottom: 380 mm, diameter: 30 mm}",
            0.365,
            "the open hole b",
        ),
        (
            "b: {panel: back, left: 600 mm, bottom: 380 mm, diameter: 30 mm}, "
            "a: {panel: back, left: 200 mm, bottom: 400 mm, diameter: 30 mm}",
            0.365,
            "the open hole b",
        ),
        # a bulkhead that nothing joins is open by its bore of 21.2 mm, what a plug closes is no way out
        ("a: {panel: back, left: 200 mm, bottom: 400 mm, bulkhead: d25}", 0.3894, "the open bulkhead a"),
        (
            "a: {panel: back, left: 200 mm, bottom: 400 mm, bulkhead: d25, plugged: true}",
            0.500,
            "the rim of tank",
        ),
        (
            "a: {panel: back, left: 200 mm, bottom: 400 mm, diameter: 30 mm, plugged: true}",
            0.500,
            "the rim of tank",
        ),
        # and one under water leaks already, which is another rule's
        ("a: {panel: back, left: 200 mm, bottom: 200 mm, diameter: 30 mm}", 0.500, "the rim of tank"),
    ],
)
def test_the_tank_spills_at_its_lowest_open_hole_above_the_water(sump_scene, holes, spill, words):
    found = circuit(sump_scene(holes=f", {holes}" if holes else ""))
    assert found.spill == pytest.approx(spill)
    assert found.spill_words == words
    assert found.rim == pytest.approx(0.500)


# -- what the returns bring ---------------------------------------------------------------------------------


def band(low, likely, high):
    return Band(low=low, likely=likely, high=high)


def brought(model, way, **system):
    """Return the flow to the tank where a system of these flows feeds a return."""
    given = {"pump_names": ("pump", "other"), "runs": True, "failures": (), "pumps": (), "outs": ()}
    result = SimpleNamespace(systems=(SimpleNamespace(**(given | system)),), idle=())
    return flow_to_tank(model, way.pipework, way.pumps, result)


def test_what_reaches_the_tank_is_least_where_the_pumps_give_least_and_the_bypass_takes_most(sump_scene):
    """Pumps 7, 8, 9 L/min of which 1, 2, 4 go back to the sump: 3, 6 and 8 are left."""
    route = "[{left: 80 mm}, {down: 60 mm}, open]"
    back = f"bypass: {{kind: run, pipe: d25 pn 10, start: return.side, route: {route}}}"
    model = sump_scene(valve="{tee: left, name: side}\n    - up: 100 mm", more=back)
    (way,) = circuit(model).returns
    mine = SimpleNamespace(pump="pump", flow=band(7.0, 8.0, 9.0))
    foreign = SimpleNamespace(pump="other", flow=band(1.0, 1.0, 1.0))
    aside, up = (SimpleNamespace(part=part, flow=band(1.0, 2.0, 4.0)) for part in ("bypass", "feed"))
    flow, why = brought(model, way, pumps=(mine, foreign), outs=(aside, up))
    assert (flow.low, flow.likely, flow.high) == (3.0, 6.0, 8.0)
    assert why == ""
    nothing, _ = brought(
        model, way, pumps=(mine,), outs=(SimpleNamespace(part="bypass", flow=band(9, 9, 9)),)
    )
    assert (nothing.low, nothing.likely, nothing.high) == (0.0, 0.0, 0.0)


def test_a_flow_that_is_not_known_is_told_with_its_reason(plain):
    model, found = plain
    (way,) = found.circuit.returns
    failure = SimpleNamespace(message="no such loss")
    assert brought(model, way, runs=False, failures=(failure, failure)) == (
        None,
        "no such loss; no such loss",
    )
    off, why = brought(model, way, runs=False)
    assert (off.low, off.high, why) == (0.0, 0.0, "")
    idle = SimpleNamespace(pump="pump", why="it is shut off")
    other = SimpleNamespace(pump="other", why="of no interest")
    for those, words in (((other, idle), "it is shut off"), ((other,), "it is no part of the network")):
        result = SimpleNamespace(systems=(), idle=those)
        assert flow_to_tank(model, way.pipework, way.pumps, result) == (None, words)


def test_a_return_knows_its_pumps_and_its_hole(plain):
    (way,) = plain[1].circuit.returns
    assert way.holes == ("supply",)
    (pump,) = way.pumps
    assert (pump.name, pump.sump, pump.compartment, way.name) == ("pump", "sump", "chamber", "pump")
    assert way.failure == ""
    assert way.check_valves == ()
    # one pump and no way aside: what the pump gives is what the tank gets
    for setting in ("low", "likely", "high"):
        assert way.flow.at(setting) == pytest.approx(pump.flow.at(setting), rel=1e-6)
    assert plain[1].circuit.flow.likely == way.flow.likely


# -- water in pipes -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("a", "b", "water", "share"),
    [
        (0.2, 0.6, None, 1.0),  # over the room
        (0.2, 0.6, 0.3, 0.75),
        (0.6, 0.2, 0.3, 0.75),
        (0.2, 0.6, 0.1, 1.0),
        (0.2, 0.6, 0.7, 0.0),
        (0.4, 0.4, 0.3, 1.0),  # level, over the water
        (0.4, 0.4, 0.4, 1.0),
        (0.4, 0.4, 0.5, 0.0),
    ],
)
def test_the_share_of_a_leg_that_stands_out_of_the_water(a, b, water, share):
    assert _share_above(a, b, water) == pytest.approx(share)


def test_drains_hold_from_a_sheet_in_all_of_them_to_all_of_them_full(plain):
    """Legs of 105, 75 and 258 mm, 20 mm of bulkhead, 0.784 m upright (worked out at the drain-back by hand).

    Low: all of it an eighth full by Wyly and Eaton, (1.87 gpm / (27.8 x 1.34^(8/3)))^(3/5); high: full.
    """
    contents = plain[1].circuit.drain_contents
    full = math.pi / 4 * ((0.438 + 0.784) * 0.0362**2 + 0.020 * 0.0340**2)
    assert contents.high == pytest.approx(full, rel=0.01)
    filled = (1.87 / (27.8 * 1.34 ** (8 / 3))) ** 0.6
    assert contents.low == pytest.approx(filled * full, rel=0.02)


def test_no_water_is_on_its_way_in_a_drain_that_does_not_run(sump_scene):
    """The second drain's mouth stands 30 mm over the first, and the head is 7 mm."""
    more = """
emergency_in: {kind: run, pipe: d40 pn 10, start: emergency.inside,
  route: [{front: 100 mm}, {up: 130 mm}, open]}
emergency_down: {kind: run, pipe: d40 pn 10, start: emergency.outside,
  route: [{back: 70 mm}, {down: 500 mm}, {front: 300 mm}, {down: 100 mm}, open]}"""
    hole = ", emergency: {panel: back, left: 650 mm, bottom: 150 mm, bulkhead: d40}"
    model = sump_scene(more=more, holes=hole)
    found = circuit(model)
    first, second = found.drains
    assert second.crest > found.level.likely > first.crest
    levels = {f"sump.{item.name}": item.level.likely for item in found.compartments}
    assert found.drain_contents.high == pytest.approx(
        dry_volume(model, first.way.edges, found.level.likely, levels)
    )


# -- socks --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("place", "left", "below"),
    [("inlet", 194, 1), ("inlet", 60, 0), ("chamber", 300, 0)],
)
def test_a_sock_is_one_that_a_drain_ends_over(sump_scene, place, left, below):
    """The drain comes down 800 mm from the left, 708 into the sump: 194 + 120 mm into the inlet, by 8 mm."""
    found = circuit(sump_scene(more=SOCK.format(place=place, left=left)))
    assert len(found.socks) == below
    for sock in found.socks:
        assert sock.area == pytest.approx(0.114 * 0.094)
        assert sock.rim - sock.floor == pytest.approx(0.197)
        assert sock.floor == pytest.approx(FLOOR + 0.103)
        assert sock.compartment == "sump.inlet"


# -- events -------------------------------------------------------------------------------------------------


def test_with_check_valve_and_break_both_failed_it_is_as_without_either(sump_scene):
    """A hole of 4 mm breaks the siphon, a check valve stops it; each fails alone, then both."""
    feed = (
        "{front: 60 mm}, {up: 120 mm, drip: {diameter: 4 mm, pitch: 10 mm, margin: 25 mm, count: 1}}, "
        "{front: 80 mm}, {down: 120 mm}, open"
    )
    model = sump_scene(supply=150, feed=feed, valve=VALVE)
    found = outages(model)
    valves, breaks, both = found.failed
    assert [event.devices for event in found.failed] == [
        "check valves fail",
        "siphon breaks are clogged",
        "check valves fail and siphon breaks are clogged",
    ]
    hole = next(e.holes[0] for e in model.built["feed"].data.elements if e.holes)
    # with the valve holding, the tank stays at its overflow whatever the hole does
    assert found.power_cut.tank_level.likely == breaks.tank_level.likely == pytest.approx(0.250)
    assert valves.tank_level.likely == pytest.approx(min(0.250, hole.at[2] - 0.002))
    assert both.tank_level.likely == pytest.approx(0.150)
    assert both.floor.high >= valves.floor.high
    assert found.careful_mark.devices == both.devices


def test_a_drain_that_runs_full_goes_on_as_a_siphon_and_a_note_says_so(plain):
    """Of two drains alike one reaches 50 mm below its crest: high, the tank falls that much farther."""
    model, found = plain
    (drain,) = found.circuit.drains
    deep = replace(drain, name="deep", siphon_level=drain.crest - 0.05)
    for drains, siphons in (((drain,), False), ((drain, deep), True), ((deep, drain), True)):
        cut = power_cut(Running(model=model, circuit=replace(found.circuit, drains=drains)))
        assert any("siphon" in note for note in cut.notes) == siphons
        assert cut.tank_levels[:2] == pytest.approx((drain.crest, drain.crest))
        assert cut.tank_levels[2] == pytest.approx(drain.crest - 0.05 * siphons)


def test_a_blocked_drain_is_named(plain, sump_scene):
    assert [event.subject for event in plain[1].blocked] == ["overflow"]
    buried = outages(sump_scene(more="bed: {kind: substrate, depth: 300 mm}", waterline="320 mm"))
    assert [event.subject for event in buried.blocked] == ["no drain"]
    assert buried.circuit.overflows
    assert not plain[1].circuit.overflows


def test_all_that_leaves_the_tank_is_in_sump_pipes_or_on_the_floor(plain):
    for event in plain[1].events:
        for n in range(3):
            gone = event.before.tank[n] - event.after.tank[n]
            elsewhere = sum(
                after[n] - before[n]
                for after, before in (
                    (event.after.sump, event.before.sump),
                    (event.after.pipes, event.before.pipes),
                    (event.after.floor, event.before.floor),
                )
            )
            assert gone == pytest.approx(elsewhere, abs=1e-9)


def test_the_chamber_s_level_holds_what_it_is_asked_to(plain):
    """Its own plan is some 0.1976 m²; the inlet's water is behind a baffle until the chamber reaches it."""
    model, found = plain
    sump = found.circuit.sump
    flow = found.circuit.flow
    heights = [item.level.likely for item in running_levels(model, sump, flow)[:-1]]
    level = FLOOR + 0.200
    held = sump.held([*heights, level])
    assert _chamber_for(found.circuit, heights, held) == pytest.approx(level, abs=1e-6)
    # where the chamber stands over them, the others stand with it
    high = FLOOR + 0.300
    assert _chamber_for(found.circuit, heights, sump.held([high, high])) == pytest.approx(high, abs=1e-6)
    full = sump.held([sump.rim, sump.rim])
    for more in (0.001, 0.1, 10.0):
        assert _chamber_for(found.circuit, heights, full + more) == sump.rim
    assert _chamber_for(found.circuit, heights, 0.0) == sump.floor


def event_of(**more):
    water = Ledger(tank=(0.3,) * 3, sump=(0.1,) * 3, pipes=(0.01,) * 3)
    given = {
        "kind": "power cut",
        "subject": "",
        "before": water,
        "after": water,
        "tank_levels": (0.3, 0.2, 0.1),
        "chamber_levels": (-0.5, -0.45, -0.4),
        "moves": (0.0, 0.01, 0.02),
        "tank_rim": 0.5,
        "sump_rim": -0.3,
    }
    return Event(**(given | more))


def test_margins_are_what_is_left_below_the_rims():
    event = event_of()
    assert (event.tank_level.low, event.tank_level.likely, event.tank_level.high) == (0.1, 0.2, 0.3)
    assert event.tank_margin.low == pytest.approx(0.2)
    assert event.tank_margin.high == pytest.approx(0.4)
    assert event.sump_margin.low == pytest.approx(0.1)
    assert event.sump_margin.likely == pytest.approx(0.15)
    assert event.moved.high == 0.02
    assert event.floor.high == 0.0
    assert event.before.total == pytest.approx((0.41,) * 3)


def test_water_anywhere_on_the_floor_floods(plain):
    """On the floor at the high figure alone, in any one event; or where no mark holds."""
    found = plain[1]
    assert not found.floods
    dry = event_of()
    wet = event_of(
        after=Ledger(tank=(0.3, 0.3, 0.29), sump=(0.1,) * 3, pipes=(0.01,) * 3, floor=(0.0, 0.0, 0.01))
    )
    assert not replace(found, power_cut=dry, blocked=(dry,)).floods
    assert replace(found, power_cut=wet).floods
    assert replace(found, failed=(dry, wet)).floods
    assert replace(found, blocked=(dry, wet)).floods
    assert replace(found, beside=(wet,)).floods
    assert not replace(found, holes=(wet,)).floods  # what a fitting does that lets go is told apart
    assert replace(found, mark=replace(found.mark, running=None)).floods
    names = [event.kind for event in replace(found, beside=(wet,)).events]
    assert names == ["power cut", "power cut", "blocked drain", "pump stopped", "lets go", "lets go"]


# -- the mark -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mark", "miss", "holds"),
    [(0.15, 0.0, True), (0.10, 0.0, True), (0.20, 0.0, True), (0.08, -0.02, False), (0.23, 0.03, False)],
)
def test_how_far_a_mark_lies_outside_its_band(mark, miss, holds):
    line = FillLine(lowest=0.1, highest=0.2, lowest_event="", highest_event="", room=0.01, remedies=())
    one = FillMark(line=line, running=(0.1, 0.2), stopped=(0.15, 0.25), mark=mark, mark_stopped=0.2)
    assert one.miss == pytest.approx(miss)
    assert one.holds == holds
    none = replace(one, running=None, stopped=None)
    assert (none.miss, none.holds) == (0.0, False)


def test_the_marks_stopped_are_the_marks_and_what_comes_down(plain):
    """Chamber 0.1976 m², below the baffle that rules both at rest: each mark rises by the same water."""
    found = plain[1]
    mark, cut = found.mark, found.power_cut
    rise = cut.chamber_level.likely - found.circuit.chamber_level
    low, _ = mark.running
    assert mark.stopped[0] - low == pytest.approx(rise, rel=0.02)
    # from the highest mark, at the baffle, all three plans rise together
    more = mark.stopped[1] - mark.running[1]
    assert more * 0.4 * 0.8 == pytest.approx(rise * 0.494 * 0.4, rel=0.05)


# -- evaporation --------------------------------------------------------------------------------------------


def test_the_band_of_what_evaporates_by_hand():
    """Water 28 °C, air 22 °C half moist: 8.43 kg a day and m² agitated (ASHRAE), 5.02 still (Shah).

    Low: half of the first, 4.22; likely 0.74 of it, 6.24; high all of it. Of 2 m² twice as much.
    """
    one = evaporation(2.0, water=28.0, air=22.0, humidity=0.5, speed=0.1)
    figures = [one.at(setting) * DAY / 2.0 for setting in ("low", "likely", "high")]
    assert figures == pytest.approx([4.215, 6.238, 8.43], rel=6e-3)


def test_still_water_that_rises_fast_sets_the_high_figure():
    """Hot water in a cold room: the air over it rises, and Shah's still surface is above the activity's."""
    given = {"water": 40.0, "air": 5.0, "humidity": 0.5}
    full, still = natatorium_rate(**given, speed=0.0), still_surface_rate(**given)
    one = evaporation(1.0, **given, speed=0.0)
    assert one.high == pytest.approx(max(full, still))
    assert one.low == pytest.approx(min(0.5 * full, still))
    assert one.low <= one.likely <= one.high


# -- the chamber's stock ------------------------------------------------------------------------------------


def test_the_stock_is_what_stands_over_the_highest_inlet(plain):
    """From the inlet at 42.75 mm, 0.45 of the pump's 95 mm, to 180 mm on 494 by 400 mm, less the pump."""
    circuit_ = plain[1].circuit
    inlet = 0.45 * 0.095
    by_hand = (0.180 - inlet) * 0.494 * 0.4 - (0.095 - inlet) * 0.120 * 0.075
    assert circuit_.stock == pytest.approx(by_hand, rel=0.01)
    assert circuit_.draws_air == circuit_.suction == pytest.approx(FLOOR + inlet)
    *before, last = circuit_.compartments
    for level, stock in ((0.02, 0.0), (inlet + 0.01, 0.01 * (0.494 * 0.4 - 0.120 * 0.075))):
        low = replace(circuit_, compartments=(*before, replace(last, level=Band.exact(FLOOR + level))))
        assert low.stock == pytest.approx(stock, abs=2e-5)
        assert low.chamber_level == FLOOR + level


def test_a_pump_draws_air_as_soon_as_its_inlet_is_out_of_the_water(plain):
    circuit_ = plain[1].circuit
    names = [
        [pump.name for pump in circuit_.drawing_air(circuit_.suction + above)]
        for above in (-0.001, 0.0, 0.001)
    ]
    assert names == [["pump"], ["pump"], []]


def test_a_pump_stopped_beside_another_leaves_less_in_the_drains_and_its_own_pipe_empty(sump_scene):
    """After it there is in pipes what the other's holds, and in the drains no more than before."""
    more = """
pump_2: {kind: pump, model: medium 2000, speed: 70 %, outlet: d25 pn 10,
  at: {in: sump.chamber, left: 300 mm, front: 150 mm, bottom: 0 mm}}
return_2: {kind: run, pipe: d25 pn 10, start: pump_2.outlet, route: [{up: 950 mm}, {right: 120 mm}, open]}"""
    found = outages(sump_scene(more=more))
    own = {way.pumps[0].name: way.contents for way in found.circuit.returns}
    contents = found.circuit.drain_contents
    before = [contents.low, contents.likely, contents.high]
    for name, other in (("pump", "pump_2"), ("pump_2", "pump")):
        event = next(one for one in found.stopped if one.subject == name)
        for n in range(3):
            in_drains = event.after.pipes[n] - own[other]
            assert 0.0 < in_drains <= before[n] + 1e-12
            fallen = event.before.tank[n] - event.after.tank[n]
            assert event.moves[n] == pytest.approx(fallen + own[name] + before[n] - in_drains, abs=1e-9)
        # the sheet in the uprights thins as the flow to the power of three fifths (Wyly and Eaton)
        flow, _ = found.circuit.flow_without(sump_scene(more=more), name)
        share = (flow.likely / found.circuit.flow.likely) ** 0.6
        assert event.after.pipes[0] - own[other] == pytest.approx(share * before[0], rel=0.02)


def test_what_evaporates_is_that_of_the_scene_s_water_and_air(sump_scene):
    """Carrier at 28 °C under air of 22 °C half moist, 0.1 m/s: 8.43 kg a day and m², likely 0.74 of it."""
    conditions = "water_temperature: 28 °C, air_temperature: 22 °C, humidity: 50 %, air_speed: 0.1 m/s"
    down = outages(sump_scene(top=f"conditions: {{{conditions}}}\n")).run_down
    assert down.loss.likely * DAY == pytest.approx(0.74 * 8.43 * down.area.likely, rel=0.006)
    assert down.loss.high * DAY == pytest.approx(8.43 * down.area.high, rel=0.006)
    assert down.loss.low * DAY == pytest.approx(0.5 * 8.43 * down.area.low, rel=0.006)


def test_a_pump_that_runs_dry_before_anything_spills_is_noted(plain, sump_scene):
    """In a tank 500 mm high it runs dry; over one of 300 the water runs before, and no note is needed."""
    (event,) = plain[1].blocked
    assert event.floor.high == 0.0
    assert event.notes == ("pump runs dry before anything overflows",)
    (spills,) = outages(sump_scene(tall=300, supply=275)).blocked
    assert spills.floor.low > 0.0
    assert spills.notes == ()
