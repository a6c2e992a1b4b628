"""What failures do to the water of a model: by hand, by what must hold, and by its books."""

import math
import time

import pytest

from layout3d.flow.overflow import running_level
from layout3d.flow.water import water_of
from layout3d.outage.ledger import BALANCE, Event, Ledger
from layout3d.outage.outages import outages

FLOOR = -0.694
AREA = 0.5  # of the tank's inside, [m²]
CHAMBER = 0.494 * 0.4  # of the return chamber, [m²]: 800 less 300 and a baffle of 6 mm, 400 deep
LOW = {"supply": 180, "feed": "{front: 80 mm}, nozzle"}  # the mouth 80 mm under water
VALVE = "check_valve\n    - up: 100 mm"
SECOND = """
emergency_in: {kind: run, pipe: d40 pn 10, start: emergency.inside,
  route: [{front: 100 mm}, {up: 130 mm}, open]}
emergency_down: {kind: run, pipe: d40 pn 10, start: emergency.outside,
  route: [{back: 70 mm}, {down: 500 mm}, {front: 300 mm}, {down: 100 mm}, open]}"""
HOLE = ", emergency: {panel: back, left: 650 mm, bottom: 150 mm, bulkhead: d40}"
SOCK = """
sock: {kind: filter_basket, size: [120 mm, 100 mm, 200 mm], wall: 3 mm,
  at: {in: sump.inlet, left: 194 mm, front: 287 mm, bottom: 100 mm}}"""
SCENES = {
    "plain": {},
    "deep return": LOW,
    "check valve": {**LOW, "valve": VALVE},
    "two drains": {"more": SECOND, "holes": HOLE},
    "sock": {"more": SOCK},
    "small sump": {"length": 420, "height": 300, "level": 240, **LOW},
    "shallow tank": {"tall": 300, "supply": 275},
    "under a baffle": {"gap": 30, "baffle": 350, "inlet": ", level: 180 mm"},
    "slots": {"intake": "{front: 100 mm}, {up: 100 mm}, strainer"},
}


@pytest.fixture(scope="module")
def of(sump_scene):
    """Return what failures do in one of the scenes, each built once."""
    known = {}

    def found(name):
        if name not in known:
            model = sump_scene(**SCENES[name])
            known[name] = (model, outages(model))
        return known[name][1]

    return found


def test_drain_back_by_hand(of):
    """A tank of 0.5 m², a rim 250 mm over its floor, a sump of 0.4 m of depth.

    The rim stands drowned by h = (Q / (1.77 pi D))^(2/3), D 36.2 mm (40 less twice 1.9, DIN 8062): at some
    425 L/h 7.0 mm, so 0.5 m² x 7.0 mm = 3.5 L come down. In the return, 22.0 mm of bore (25 less twice 1.5),
    stand 1.606 m of centre line out of the water, 187 up, 412 back, 174 to the right, 627 up, 206 in, and
    37.5 mm of the nozzle, 13.2 mm wide: 0.62 L.
    In the drain, 36.2 mm of bore, stand level legs of 105 mm in the tank, 75 and 258 mm full and 20 mm of
    bulkhead, 34.0 mm wide: 0.47 L; and 0.784 m of uprights and elbows, 0.121 m of it in the tank, an eighth
    full, (1.87 gpm / (27.8 x 1.34^(8/3)))^(3/5) by Wyly and Eaton: 0.10 L. Over the baffle, 0.4 m wide, stand
    3.2 mm on 0.12 m²: 0.4 L that run on. So 5.1 L come to the chamber, 0.1976 m²: it rises by 26 mm, from
    180 mm to 206 mm, below the baffle at 250 mm.
    """
    found = of("plain")
    flow = found.circuit.flow.likely
    head = (flow / (1.77 * math.pi * 0.0362)) ** (2 / 3)
    from_tank = AREA * head
    in_return, in_drain = found.circuit.returns[0].contents, found.circuit.drain_contents.likely
    by_hand = math.pi / 4 * (1.606 * 0.022**2 + 0.0375 * 0.0132**2)
    assert in_return == pytest.approx(by_hand, rel=0.005)
    legs = math.pi / 4 * (0.438 * 0.0362**2 + 0.020 * 0.0340**2)
    filled = (1.87 / (27.8 * 1.34 ** (8 / 3))) ** 0.6
    assert in_drain == pytest.approx(legs + filled * 0.784 * math.pi / 4 * 0.0362**2, rel=0.01)
    over_baffle = 0.3 * 0.4 * (flow / (1.67 * 0.4)) ** (2 / 3)
    cut = found.power_cut
    assert cut.moved.likely == pytest.approx(from_tank + in_return + in_drain, rel=0.01)
    rise = (from_tank + in_return + in_drain + over_baffle) / CHAMBER
    assert cut.chamber_level.likely - FLOOR == pytest.approx(0.180 + rise, abs=5e-4)
    assert cut.tank_level.likely == pytest.approx(0.250)
    assert cut.rules[1] == "overflow"
    assert cut.floor.high == 0.0


