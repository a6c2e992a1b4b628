"""Sumps that fill and are not pumped back: the faulty scene, and what leads to a sump in other ways."""

from pathlib import Path

import pytest

from layout3d.checks.rules.sump_return import sump_return
from layout3d.flow.overflow import gravity_drains
from layout3d.model.build import build_model
from layout3d.outage.outages import outages
from layout3d.scene.reader import read_scene

FAULTY = Path(__file__).resolve().parents[3] / "scenes" / "faulty"


def model_of(*pieces, more="", name="sump-return"):
    text = (FAULTY / f"{name}.yaml").read_text(encoding="utf-8")
    for old, new in pieces:
        assert old in text
        text = text.replace(old, new)
    return build_model(read_scene("scene.yaml", text=text + more))


def found(*pieces, **given):
    return list(sump_return.find(model_of(*pieces, **given)))


def test_the_room_that_is_left_is_told():
    (finding,) = found()
    assert (finding.severity, finding.parts) == ("fault", ("catch", "standpipe", "down"))
    assert finding.limit == pytest.approx(0.25 * 0.30 * 0.25, rel=0.01)  # 100 mm of 350 are full
    assert "nothing leads it on" in finding.message


def test_a_drain_that_ends_over_the_sump_of_the_pump_is_none():
    assert found(name="sump-drain-back") == []


def test_a_drain_that_ends_behind_the_first_compartment():
    (finding,) = found(("{name: inlet, length: 250", "{name: inlet, length: 30"), name="sump-drain-back")
    assert (finding.severity, finding.parts) == ("warning", ("standpipe", "down", "sump.inlet"))
    assert "nothing runs through it" in finding.message


def test_a_drain_without_a_pump_that_fills_the_tank_brings_nothing():
    assert found(("join: supply.outside", "cap")) == []


def test_a_tank_that_empties_into_a_sump_without_any_pump():
    """By hand: 800 by 400 mm from the water at 194 down to the bulkhead's foot, at 100 - 34 / 2 mm."""
    shut, bare = (
        ("join: supply.outside", "cap"),
        ("[{front: 140}, {up: 75}, strainer]", "[{front: 140}, open]"),
    )
    (finding,) = found(shut, bare)
    assert (finding.severity, finding.parts) == ("fault", ("standpipe", "down", "catch"))
    assert finding.measured == pytest.approx(0.8 * 0.4 * (0.194 - 0.083), rel=0.01)
    assert finding.limit == pytest.approx(0.25 * 0.30 * 0.25, rel=0.01)


def test_a_hose_over_the_rim_that_may_siphon_the_tank_into_a_sump():
    """From 40 mm over the floor: 0.32 m² by 154 mm, once it is primed."""
    hose = """
  hose: {kind: run, tube: 12/16 mm, start: [500, 60, 40], bend_radius: 80,
    route: [{up: 480}, {front: 200}, {down: 850}, {back: 300}, open]}
"""
    (finding,) = found(("join: supply.outside", "cap"), more=hose)
    assert (finding.severity, finding.parts) == ("warning", ("hose", "catch"))
    assert finding.measured == pytest.approx(0.8 * 0.4 * 0.154, rel=0.01)


def test_a_pump_that_leads_on_does_not_bring_it_back():
    on = """
  on: {kind: pump, model: small 1000, outlet: d20 pn 16,
    at: {in: catch.inlet, left: 100, front: 100, bottom: 0}}
  over: {kind: run, pipe: d20 pn 16, start: on.outlet, route: [{up: 500}, {left: 300}, {down: 200}, open]}
"""
    (finding,) = found(more=on)
    assert finding.parts == ("catch", "standpipe", "down")
    assert "on lead it on, by no figure here" in finding.message


def test_a_second_sump_with_a_return_pump_is_a_fault():
    second = """
  other: {kind: pump, model: small 1000, outlet: d20 pn 16,
    at: {in: catch.inlet, left: 100, front: 150, bottom: 0}}
  other_up: {kind: run, pipe: d20 pn 16, start: other.outlet,
    route: [{up: 400}, {front: 250}, {up: 950}, {back: 250}, {down: 60}, open]}
"""
    (finding,) = found(more=second)
    assert finding.parts == ("below", "catch")
    assert "no level is figured for below" in finding.message


def test_a_pump_before_the_last_compartment_is_a_fault():
    two = "[{name: first, length: 180, level: 200, baffle: {height: 300}}, {name: return, level: 200}]"
    there = (
        ("compartments: [{name: return, level: 200}]", f"compartments: {two}"),
        ("below.return", "below.first"),
    )
    _, drawn = found(*there)
    assert (drawn.severity, drawn.parts) == ("fault", ("pump", "below.first"))
    assert "as far as below.return" in drawn.message


def test_a_pump_that_draws_the_tank_down_is_a_fault():
    drawing = """
  drawing: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 520, front: 200, bottom: 0}}
  over: {kind: run, pipe: d20 pn 16, start: drawing.outlet,
    route: [{up: 500}, {front: 260}, {down: 900}, {back: 260}, open]}
"""
    drawn, filled = found(more=drawing)
    assert (drawn.severity, drawn.parts) == ("fault", ("drawing", "catch"))
    assert filled.parts == ("catch", "standpipe", "down")
    model = model_of(more=drawing)
    (still,) = (event for event in outages(model).stopped if event.subject == "drawing")
    assert "not figured" in still.notes[0]


