"""Lights and air pumps over the water."""

import pytest

from layout3d.checks.rules.stays_dry import stays_dry
from layout3d.outage.outages import outages

RULE = "stays-dry"


@pytest.mark.parametrize(
    ("over", "severity", "measured"),
    [
        (50, None, None),
        (49.9, "warning", 0.0499),
        (0, "warning", 0.0),
        (-0.1, "fault", -0.0001),
        (-10, "fault", -0.01),
    ],
)
def test_either_side_of_each_limit(faulty, over, severity, measured):
    """50 mm over the water (limit light_over_water)."""
    found = faulty(RULE, over=over)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


def test_a_lamp_beside_the_tank_is_over_no_water(check):
    lamp = "lamp: {kind: light, size: [400, 100, 20], at: {left: 300, front: Y, bottom: 100}, fixed_to: room}"
    assert check(RULE, lamp.replace("Y", "-200"), waterline=300) == ()
    assert len(check(RULE, lamp.replace("Y", "200"), waterline=300)) == 1


@pytest.mark.parametrize(("air", "bottom", "count"), [("true", 100, 1), ("true", 360, 0), ("false", 100, 0)])
def test_an_air_pump_stands_dry_and_others_do_not(check, air, bottom, count):
    pump = (
        f"pump: {{kind: pump, model: small 300, air: {air}, at: {{left: 600, front: 90, bottom: {bottom}}}}}"
    )
    assert len(check(RULE, pump, waterline=300)) == count


BAR = """
pump: {kind: pump, model: small 1000, outlet: d20 pn 16, at: {left: 80, front: 80, bottom: 0}}
bar: {PIPE, start: pump.outlet, route: [{up: 300}, {back: 120},
  {right: 400, drip: {diameter: 3, pitch: 40}}, cap]}
lamp: {kind: light, size: [200, 60, 20], at: {left: 300, front: FRONT, bottom: 200}, fixed_to: room}
"""


@pytest.mark.parametrize(("front", "count"), [(200, 1), (300, 0)])
def test_a_lamp_under_a_drip_bar_is_told_once(check, front, count):
    found = check(RULE, BAR.replace("FRONT", str(front)))
    assert [(one.severity, one.parts) for one in found] == [("fault", ("lamp", "bar"))] * count


@pytest.mark.parametrize(("bottom", "drowned"), [(400, True), (430, False)])
def test_a_lamp_that_a_blocked_drain_drowns(faulty_text, bottom, drowned):
    """Some 16.5 L come up; over 0.32 m² that is 51 mm, from 375 to 426 mm (test_drain_blocked)."""
    lamp = f"lamp: {{kind: light, size: [200, 60, 20], at: {{left: 600, front: 90, bottom: {bottom}}}}}"
    raised = ("{waterline: 415}", "{waterline: 375}")
    found = faulty_text(RULE, raised, ("\n  nozzle:", f"\n  {lamp}\n  nozzle:"), scene="drain-blocked")
    faults = [one for one in found if one.severity == "fault"]
    assert len(faults) == drowned
    for one in faults:
        assert one.measured == pytest.approx(-0.026, abs=0.003)
        assert one.message.startswith("with the drain 'overflow' blocked the water rises by")


@pytest.mark.parametrize(("over", "drowned"), [(-0.001, True), (0.001, False)])
def test_a_lamp_in_the_sump_that_stopped_pumps_drown(sump_scene, over, drowned):
    """It hangs in the return chamber, just under and over the most that a power cut comes to."""
    model = sump_scene()
    (sump,), level = model.sumps, outages(model).power_cut.chamber_level.high
    place = f"in: {sump.part.name}.{sump.data.return_chamber.name}, left: 60 mm, front: 60 mm"
    place += f", bottom: {level - sump.data.floor + over} m"
    lamp = f"lamp: {{kind: light, size: [40, 40, 20], at: {{{place}}}}}\n"
    found = [one for one in stays_dry.find(sump_scene(more=lamp)) if one.severity == "fault"]
    assert [one.measured for one in found] == pytest.approx(
        [over] * drowned, abs=1e-4
    )  # it takes some water itself
    assert all(one.message.startswith("when the pumps stop the water rises by") for one in found)