def test_blocked_drain_by_hand(of):
    """The chamber from 180 mm to the pump's inlet at 42.75 mm, 0.45 of its 95 mm, over the tank's 0.5 m²."""
    found = of("plain")
    blocked = found.blocked[-1]
    inlet = 0.45 * 0.095
    # of 0.1976 m² the pump takes 0.12 x 0.075 m
    stock = (0.180 - inlet) * CHAMBER - (0.095 - inlet) * 0.120 * 0.075
    assert blocked.chamber_level.likely - FLOOR == pytest.approx(inlet)
    assert blocked.moved.likely == pytest.approx(stock + 0.9e-3, rel=0.02)  # 0.9 L from baffle and drain
    assert blocked.tank_level.likely == pytest.approx(
        found.circuit.level.likely + blocked.moved.likely / AREA, rel=1e-3
    )
    assert blocked.floor.high == 0.0


def test_a_deep_mouth_siphons_the_tank(of, sump_scene):
    """From the running level to the nozzle's lower edge at 173.4 mm, less what 40 mm pipe takes."""
    found = of("deep return")
    cut = found.power_cut
    assert cut.tank_level.likely == pytest.approx(0.1734, abs=1e-4)
    assert cut.rules[1] == "feed.end"
    fallen = AREA * (found.circuit.level.likely - 0.1734)
    assert cut.moved.likely == pytest.approx(fallen, rel=0.04)


def test_a_check_valve_keeps_it_and_its_failure_is_told(of):
    held, deep = of("check valve"), of("deep return")
    assert held.power_cut.tank_level.likely == pytest.approx(0.250)
    (failed,) = held.failed
    assert failed.devices == "check valves fail"
    assert failed.tank_level.likely == pytest.approx(deep.power_cut.tank_level.likely)
    assert held.careful_mark.devices == "check valves fail"
    assert deep.failed == ()
    assert deep.careful_mark == deep.mark


def test_each_of_two_drains_is_blocked_alone(of):
    found = of("two drains")
    first, second, both = found.blocked
    assert (first.subject, second.subject, both.subject) == ("overflow", "emergency", "all drains")
    # the emergency drain stands 30 mm higher, and takes the flow at the same head
    assert first.tank_level.likely == pytest.approx(found.circuit.level.likely + 0.030, abs=1e-4)
    assert second.tank_level.likely == pytest.approx(found.circuit.level.likely, abs=1e-6)
    assert both.tank_level.likely > first.tank_level.likely


def test_a_clogged_sock_takes_its_water_from_the_chamber(of):
    """Inside 114 x 94 mm, from the inlet's water, 253.2 mm over the floor, to its rim at 300 mm."""
    found = of("sock")
    (event,) = found.clogged
    inlet = found.circuit.compartments[0].level.likely - FLOOR
    held = 0.114 * 0.094 * (0.300 - inlet)
    assert event.moved.likely == pytest.approx(held, rel=1e-6)
    assert event.chamber_level.likely - FLOOR == pytest.approx(0.180 - held / CHAMBER, abs=1e-4)


