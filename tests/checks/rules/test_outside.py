"""Parts within the glass."""

import pytest

RULE = "outside"


@pytest.mark.parametrize(
    ("tall", "severity", "measured"),
    [
        (400, None, None),
        (400.05, None, None),
        (400.2, "fault", 0.0002),
        (450, "fault", 0.05),
    ],
)
def test_either_side_of_each_limit(faulty, tall, severity, measured):
    """The tank is 400 mm high; a tenth of a millimetre is let off."""
    found = faulty(RULE, tall=tall)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


BASKET = "one: {{kind: filter_basket, size: [100, 100, 100], at: [{x}, {y}, 0]}}"


@pytest.mark.parametrize(
    ("x", "y", "pane"),
    [(45, 200, "left"), (555, 200, "right"), (300, 45, "front"), (300, 355, "back")],
)
def test_each_wall_counts(check, x, y, pane):
    (finding,) = check(RULE, BASKET.format(x=x, y=y))
    assert finding.measured == pytest.approx(0.005)
    assert f"past the inside face of tank.{pane}" in finding.message


def test_the_floor_counts(check):
    (finding,) = check(RULE, "rod: {kind: heater, at: [300, 200, -5]}", waterline=350)
    assert "past the inside face of tank.bottom" in finding.message


def test_slanted_walls_count(check):
    """A basket's corner 20 mm over a wall at 45 degrees."""
    tank = "DIAMOND"
    middle = 150 + 50 - 20 / 2**0.5
    (finding,) = check(RULE, BASKET.format(x=middle, y=middle), tank=tank)
    assert finding.measured == pytest.approx(0.020)
    assert "tank.side_4" in finding.message


def test_pipework_may_leave_and_equipment_may_stand_over_the_rim(check):
    hose = "hose: {TUBE, start: [300, 100, 50], route: [{up: 600}, {back: 500}, open]}"
    rod = "rod: {kind: heater, length: 500, at: [300, 200, 50]}"
    assert check(RULE, f"{hose}\n{rod}") == ()
