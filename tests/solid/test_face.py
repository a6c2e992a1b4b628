"""Faces seen along an axis, against solids whose face is known by hand."""

import math

import numpy as np
import pytest
from embedded import deepest_crossing
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from layout3d.parts.forms.leaf import plant
from layout3d.solid.boolean import difference
from layout3d.solid.face import Face, _between
from layout3d.solid.primitives import box, cylinder, prism
from layout3d.solid.shape import Placement, Shape


def wall(slope):
    """A wall whose face lies at y = 0.5 + slope x over x from -1 to 1, and z from 0 to 1."""
    plan = [(-1, 0.5 - slope), (1, 0.5 + slope), (1, 3), (-1, 3)]
    return prism(plan, 1.0).solid(Placement.identity())


def test_lines_meet_what_lies_nearest_whatever_is_behind():
    ball = cylinder(0.2, 1.0).solid(Placement.at((0.0, 0.2, 0.0)))
    face = Face((wall(0.0), ball), 1, 1.0, -0.5)
    assert face.met([(0.5, 9.0, 0.5), (0.0, 9.0, 0.5), (5.0, 9.0, 0.5)]) == pytest.approx(
        [0.5, 0.0, math.inf], abs=1e-4
    )


def test_lines_down_and_to_the_sides_meet_a_block():
    block = box((1.0, 1.0, 1.0)).solid(Placement.at((1.0, 0.0, 0.0)))
    assert Face((block,), 2, -1.0, 1.001).met([(1.5, 0.5, 0.0)]) == pytest.approx([1.0])
    assert Face((block,), 0, 1.0, 0.0).met([(9.0, 0.5, 0.5)]) == pytest.approx([1.0])
    assert Face((block,), 0, -1.0, 0.0).met([(9.0, 0.5, 0.5)]) == [math.inf]


@given(st.floats(-1.0, 1.0))
def test_a_part_turns_by_the_angle_of_the_wall(slope):
    """By hand: the way off a wall y = slope x is (slope, -1); the front, (0, -1), turns to it."""
    yaw = Face((wall(slope),), 1, 1.0, -9.0).yaw((0.1, 0.0, 0.5))
    front = Placement.turned((0, 0, 1), yaw).apply([0.0, -1.0, 0.0])
    assert front[:2] == pytest.approx(np.array([slope, -1.0]) / math.hypot(slope, 1.0), abs=1e-9)


@pytest.mark.parametrize(("sign", "looks"), [(1.0, -1.0), (-1.0, 1.0)])
def test_on_a_side_a_part_looks_back_to_the_middle(sign, looks):
    block = box((1.0, 2.0, 2.0), centre=True).solid(Placement.at((sign, 0.0, 0.0)))
    yaw = Face((block,), 0, sign, 0.0).yaw((0.5, 0.0, 0.0))
    assert Placement.turned((0, 0, 1), yaw).apply([0.0, -1.0, 0.0]) == pytest.approx([looks, 0.0, 0.0])


@given(st.floats(-0.9, 0.9))
def test_what_is_draped_keeps_its_volume_and_lies_as_far_off_as_before(slope):
    sheet = box((0.4, 0.02, 0.4)).solid(Placement.at((-0.2, 0.48, 0.3)))
    face = Face((wall(slope),), 1, 1.0, -9.0)
    bent = face.draped(sheet, (0.0, 0.5, 0.5))
    assert bent.volume == pytest.approx(sheet.volume)
    off = face.met(bent.vertices) - bent.vertices[:, 1]
    assert off == pytest.approx(0.5 - sheet.vertices[:, 1], abs=1e-9)


@pytest.mark.parametrize("seed", [1, 3])
def test_moss_on_a_ledge_does_not_run_through_itself(seed):
    """Bent at the ledge itself, its faces there would cross each other."""
    moss = Shape.of(*plant(seed, form="moss", height=0.04, spread=0.13, detail=0.5)["foliage"])
    floor = box((0.4, 0.4, 0.1), centre=True).solid(Placement.at((0.0, 0.0, -0.05)))
    ledge = box((0.2, 0.4, 0.02)).solid(Placement.at((0.02, -0.2, 0.0)))
    bent = Face((floor, ledge), 2, -1.0, 1.0).draped(moss.solid(), (0.0, 0.0, 0.0))
    assert deepest_crossing(bent.shape) < 1e-9
    assert bent.volume == pytest.approx(moss.volume, rel=1e-4)


@given(st.tuples(*[st.floats(-2.0, 2.0)] * 3))
def test_what_is_draped_has_one_shape_wherever_it_is_moved_with_its_stone(by):
    """To the last digit, so that all that is known of it stays known."""
    moss = Shape.of(*plant(1, form="moss", height=0.04, spread=0.13, detail=0.5)["foliage"])
    stone = cylinder(0.3, 0.5).solid(Placement.turned((1, 2, 3), 1.0))
    top = float(stone.bounds[1, 2]) + 0.001
    there = np.array([0.02, -0.03, *Face((stone,), 2, -1.0, top).met([(0.02, -0.03, 0.0)])])

    def laid(by):
        face = Face((stone.moved(Placement.at(by)),), 2, -1.0, top + by[2])
        return face.draped(moss.solid(Placement.at(there + by)), there + by)

    first, moved = laid(np.zeros(3)), laid(np.array(by).round(4))
    assert moved.shape == first.shape
    assert moved.vertices == pytest.approx(first.vertices + np.array(by).round(4), abs=1e-11)
    assert float(np.ptp(first.vertices[:, 2])) > 1.2 * float(np.ptp(moss.vertices[:, 2]))  # it is bent


def test_what_hangs_over_an_edge_follows_the_nearest_face():
    """Half of the sheet is past the wall's end at x = 1: it goes on level there, as at the end."""
    sheet = Shape.of(*_sheet()).solid(Placement.at((0.8, 0.48, 0.3)))
    bent = Face((wall(0.0),), 1, 1.0, -9.0).draped(sheet, (1.0, 0.5, 0.5))
    assert bent.vertices == pytest.approx(sheet.vertices)


def test_what_is_draped_hangs_on_what_lies_behind_it_alone(monkeypatch):
    """A hole through the wall elsewhere bends nothing anew, and one behind the sheet does."""
    draped = []
    monkeypatch.setattr(Face, "_draped", lambda face, *_: draped.append(face))
    fine = wall(0.3).manifold.refine(12).to_mesh64()  # of more faces than are told as a whole
    rough = Shape.trusted(fine.vert_properties, fine.tri_verts).solid()
    sheet = box((0.4, 0.02, 0.4)).solid(Placement.at((-0.2, 0.48, 0.3)))
    for left in (0.55, 0.65, -0.1):
        hole = box((0.1, 9.0, 0.1)).solid(Placement.at((left, -1.0, 0.45)))
        Face((difference(rough, [hole]),), 1, 1.0, -9.0).draped(sheet, (0.0, 0.5, 0.5))
    assert len(draped) == 2


def _sheet():
    block = box((0.4, 0.02, 0.4))
    return block.vertices, block.faces


def test_between_the_lines_a_face_is_straight():
    """``scipy.ndimage.map_coordinates`` of order 1, to the last digit, at the grid's points and sides too."""
    rng = np.random.default_rng(3)
    grid, places = rng.normal(size=(9, 7)), rng.uniform(0.0, 6.0, (400, 2))
    places[:100] = places[:100].round()
    places[100:104] = [(8.0, 6.0), (8.0, 0.0), (0.0, 6.0), (8.0, 3.5)]
    assert (_between(grid, places) == map_coordinates(grid, places.T, order=1, mode="nearest")).all()