def test_a_fitting_that_lets_go(of):
    """The overflow's hole, 54 mm wide at 150 mm, empties the tank to 123 mm, and the pump the chamber."""
    found = of("plain")
    drain, supply = found.holes
    assert (drain.subject, supply.subject) == ("overflow", "supply")
    assert drain.tank_level.likely == pytest.approx(0.123)
    fallen = AREA * (found.circuit.level.likely - 0.123)
    stock = found.blocked[-1].moved.likely - found.circuit.drain_contents.likely
    assert drain.floor.likely == pytest.approx(fallen + stock, rel=0.01)
    assert drain.chamber_level.likely - FLOOR == pytest.approx(0.45 * 0.095)  # down to the pump's inlet
    # the supply lies above the water: only what is pumped comes out
    assert supply.tank_level.likely == found.circuit.level.likely
    assert supply.floor.likely == pytest.approx(stock + found.circuit.returns[0].contents, rel=1e-6)


def test_a_bulkhead_with_a_pipe_inside_that_reaches_lower(sump_scene):
    found = outages(sump_scene(intake="{front: 100 mm}, {down: 90 mm}, open"))
    event = next(one for one in found.holes if one.subject == "overflow")
    assert event.tank_level.likely == pytest.approx(0.060)
    assert event.rules[1] == "a mouth inside, by siphon"


def test_run_down_by_hand(of):
    """The stock over the inlet by the daily loss; a kilogram of water is 1.0027 L at 24 °C (Tanaka 2001)."""
    found = of("plain")
    down = found.run_down
    inlet = 0.45 * 0.095
    stock = (0.180 - inlet) * CHAMBER - (0.095 - inlet) * 0.120 * 0.075
    assert down.stock == pytest.approx(stock, rel=0.01)
    assert down.daily.likely == pytest.approx(down.loss.likely * 86400 * 1.0027e-3, rel=1e-4)
    for setting, other in (("low", "high"), ("likely", "likely"), ("high", "low")):
        assert down.days.at(setting) == pytest.approx(down.stock / down.daily.at(other), rel=1e-6)
    # 0.5 m² of tank, 0.12 and 0.1976 m² of sump less pipes and pump
    assert down.area.likely == pytest.approx(0.8176, rel=0.01)


def test_a_wall_that_drips_evaporates_with_its_relief(sump_scene):
    """Seven holes 25 mm apart under a bar of 25 mm at 300 mm wet 0.150 m of wall, 287.5 mm down to the water.

    A plain strip is likely; relief makes half as much again of it at high (common practice, no source).
    """
    drip = "drip: {diameter: 2.5 mm, pitch: 25 mm, margin: 40 mm, count: 7, angles: [0 deg]}"
    found = outages(sump_scene(feed=f"{{front: 80 mm}}, {{right: 300 mm, {drip}}}, cap"))
    area, wall = found.run_down.area, 0.150 * (0.2875 - found.circuit.level.likely)
    assert area.likely - area.low == pytest.approx(wall, rel=1e-6)
    assert area.high - area.low == pytest.approx(1.5 * wall, rel=1e-6)
    assert area.low == pytest.approx(0.8176, rel=0.01)  # tank and sump as without the bar


def test_holes_round_the_pipe_wet_the_wall_from_the_highest(sump_scene):
    """Holes below and at the side of a bar of 25 mm at 300 mm: wet from 300 mm, not from 287.5 mm."""
    drip = "drip: {diameter: 2.5 mm, pitch: 25 mm, margin: 40 mm, count: 7, angles: [0 deg, 90 deg]}"
    found = outages(sump_scene(feed=f"{{front: 80 mm}}, {{right: 300 mm, {drip}}}, cap"))
    area, wall = found.run_down.area, 0.150 * (0.300 - found.circuit.level.likely)
    assert area.likely - area.low == pytest.approx(wall, rel=0.01)  # its length is taken from hole to hole


def test_air_as_moist_as_the_water_takes_nothing(sump_scene):
    more = "conditions: {water_temperature: 22 °C, air_temperature: 22 °C, humidity: 100 %}\n"
    down = outages(sump_scene(top=more)).run_down
    assert down.days is None
    assert down.loss.high == 0.0
    assert down.why_not == "nothing evaporates in this air"


def test_air_below_freezing_is_not_figured(sump_scene):
    down = outages(sump_scene(top="conditions: {air_temperature: -5 °C}\n")).run_down
    assert down.loss is None
    assert "temperature" in down.why_not


