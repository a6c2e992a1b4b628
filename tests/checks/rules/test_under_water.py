"""Equipment that works under water."""

import pytest

from layout3d.checks.rules.under_water import under_water
from layout3d.outage.outages import outages

RULE = "under-water"


@pytest.mark.parametrize(
    ("level", "severity", "measured"),
    [
        ("314.8 mm", None, None),
        ("314.7 mm", "warning", 0.0099),
        ("304.8 mm", "warning", 0.0),
        ("304.7 mm", "fault", -0.0001),
        ("10 in", "fault", -0.0508),
    ],
)
def test_either_side_of_each_limit(faulty, level, severity, measured):
    """A heater of 12 in (304.8 mm) on the floor, 10 mm of water over it (limit water_cover)."""
    found = faulty(RULE, level=level)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


SUMP = "sump: {SUMP, at: [0, 0, -500], inside: [450, 300, 300], compartments: [\
{name: a, length: 200, baffle: {height: 250}}, {name: b, level: 100}]}\n"


@pytest.mark.parametrize(("place", "count"), [("sump.a", 0), ("sump.b", 1)])
def test_in_the_sump_the_water_is_that_of_the_compartment(check, place, count):
    rod = f"rod: {{kind: heater, length: 150, at: {{in: {place}, left: 50, front: 50, bottom: 0}}}}"
    found = check(RULE, SUMP + rod)
    assert [f.measured for f in found] == pytest.approx([0.100 - 0.150] * count)


def test_a_rod_whose_lower_end_alone_is_in_the_sump_is_told_by_how_far_it_stands_out(check):
    """300 mm upright from 20 mm under the water: its middle is 80 mm over the rim of a sump 300 mm high."""
    rod = "rod: {kind: heater, length: 300, at: {in: sump.b, left: 50, front: 50, bottom: 230}}"
    (finding,) = check(RULE, SUMP.replace("level: 100", "level: 250") + rod)
    assert finding.measured == pytest.approx(-0.280)
    assert "the top of rod is 280 mm above the water of sump.b" in finding.message


@pytest.mark.parametrize(("kind", "count"), [("heater", 1), ("mist_maker", 1)])
def test_in_the_room_there_is_no_water(check, kind, count):
    (finding,) = check(RULE, f"one: {{kind: {kind}, at: [-500, 0, 0]}}")
    assert "stands in no water" in finding.message


@pytest.mark.parametrize(("waterline", "severity"), [(39.3, None), (39.2, "warning"), (29.2, "fault")])
def test_of_a_pump_the_inlet_counts(check, waterline, severity):
    """The inlet of a pump 65 mm high at 45 % of its height: 29.25 mm."""
    pump = "pump: {PUMP, at: {left: 300, front: 200, bottom: 0}}"
    found = check(RULE, pump, waterline=waterline)
    assert [f.severity for f in found] == ([severity] if severity else [])


def test_an_air_pump_stands_dry(check):
    assert check(RULE, "pump: {kind: pump, model: small 300, air: true, at: [-500, 0, 0]}") == ()


def test_a_mist_maker_is_covered_and_no_deeper_than_its_fountain_reaches(check):
    """30 mm high, under 10 to 60 mm of water."""
    mist = "mist: {kind: mist_maker, at: {left: 300, front: 200, bottom: 0}}"
    for waterline, count in ((40, 0), (39.9, 1), (90, 0), (90.1, 1)):
        assert len(check(RULE, mist, waterline=waterline)) == count


@pytest.mark.parametrize(
    ("place", "turn", "dry"),
    [("last", "0", True), ("last", "{tip_right: 90 deg}", False), ("first", "0", False)],
)
def test_a_heater_is_not_left_dry_while_a_drain_is_blocked(sump_scene, place, turn, dry):
    """The pumps empty the last compartment; those before it keep their water behind the baffle."""
    model = sump_scene()
    sump = model.sumps[0]
    chamber = sump.data.compartments[0 if place == "first" else -1].name
    rod = (
        f"rod: {{kind: heater, length: 150 mm, diameter: 20 mm, turn: {turn}, "
        f"at: {{in: {sump.part.name}.{chamber}, left: 40 mm, front: 40 mm, bottom: 12 mm}}}}\n"
    )
    found = list(under_water.find(sump_scene(more=rod)))
    assert [finding.parts for finding in found] == [("rod",)] * dry
    if dry:
        low = outages(model).blocked[-1].chamber_level.low - sump.data.floor
        assert found[0].severity == "warning"
        assert found[0].measured == pytest.approx(low - 0.162, abs=2e-3)


def test_a_heater_in_a_compartment_that_is_open_below_is_left_dry_with_the_chamber(sump_scene):
    place = "{in: sump.inlet, left: 40 mm, front: 40 mm, bottom: 12 mm}"
    rod = f"rod: {{kind: heater, length: 150 mm, at: {place}}}\n"
    (finding,) = under_water.find(sump_scene(gap=30, baffle=350, inlet=", level: 180 mm", more=rod))
    assert (finding.severity, finding.parts) == ("warning", ("rod",))
    assert "the water of sump.inlet falls by" in finding.message


@pytest.mark.parametrize(("over", "dry"), [(0.001, True), (-0.001, False)])
def test_a_heater_in_the_tank_that_stopped_pumps_leave_dry(sump_scene, over, dry):
    """Its top just over and just under the level to which the tank falls at rest."""
    low = outages(sump_scene()).power_cut.tank_level.low
    place = f"left: 80 mm, front: 80 mm, bottom: {low - 0.1 + over} m"
    rod = f"rod: {{kind: heater, length: 100 mm, at: {{{place}}}}}\n"
    found = [one for one in under_water.find(sump_scene(more=rod)) if "when the pumps stop" in one.message]
    assert [(one.severity, one.parts) for one in found] == [("warning", ("rod",))] * dry
    assert [one.measured for one in found] == pytest.approx(
        [-over] * dry, abs=1e-4
    )  # the rod takes some water itself
