"""Half the foot's depth over the height of the centre of mass: a block tips at the arctangent of that."""

import math

import pytest

from layout3d.catalog import water_density

RULE = "stand-tips"


def by_hand(height, *, deep=0.22, waterline=0.34):
    """Return the angle at which a tank 700 mm long and 400 mm high on its stand tips, [rad]; no beads."""
    foot = deep + 0.02
    floor = -0.016 - height  # under 10 mm of glass and 6 mm of mat
    board = 0.72 * foot * 0.036 * 600.0
    pieces = [
        (0.72 * foot * 0.01 * 2500.0, -0.005),
        (2 * (0.72 + deep) * 0.4 * 0.01 * 2500.0, 0.2),
        (0.7 * deep * waterline * water_density(24.0), waterline / 2),
        (board, -0.016 - 0.018),
        (board, floor + 0.018),
        (2 * 0.036 * foot * (height - 0.072) * 600.0, floor + height / 2),
    ]
    middle = sum(mass * z for mass, z in pieces) / sum(mass for mass, _ in pieces) - floor
    return math.atan2(foot / 2, middle)


@pytest.mark.parametrize(("height", "severity"), [(555, None), (575, "warning"), (1200, "warning")])
def test_either_side_of_the_limit(faulty, height, severity):
    found = faulty(RULE, deep=220, height=height)
    assert [finding.severity for finding in found] == [severity] * (severity is not None)
    assert (by_hand(height / 1000) < math.radians(10)) == (severity is not None)
    for finding in found:
        assert finding.parts == ("stand", "tank")
        assert finding.measured == pytest.approx(by_hand(height / 1000), rel=0.01)


def test_a_hand_pulls_over_what_tips_at_three_degrees(faulty):
    (finding,) = faulty(RULE)
    assert finding.severity == "fault"
    assert finding.measured == pytest.approx(by_hand(1.3, deep=0.1), rel=0.01)
    (finding,) = faulty(RULE, height=900)
    assert finding.severity == "warning"


def test_an_overhang_makes_it_broader(check):
    tank = "kind: tank, inside: [700, 220, 400], glass: 10"
    assert not check(RULE, "stand: {kind: stand, height: 1200, overhang: 120}", tank=tank, waterline=340)