def test_pumps_stopped_alone(of, sump_scene):
    (event,) = of("plain").stopped
    assert event.subject == "pump"
    assert event.tank_level == of("plain").power_cut.tank_level
    stirrer = (
        "stirrer: {kind: pump, model: small 600, faces: side, "
        "at: {left: 200 mm, front: 200 mm, bottom: 50 mm}}"
    )
    events = outages(sump_scene(more=stirrer)).stopped
    still = next(one for one in events if one.subject == "stirrer")
    assert still.moved.high == 0.0
    assert still.notes == ("it moves water within one vessel: levels stay",)


PUMP_TWO = """
pump_2: {kind: pump, model: medium 2000, speed: 70 %, outlet: d25 pn 10,
  at: {in: sump.chamber, left: 300 mm, front: 150 mm, bottom: 0 mm}}
return_2: {kind: run, pipe: d25 pn 10, start: pump_2.outlet, route: [{up: 950 mm}, {right: 120 mm}, open]}"""


def test_one_of_two_return_pumps_stopped(sump_scene):
    """Each has a pipe of its own: the other goes on as it would alone, at the same levels."""
    model = sump_scene(more=PUMP_TWO)
    found = outages(model)
    both, events = found.circuit, {event.subject: event for event in found.stopped}
    assert {"pump", "pump_2"} <= set(events)
    for name in ("pump", "pump_2"):
        event = events[name]
        assert event.tank_level.likely < both.level.likely
        assert event.tank_level.likely > both.drains[0].crest
        assert event.chamber_level.likely > both.chamber_level
        flow, back = both.flow_without(model, name)
        others = [pump.flow.likely for pump in both.pumps if pump.name != name]
        assert flow.likely == pytest.approx(sum(others), rel=1e-6)
        assert back == 0.0  # its mouth is in air


HEADER = """
pump_2: {{kind: pump, model: medium 2000, speed: 70 %, outlet: d25 pn 10,
  at: {{in: sump.chamber, left: 120 mm, front: 250 mm, bottom: 0 mm}}}}
joined: {{kind: run, pipe: d25 pn 10, start: pump_2.outlet, route: [{{up: 110 mm}}{valve},
  {{until: up, reach: return.second}}, {{join: return.second}}]}}"""


def on_one_header(sump_scene, valve=""):
    """Two pumps alike; the second comes up into a tee in the first one's pipe, which leads over it."""
    lead = "{tee: down, name: second}"
    return sump_scene(
        valve="{back: 100 mm}\n    - " + lead,
        more=HEADER.format(valve=f", {valve}" if valve else "").strip(),
    )


def test_one_of_two_pumps_on_one_header_stopped_is_solved_anew(sump_scene):
    """Alone the other has the header to itself; without a check valve some of it goes back."""
    model = on_one_header(sump_scene)
    found = outages(model)
    share = {pump.name: pump.flow.likely for pump in found.circuit.pumps}
    flow, back = found.circuit.flow_without(model, "pump_2")
    event = next(one for one in found.stopped if one.subject == "pump_2")
    assert back > 0.0
    assert any("no check valve stops" in note for note in event.notes)
    valved = on_one_header(sump_scene, valve="check_valve")
    kept = outages(valved).circuit
    held, none = kept.flow_without(valved, "pump_2")
    assert none == pytest.approx(0.0, abs=1e-9)
    assert held.likely > flow.likely
    assert held.likely > {pump.name: pump.flow.likely for pump in kept.pumps}["pump"]
    assert held.likely < sum(share.values())


def test_a_model_without_a_circuit_has_no_flood(scene):
    assert (
        outages(scene("pump: {kind: pump, model: small 600, at: {left: 300, front: 200, bottom: 0}}")) is None
    )


@pytest.mark.parametrize("name", SCENES)
def test_no_water_is_lost(of, name):
    """All water before equals all water after, to 0.01 %: asked, and kept far better."""
    for event in of(name).events:
        assert event.after.total == pytest.approx(event.before.total, rel=1e-6)
        for where in (event.after.tank, event.after.sump, event.after.pipes, event.after.floor):
            assert min(where) >= -1e-12


@pytest.mark.parametrize("name", SCENES)
def test_levels_after_hold_the_water_of_the_ledger(of, name):
    """The ledger's litres and the levels are two ways to one number."""
    found = of(name)
    tank, sump = found.circuit.tank, found.circuit.sump.whole
    for event in (found.power_cut, *found.failed):
        assert [tank.volume(z) for z in event.tank_levels] == pytest.approx(event.after.tank, rel=1e-9)
        assert [sump.volume(z) for z in event.chamber_levels] == pytest.approx(event.after.sump, rel=1e-9)


