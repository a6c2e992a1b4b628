"""Bends of tubes."""

from types import SimpleNamespace

import pytest

from layout3d.checks.rules.bend_radius import _first_bend

RULE = "bend-radius"


@pytest.mark.parametrize(
    ("radius", "severity", "measured"),
    [
        (96, None, None),
        (95.9, "fault", 0.0959),
        (20, "fault", 0.02),
    ],
)
def test_either_side_of_each_limit(faulty, radius, severity, measured):
    """Vinyl tube of 16 mm outside is bent with six times that at least: common practice, no source."""
    found = faulty(RULE, radius=radius)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


def test_a_straight_tube_has_no_bend(check):
    tube = "hose: {TUBE, bend_radius: 20, start: [100, 200, 50], route: [{up: 90}, {up: 90}, open]}"
    assert check(RULE, tube) == ()


def test_the_place_is_the_bend(faulty):
    """The corner is at x 100, z 250 mm; the middle of the arc lies within the radius of it."""
    (finding,) = faulty(RULE, radius=30)
    x, y, z = finding.at
    assert y == pytest.approx(0.2)
    assert 0.1 < x < 0.13
    assert 0.22 < z < 0.25


def test_the_place_is_the_middle_of_the_arc(faulty):
    """An arc of 30 mm into a right angle: its middle lies 30 (1 - cos 45°) = 8.8 mm from either leg."""
    (finding,) = faulty(RULE, radius=30)
    assert finding.at == pytest.approx((0.1088, 0.2, 0.2412), abs=5e-4)
    assert finding.limit == pytest.approx(6 * 0.016)


def run_of(*paths):
    return SimpleNamespace(elements=[SimpleNamespace(path=path) for path in paths])


STRAIGHT = tuple((float(x), 0.0, 0.0) for x in range(6))
BENT = (*STRAIGHT, (5.5, 0.3, 0), (5.7, 0.8, 0), (5.7, 1.8, 0), (5.7, 2.8, 0), (5.2, 3.2, 0), (4.0, 3.2, 0))
"""Straight to 5, round to the left till 0.8, straight till 2.8, and on to the left."""


def test_the_middle_of_the_first_bend_is_told_wherever_it_lies():
    assert _first_bend(run_of(STRAIGHT)) is None
    assert _first_bend(run_of(STRAIGHT, BENT)) == (5.5, 0.3, 0)
    assert _first_bend(run_of(BENT[::-1])) == (5.7, 2.8, 0)
