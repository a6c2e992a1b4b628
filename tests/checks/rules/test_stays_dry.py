"""Lights and air pumps over the water."""

import pytest

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
        f"pump: {{kind: pump, model: small 300, air: {air}, at: {{left: 300, front: 200, bottom: {bottom}}}}}"
    )
    assert len(check(RULE, pump, waterline=300)) == count