@pytest.mark.parametrize("name", SCENES)
def test_figures_rise_from_low_to_high(of, name):
    for event in of(name).events:
        for band in (event.tank_level, event.chamber_level, event.moved, event.floor):
            assert band.low <= band.likely <= band.high


def test_lost_water_is_a_fault_of_the_program():
    """Right at low and likely, 0.1 L short of 400 at high."""
    water = (0.3,) * 3
    before = Ledger(tank=water, sump=(0.1,) * 3, pipes=(0.0,) * 3)
    after = Ledger(tank=water, sump=(0.1, 0.1, 0.0999), pipes=(0.0,) * 3)
    assert BALANCE < 0.0001 / 0.4
    with pytest.raises(ArithmeticError, match=r"0\.025% of the water is unaccounted for"):
        Event(
            kind="power cut",
            subject="",
            before=before,
            after=after,
            tank_levels=(0.1,) * 3,
            chamber_levels=(0.1,) * 3,
            moves=(0.0,) * 3,
            tank_rim=0.5,
            sump_rim=0.2,
        )


INWARD = {"down": "{back: 70 mm}, {down: 400 mm}, {front: 300 mm}, {left: 300 mm}, {down: 200 mm}, open"}


def test_a_larger_sump_never_leaves_less(sump_scene):
    by_length = [outages(sump_scene(length=length, **INWARD, **LOW)) for length in (440, 800)]
    by_height = [outages(sump_scene(height=height, **LOW)) for height in (280, 400)]
    for found in (by_length, by_height):
        floors = [one.power_cut.floor.high for one in found]
        margins = [one.power_cut.sump_margin.low for one in found]
        assert floors == sorted(floors, reverse=True)
        assert margins == sorted(margins)


def test_a_higher_mouth_never_lets_more_back(sump_scene):
    found = [outages(sump_scene(supply=height)) for height in (80, 150, 220, 245, 300)]
    moved = [one.power_cut.moved.high for one in found]
    # above the water the pipe itself grows longer: its own water is left out
    from_tank = [one.power_cut.before.tank[2] - one.power_cut.after.tank[2] for one in found]
    assert from_tank == sorted(from_tank, reverse=True)
    assert moved[0] > moved[-1]


def test_units_do_not_matter(sump_scene, of):
    """The same lengths with their unit behind them, in a scene of inches."""
    inches = outages(sump_scene(units="in"))
    for one, other in zip(of("plain").events, inches.events, strict=True):
        assert one.moved.likely == pytest.approx(other.moved.likely, rel=1e-9)
        assert one.tank_level.likely == pytest.approx(other.tank_level.likely, rel=1e-9)
    assert of("plain").mark.running == pytest.approx(inches.mark.running)


def test_the_fill_line_is_set_by_what_must_hold(of):
    """Lowest: inlet, two days of the highest loss over the chamber; highest: the baffle that fills it."""
    found = of("plain")
    mark = found.mark
    low, high = mark.running
    assert high == pytest.approx(0.250)
    assert mark.line.highest_event == "top of the chamber"
    lost = 2 * found.run_down.daily.high
    chamber = found.circuit.sump.chamber
    assert chamber.volume(FLOOR + low) - chamber.volume(found.circuit.draws_air) == pytest.approx(
        lost, rel=1e-6
    )
    assert mark.line.lowest_event == "evaporation until pump draws air"
    assert mark.mark == pytest.approx(0.180)
    assert mark.holds
    assert mark.mark_stopped == pytest.approx(found.power_cut.chamber_level.likely - FLOOR, abs=1e-6)


def test_a_mark_at_the_highest_just_holds_the_power_cut(sump_scene):
    """Filled to the highest mark that a power cut sets, what comes down and a fifth more reaches the rim."""
    tight = {
        **INWARD,
        "length": 560,
        "height": 310,
        "baffle": 270,
        "intake": "{front: 100 mm}, {up: 100 mm}, strainer",
    }
    # a higher mark lifts less and so pumps more: the highest mark of the highest mark, and so on
    mark = 150.0
    for _ in range(4):
        found = outages(sump_scene(level=mark, **tight))
        assert found.mark.line.highest_event == "power cut"
        mark = found.mark.running[1] * 1000
    cut = found.power_cut
    spare = found.circuit.sump.whole.volumes[-1] - cut.after.sump[2]
    assert spare == pytest.approx(0.20 * cut.moved.high, rel=0.03)
    assert cut.floor.high == 0.0


