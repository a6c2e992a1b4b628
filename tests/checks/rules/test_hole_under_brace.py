"""Holes behind braces and rim."""

import math

import pytest

RULE = "hole-under-brace"


@pytest.mark.parametrize(
    ("height", "severity", "measured"),
    [
        (302.5, None, None),
        (302.6, "warning", 0.0099),
        (312.5, "warning", 0.0),
        (312.6, "fault", -0.0001),
        (347.5, "fault", -0.010000000000000002),
    ],
)
def test_either_side_of_each_limit(faulty, height, severity, measured):
    """A strip from 330 to 340 mm, a hole of 35 mm, 10 mm between (limit bulkhead_to_brace)."""
    found = faulty(RULE, height=height)
    if severity is None:
        assert found == ()
    else:
        (finding,) = found
        assert finding.severity == severity
        assert finding.measured == pytest.approx(measured, abs=1e-6)


@pytest.mark.parametrize(
    ("panel", "where"),
    [("front", "left: 300"), ("back", "right: 300"), ("left", "front: 200"), ("right", "back: 200")],
)
def test_a_perimeter_brace_runs_along_each_wall(check, panel, where):
    tank = "BOX, perimeter_brace: {width: 60, thickness: 10}"
    (finding,) = check(RULE, tank=tank, holes=f"hole: {{panel: {panel}, {where}, top: 30, diameter: 30}}")
    assert finding.measured == pytest.approx(0.005)


def test_the_flange_counts_where_there_is_one(check):
    """From the flange of 45 mm to the nearest corner of the strip, 25 mm across and 10 mm up."""
    tank = "BOX, cross_braces: [{at: 300, width: 100, thickness: 10}]"
    holes = "hole: {panel: back, left: 225, top: 20, bulkhead: 1/2 in thin}"
    (finding,) = check(RULE, tank=tank, holes=holes)
    assert finding.measured == pytest.approx(math.hypot(0.025, 0.010) - 0.0225)
    assert finding.parts == ("hole", "tank.cross_brace_1")


def test_a_rim_covers_the_outside_of_the_top(check):
    tank = "BOX, rim: {height: 40, thickness: 5}"
    (finding,) = check(RULE, tank=tank, holes="hole: {panel: back, left: 300, top: 60, diameter: 30}")
    assert finding.measured == pytest.approx(0.005)


def test_a_hole_in_the_bottom_is_far_from_any_brace(check):
    tank = "BOX, perimeter_brace: {width: 60, thickness: 10}"
    assert check(RULE, tank=tank, holes="hole: {panel: bottom, left: 300, back: 60, diameter: 35}") == ()
