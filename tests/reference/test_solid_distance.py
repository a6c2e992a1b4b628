"""Gaps of the geometry kernel against closed forms, each to 0.01 mm; the form stands beside each case."""

import math

import numpy as np
import pytest
from closed_solids import ball, torus_sector

from layout3d.solid.distance import gap, overlap
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement

approx = pytest.approx
HUNDREDTH = 1e-5  # 0.01 mm
PIPE = 0.01333  # outside radius of a pipe of 26.67 mm, [m]
turns = pytest.mark.parametrize("turn", [0.0, 0.013, math.pi / 7, 1.0])


def lying(radius, length, angle, height, turn=0.0):
    """A round bar level at a height, its middle over the origin, its axis at an angle to x."""
    level = Placement.turned((0, 0, 1), angle) @ Placement.turned((0, 1, 0), math.pi / 2)
    spun = level @ Placement.turned((0, 0, 1), turn) @ Placement.at((0, 0, -length / 2))
    return cylinder(radius, length).solid(Placement.at((0, 0, height)) @ spun)


@turns
@pytest.mark.parametrize("apart", [0.0267, 0.03, 0.1])
def test_two_parallel_pipes(apart, turn):
    """Distance of the axes less both radii."""
    spun = Placement.turned((0, 0, 1), turn)
    one, other = cylinder(PIPE, 1.0).solid(spun), cylinder(PIPE, 0.6).solid(spun)
    found = gap(one, other.moved(Placement.at((0.8 * apart, 0.6 * apart, 0.1))))
    assert found.distance == approx(apart - 2 * PIPE, abs=HUNDREDTH)


@turns
@pytest.mark.parametrize("angle", [90, 50, 20])
def test_two_pipes_that_cross(angle, turn):
    """Distance of two skew axes, here straight up, less both radii; the nearest points lie on that line."""
    found = gap(lying(PIPE, 1.0, 0.0, 0.0, turn), lying(0.008, 1.0, math.radians(angle), 0.05))
    assert found.distance == approx(0.05 - PIPE - 0.008, abs=HUNDREDTH)
    assert found.at_a[2] == approx(PIPE, abs=HUNDREDTH)
    assert found.at_b[2] == approx(0.05 - 0.008, abs=HUNDREDTH)


@turns
def test_pipe_along_the_glass(turn):
    """Distance of the axis from the pane less the radius."""
    pane = box((2.0, 0.012, 1.0)).solid(Placement.at((-1, -0.012, -0.5)))
    pipe = lying(PIPE, 1.5, 0.0, 0.0, turn).moved(Placement.at((0, 0.0155, 0)))
    found = gap(pipe, pane)
    assert found.distance == approx(0.0155 - PIPE, abs=HUNDREDTH)
    assert found.at_b[1] == approx(0.0, abs=1e-9)
    assert overlap(pipe, pane) is None


@turns
def test_pipe_leaning_to_the_glass(turn):
    """A bar of radius r leaning by a, its axis meeting the foot at height c, nearest at the foot's rim:
    c - r cos a, with c the height of the middle of its end."""
    lean = 0.3
    glass = box((2, 2, 0.01)).solid(Placement.at((-1, -1, -0.01)))
    bar = cylinder(PIPE, 0.5).solid(Placement.turned((0, 0, 1), turn))
    bar = bar.moved(Placement.at((0, 0, 0.02)) @ Placement.turned((0, 1, 0), math.pi / 2 - lean))
    assert gap(bar, glass).distance == approx(0.02 - PIPE * math.cos(lean), abs=HUNDREDTH)


@pytest.mark.parametrize("direction", [(1, 0, 0), (1, 1, 0), (1, 2, 3), (-3, 1, 2)])
def test_two_balls(direction):
    """Distance of the middles less both radii."""
    unit = np.array(direction) / np.linalg.norm(direction)
    one, other = ball(0.006).solid(), ball(0.005).solid(Placement.at(0.03 * unit))
    found = gap(one, other)
    assert found.distance == approx(0.03 - 0.011, abs=HUNDREDTH)
    assert found.at_b - found.at_a == approx(unit * found.distance, abs=5e-4)


@pytest.mark.parametrize("lean", [0.0, 0.2, 0.9])
def test_ball_over_a_sloping_pane(lean):
    """Distance of the middle from the plane less the radius."""
    pane = box((1, 1, 0.01)).solid(Placement.turned((1, 0, 0), lean) @ Placement.at((-0.5, -0.5, -0.01)))
    normal = np.array([0, -math.sin(lean), math.cos(lean)])
    assert gap(ball(0.006).solid(Placement.at(0.009 * normal)), pane).distance == approx(0.003, abs=HUNDREDTH)


def test_corner_to_corner():
    """sqrt(dx² + dy² + dz²), to rounding."""
    one = box((0.1, 0.2, 0.3)).solid()
    found = gap(one, one.moved(Placement.at((0.103, 0.204, 0.312))))
    assert found.distance == approx(0.013, abs=1e-12)
    assert found.at_a == approx([0.1, 0.2, 0.3], abs=1e-12)
    assert found.at_b == approx([0.103, 0.204, 0.312], abs=1e-12)


def test_edge_to_edge_and_corner_to_face():
    """Edges askew: two boxes on edge, d - a sqrt(2)/2 - a sqrt(2)/2; a corner down: d - a sqrt(3)/2."""
    cube = box((0.1, 0.1, 0.1), centre=True)
    one = cube.solid(Placement.turned((1, 0, 0), math.pi / 4))
    other = cube.solid(Placement.at((0, 0, 0.15)) @ Placement.turned((0, 1, 0), math.pi / 4))
    assert gap(one, other).distance == approx(0.15 - 0.1 * math.sqrt(2), abs=1e-9)
    # the cube's long diagonal upright
    tip = Placement.from_frame((0, 0, 0.1), (1, 0, 0), (0, 0, 1)) @ Placement.turned(
        (1, -1, 0), math.acos(1 / math.sqrt(3))
    )
    floor = box((1, 1, 1)).solid(Placement.at((-0.5, -0.5, -1)))
    assert gap(cube.solid(tip), floor).distance == approx(0.1 - 0.1 * math.sqrt(3) / 2, abs=1e-9)


def test_bend_over_the_floor_and_pipe_within_a_sleeve():
    """A ring of R and r lying at a height z: z - r. A bar e off the middle of a bore: R - r - e."""
    floor = box((1, 1, 1)).solid(Placement.at((-0.5, -0.5, -1)))
    bend = torus_sector(0.04, PIPE, 2 * math.pi).solid(Placement.at((0, 0, 0.02)))
    assert gap(bend, floor).distance == approx(0.02 - PIPE, abs=HUNDREDTH)
    sleeve = tube(0.03, 0.02, 0.1).solid()
    bar = cylinder(PIPE, 0.3).solid(Placement.at((0.002, 0.001, -0.1)))
    off = math.hypot(0.002, 0.001)
    assert gap(sleeve, bar).distance == approx(0.02 - PIPE - off, abs=HUNDREDTH)


def test_ball_in_the_corner_of_a_box_of_panes():
    """Distances to the three panes of a tank corner, each the middle's coordinate less the radius."""
    stone = ball(0.008).solid(Placement.at((0.01, 0.012, 0.02)))
    for axis, expected in enumerate((0.002, 0.004, 0.012)):
        size, place = np.ones(3), np.zeros(3)
        size[axis], place[axis] = 0.01, -0.01
        assert gap(stone, box(size).solid(Placement.at(place))).distance == approx(expected, abs=HUNDREDTH)