def test_an_empty_band_says_what_would_open_it(of):
    mark = of("small sump").mark
    assert mark.running is None
    assert mark.miss == 0.0
    assert not mark.holds
    assert any("raise the lowest siphon break by" in text for text in mark.line.remedies)
    assert any(text.startswith("power cut: make the sump larger by") for text in mark.line.remedies)
    assert of("small sump").floods


def test_a_blocked_drain_spills_over_a_shallow_tank(of):
    found = of("shallow tank")
    event = found.blocked[-1]
    assert event.floor.likely > 0.0
    assert event.tank_level.likely == pytest.approx(0.300)
    assert event.rules[1] == "the rim of tank"
    room = found.circuit.tank.volumes[-1] - event.before.tank[1]
    assert event.floor.likely == pytest.approx(event.moved.likely - room)


def test_an_open_hole_above_the_water_is_the_spill(sump_scene):
    hole = ", cable: {panel: back, left: 200 mm, bottom: 400 mm, diameter: 30 mm}"
    found = outages(sump_scene(holes=hole))
    assert found.circuit.spill == pytest.approx(0.385)
    assert found.circuit.spill_words == "the open hole cable"


def test_events_take_little_time(sump_scene):
    model = sump_scene()
    outages(model)  # imports and tables
    again = sump_scene(level=185)
    start = time.process_time()
    outages(again)
    assert time.process_time() - start < 1.0


def test_a_drain_that_ends_beside_the_sump_runs_onto_the_floor(sump_scene):
    """The sump reaches to 700 mm, the drain comes down at 800: what is over inlet and crest goes there."""
    found = outages(sump_scene(length=600))
    (event,) = found.beside
    assert (event.kind, event.subject) == ("drain beside", "overflow")
    circuit = found.circuit
    pumped = circuit.sump.whole.volume(circuit.suction)
    by_hand = circuit.sump_running() - pumped + 0.5 * (circuit.level.likely - circuit.drains[0].crest)
    assert event.floor.likely == pytest.approx(by_hand + circuit.drain_contents.likely, rel=0.01)
    assert found.floods
    cut = found.power_cut
    # what stands over the crest and in the drain goes beside the sump, the return's own water into it
    assert cut.floor.likely == pytest.approx(cut.moved.likely - circuit.returns[0].contents, rel=1e-6)
    assert outages(sump_scene(length=800)).beside == ()


def test_a_drain_whose_mouth_lies_in_sand_is_not_counted_on(sump_scene):
    """The bed reaches over the overflow's open end at 250 mm: nothing gets through, and no drain is left."""
    buried = outages(sump_scene(more="bed: {kind: substrate, depth: 300 mm}", waterline="320 mm"))
    assert buried.circuit.drains == ()
    assert buried.circuit.overflows
    assert any("overflow lies in something" in note for note in buried.circuit.notes)
    shallow = outages(sump_scene(more="bed: {kind: substrate, depth: 20 mm}"))
    assert [drain.name for drain in shallow.circuit.drains] == ["overflow"]


@pytest.mark.parametrize(("inside", "beside"), [("overflow", "emergency"), ("emergency", "overflow")])
def test_of_two_drains_the_lowest_crest_likely_takes_what_comes_down(sump_scene, inside, beside):
    """Crests at 250 and 252 mm; one drain ends in the sump, one on the floor behind it."""
    ways = {
        inside: "{back: 70 mm}, {down: 400 mm}, {front: 300 mm}, {down: 200 mm}, open",
        beside: "{back: 70 mm}, {down: 500 mm}, open",
    }
    more = f"""
emergency_in: {{kind: run, pipe: d40 pn 10, start: emergency.inside,
  route: [{{front: 100 mm}}, {{up: 102 mm}}, open]}}
emergency_down: {{kind: run, pipe: d40 pn 10, start: emergency.outside, route: [{ways["emergency"]}]}}"""
    found = outages(sump_scene(more=more, holes=HOLE, down=ways["overflow"]))
    cut, circuit = found.power_cut, found.circuit
    over = AREA * (circuit.level.likely - 0.250)
    whole = over + circuit.drain_contents.likely
    assert cut.floor.low == 0.0
    assert cut.floor.likely == pytest.approx(whole if beside == "overflow" else 0.0, rel=0.02)
    assert cut.floor.high > whole


