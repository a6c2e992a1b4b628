"""Room over the sump."""

import pytest

RULE = "sump-access"


@pytest.mark.parametrize(
    ("height", "severity", "measured"),
    [
        (356, None, None),
        (356.1, "warning", 0.0999),
        (411, "warning", 0.045),
        (411.1, "fault", 0.0449),
        (436, "fault", 0.02),
    ],
)
def test_either_side_of_each_limit(faulty, height, severity, measured):
    """100 mm for a hand, 45 mm for a flat one (limits hand_access)."""
    found = faulty(RULE, height=height)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


def test_without_a_stand_the_tank_itself_lies_over_it(check):
    sump = "sump: {SUMP, at: [0, 0, -350], inside: [450, 300, 300], compartments: [{name: a, level: 100}]}"
    (finding,) = check(RULE, sump)
    assert finding.parts == ("sump", "tank.bottom")
    assert finding.measured == pytest.approx(0.350 - 0.308 - 0.010)


def test_beside_the_tank_nothing_lies_over_it(check):
    sump = "sump: {SUMP, at: [-800, 0, -350], inside: [450, 300, 300], compartments: [{name: a, level: 100}]}"
    assert check(RULE, sump) == ()