@pytest.mark.parametrize(("height", "floods"), [(200, True), (800, False)])
def test_what_the_other_sump_takes_up_is_not_on_the_floor(height, floods):
    model = model_of(
        ("inside: [250, 300, 350]", f"inside: [250, 300, {height}]"), ("height: 800}", "height: 1000}")
    )
    (event,) = outages(model).beside
    assert "no pump returns what runs to catch" in event.notes[0]
    assert (event.floor.likely > 0.0) is floods
    room = 0.25 * 0.30 * (height - 100) / 1000
    before, after = event.before, event.after
    lost = before.tank[1] - after.tank[1] + before.pipes[1] - after.pipes[1] + event.moved.likely
    assert event.floor.likely == pytest.approx(max(0.0, lost - room), abs=3e-5)


BELOW = ("\n  sump:\n", "\n  below:\n"), ("in: sump.return", "in: below.return")


def reservoir(*, level=290, down=420, bottom=-400, more=""):
    """Return a reservoir of 300 by 300 mm beside the sump, 8 mm of glass, with a pump to top up."""
    return f"""
  store: {{kind: sump, at: [-500, 20, {bottom}], inside: [300, 300, 300], fixed_to: room,
    compartments: [{{name: all, level: {level}}}]}}
  topup: {{kind: pump, model: small 300, outlet: d20 pn 16,
    at: {{in: store.all, left: 200, front: 150, bottom: 0}}}}
  line: {{kind: run, pipe: d20 pn 16, start: topup.outlet,
    route: [{{up: 350}}, {{right: 500{more}}}, {{down: {down}}}, open]}}
"""


def topped_up(**given):
    return found(*BELOW, name="drain-blocked", more=reservoir(**given))


@pytest.mark.parametrize(("level", "severity"), [(290, "fault"), (150, "warning")])
def test_a_reservoir_that_siphons_into_the_sump(level, severity):
    """By hand: 0.09 m² from the level to the pump's inlet, about half of its 55 mm up, less half the pump.

    The sump, 0.18 m² and 150 mm over its water, has some 26 L of room, of which 5 L or so drain back.
    """
    (finding,) = topped_up(level=level)
    assert (finding.severity, finding.parts) == (severity, ("topup", "below"))
    inlet = 0.055 / 2
    by_hand = 0.3 * 0.3 * (level / 1000 - inlet) - 0.055 * 0.045 * (0.055 - inlet)
    assert finding.measured == pytest.approx(by_hand, rel=0.03)
    assert 0.017 < finding.limit < 0.025
    assert "siphons" in finding.message


def test_an_end_over_the_reservoirs_water_or_air_above_it_stops_the_siphon():
    """Then only a pump that runs on fills the sump, and what has room there is not told."""
    drip = ", drip: {diameter: 4, pitch: 20, count: 1}"
    (on,) = topped_up(more=drip)
    assert (on.severity, "if it isn't stopped" in on.message) == ("warning", True)
    assert topped_up(level=150, more=drip) == []
    assert topped_up(level=150, bottom=-800, down=100) == []


def test_a_hose_from_a_higher_sump_fills_the_lower_one_only():
    hose = """
  store: {kind: sump, at: [-500, 20, -400], inside: [300, 300, 300], fixed_to: room,
    compartments: [{name: all, level: 290}]}
  hose: {kind: run, pipe: d20 pn 16, start: [-300, 170, -300],
    route: [{up: 300}, {right: 500}, {down: 450}, open]}
"""
    (finding,) = found(*BELOW, name="drain-blocked", more=hose)
    assert finding.parts == ("hose", "below")
    assert finding.measured == pytest.approx(
        0.09 * 0.198, rel=0.02
    )  # 290 mm on a floor at -392, down to -300


SHELF = """format: 1
units: mm
waterline: 300
parts:
  tank: {kind: tank, inside: [800, 400, 400], glass: 10}
  shelf: {kind: sump, at: {left: 900, front: 0, bottom: 300}, inside: [400, 400, 500], fixed_to: [room],
    compartments: [{name: store, level: 450}]}
  hose: {kind: run, tube: 12/16 mm, start: {in: shelf.store, left: 60, front: 200, bottom: START},
    route: [{up: 600}, {left: 400}, {down: 550}, open]}
"""


@pytest.mark.parametrize(("start", "down_to", "severity"), [(20, 378, "fault"), (280, 638, "warning")])
def test_a_reservoir_over_the_tank_siphons_into_that(start, down_to, severity):
    """By hand: 0.16 m² from its water at 758 mm to the hose's end; 100 mm of 0.32 m² are its room."""
    model = build_model(read_scene("scene.yaml", text=SHELF.replace("START", str(start))))
    (finding,) = sump_return.find(model)
    assert (finding.severity, finding.parts) == (severity, ("hose", "tank"))
    assert finding.measured == pytest.approx(0.16 * (758 - down_to) / 1000, rel=0.01)
    assert finding.limit == pytest.approx(0.032, rel=0.01)
    assert gravity_drains(model) == ()  # nothing runs up to it


def test_a_reservoir_over_the_tank_runs_on_into_the_sump():
    """Its hose is no drain that fills it, and what it brings has to find room in the sump."""
    hose = SHELF[SHELF.index("  shelf:") :].replace("START", "20").replace("{up: 600}", "{up: 700}")
    (finding,) = found(*BELOW, more=hose.replace("down: 550", "down: 500"), name="drain-blocked")
    assert finding.parts == ("hose", "below")
    assert "from shelf into tank by itself" in finding.message