def test_a_dry_fitting_that_lets_go_leaves_the_chamber_as_it_is(sump_scene):
    """A bulkhead at 400 mm, over the water and with nothing in it: no water goes, and no level falls."""
    found = outages(sump_scene(holes=", cable: {panel: back, left: 200 mm, bottom: 400 mm, bulkhead: d25}"))
    event = next(one for one in found.holes if one.subject == "cable")
    assert event.floor.high == 0.0
    assert event.chamber_levels == pytest.approx((FLOOR + 0.180,) * 3)


def test_a_third_of_the_slots_stopped_raises_the_tank(of, sump_scene):
    """The limit slots_stopped, a third: two thirds of the slots pass the flow at the level for 3/2 of it."""
    found = of("slots").circuit
    assert found.slots_stopped == pytest.approx(1 / 3, abs=1e-6)
    more = found.flow.map(lambda flow: 1.5 * flow)
    water = water_of(sump_scene())
    by_hand = running_level(found.drains, more, water=water, top=found.spill)
    assert found.level.likely < found.level_stopped.likely <= by_hand.likely + 1e-6
    assert found.level_stopped.likely == pytest.approx(by_hand.likely, abs=1e-3)


def test_a_return_over_the_rim_that_lets_go_pumps_the_chamber_onto_the_floor(sump_scene):
    """It goes through no hole: all above the inlet goes on the floor, and what its own pipe holds."""
    over = "route: [{up: 300 mm}, {back: 400 mm}, {up: 900 mm}, {front: 300 mm}, open]}"
    found = outages(sump_scene(more=PUMP_TWO.replace("route: [{up: 950 mm}, {right: 120 mm}, open]}", over)))
    (event,) = [one for one in found.holes if one.subject == "return_2"]
    circuit = found.circuit
    (way,) = [one for one in circuit.returns if not one.holes]
    pumped = circuit.sump_running() - circuit.sump.whole.volume(circuit.suction)
    assert event.floor.likely == pytest.approx(pumped + way.contents, rel=1e-6)
    assert event.tank_level.high == circuit.level.high  # its mouth is in air: nothing siphons
    assert not any(one.subject == "return" for one in found.holes)


def test_with_one_of_two_drains_blocked_the_other_keeps_its_water(of):
    """By hand: nothing is in the emergency drain, which is dry, so its blocking brings nothing down. With the
    first blocked, what that one held comes down, the tank rises by 30 mm, and the emergency drain's own pipe
    fills by as much as it then holds.
    """
    found = of("two drains")
    first, second, both = found.blocked
    held = found.circuit.drain_contents
    assert held.likely > 1e-4
    assert second.after.pipes == pytest.approx(second.before.pipes, abs=1e-12)
    assert second.moved.high == pytest.approx(0.0, abs=1e-9)
    assert second.after.sump == pytest.approx(second.before.sump, abs=1e-9)
    assert both.after.pipes[1] == pytest.approx(both.before.pipes[1] - held.likely)
    rise = found.circuit.tank.volume(first.tank_levels[1]) - found.circuit.tank.volume(
        found.circuit.level.likely
    )
    assert first.moved.likely == pytest.approx(rise, rel=1e-6)
    emergency = next(drain for drain in found.circuit.drains if drain.name == "emergency")
    bore = 0.25 * math.pi * 0.0362**2  # 40 less twice 1.9 mm, DIN 8062
    # water runs down its uprights as a sheet: 130 mm in the tank stand full of it, 500 + 100 mm fall
    takes = first.after.pipes[1] - first.before.pipes[1] + held.likely
    level_legs = 0.370 + 0.02  # 70 and 300 mm outside, with the bulkhead's way through the glass
    assert bore * level_legs < takes < bore * emergency.way.length
    assert first.after.sump[1] == pytest.approx(first.before.sump[1] + held.likely - rise - takes, rel=1e-9)
