"""Faces that run through each other, against meshes whose crossings are plain to see."""

import itertools

import numpy as np
import pytest
from closed_solids import ball

from layout3d.parts.forms.mesh import geodesic
from layout3d.solid.folds import HAIR, crossings, unfolded
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement


def joined(*solids):
    shifts = np.cumsum([0, *(len(solid.vertices) for solid in solids)])
    vertices = np.concatenate([solid.vertices for solid in solids])
    return vertices, np.concatenate(
        [solid.faces + shift for solid, shift in zip(solids, shifts, strict=False)]
    ).astype(np.int64)


@pytest.mark.parametrize(
    "shape", [box((1, 2, 3)), ball(0.1, n=40), tube(0.03, 0.02, 0.2), cylinder(0.1, 0.02)]
)
def test_a_sound_shape_crosses_itself_nowhere(shape):
    assert not len(crossings(shape.vertices, shape.faces.astype(np.int64)))


def test_two_boxes_through_each_other_cross_along_a_loop():
    """A bar right through a wide plate: its four sides, of two faces each, cross faces of the plate."""
    plate = box((1.0, 1.0, 0.1), centre=True).solid()
    bar = box((0.1, 0.1, 1.0), centre=True).solid(Placement.at((0.2, 0.05, 0.0)))
    found = crossings(*joined(plate, bar))
    assert len(found) >= 8
    assert ((found[:, 0] < 12) != (found[:, 1] < 12)).all()  # always one of the plate with one of the bar
    apart = crossings(*joined(plate, box((0.1, 0.1, 1.0)).solid(Placement.at((2, 0, 0)))))
    assert not len(apart)


def test_faces_with_a_corner_in_common_count_where_they_cross_beyond_it():
    """Two triangles hinged at the origin: one lies in the xy plane, the other goes through it or past it."""
    flat = [[0.0, 0.0, 0.0], [1.0, -1.0, 0.0], [1.0, 1.0, 0.0]]
    through = [[0.8, 0.0, -0.3], [0.8, 0.0, 0.3]]
    past = [[0.8, 0.0, 0.1], [0.8, 0.0, 0.3]]
    faces = np.array([[0, 1, 2], [0, 3, 4]])
    assert crossings(np.array(flat + through), faces).tolist() == [[0, 1]]
    assert not len(crossings(np.array(flat + past), faces))


def test_a_vertex_pushed_through_the_far_side_is_found_and_by_a_choice_of_faces_too():
    shape = ball(0.1, n=40)
    vertices, faces = np.array(shape.vertices), shape.faces.astype(np.int64)
    top = int(vertices[:, 2].argmax())
    vertices[top, 2] = -0.15
    found = crossings(vertices, faces)
    assert len(found) > 0
    own = np.flatnonzero((faces == top).any(axis=1))
    assert all(set(pair) & set(own.tolist()) for pair in found.tolist())
    chosen = crossings(vertices, faces, own)
    assert sorted(map(tuple, chosen.tolist())) == sorted(map(tuple, found.tolist()))
    rest = np.setdiff1d(np.arange(len(faces)), found.ravel())
    assert not len(crossings(vertices, faces, rest))
    assert not len(crossings(vertices, faces, np.array([], dtype=np.int64)))


def test_every_crossing_of_a_rough_ball_is_found():
    """The oracle tries every edge against every face, without a tree."""
    rng = np.random.default_rng(4)
    points, faces = geodesic(110)
    vertices = points + 1.1 * (rng.random(points.shape) - 0.5)
    found = {tuple(sorted(pair)) for pair in crossings(vertices, faces).tolist()}
    expected = set()
    for i, k in itertools.combinations(range(len(faces)), 2):
        if len(set(faces[i]) & set(faces[k])) < 2 and pierced(vertices, faces[i], faces[k]):
            expected.add((i, k))
    assert len(expected) > 5
    assert found == expected


def test_corners_of_a_flap_that_lies_on_its_neighbours_are_set_a_hair_aside():
    wedge = np.array([(0, 0, 0), (2, 0, 0), (0, 2, 0), (0, 0, 2), (0.5, 0.5, 0)], dtype=float)
    faces = np.array([(0, 2, 4), (2, 1, 4), (1, 0, 4), (0, 1, 3), (1, 2, 3), (2, 0, 3)])
    assert np.array_equal(unfolded(wedge, faces), wedge)
    wedge[4] = (1.5, 1.5, 0)  # beyond the edge between 1 and 2
    moved = unfolded(wedge, faces)
    assert np.flatnonzero((moved != wedge).any(axis=1)).tolist() == [0, 1, 2, 4]
    assert np.abs(moved - wedge).max() <= HAIR


def pierced(vertices, one, other):
    return any(
        edge_through(vertices, one[[k, (k + 1) % 3]], other)
        or edge_through(vertices, other[[k, (k + 1) % 3]], one)
        for k in range(3)
    )


def edge_through(vertices, edge, face):
    """Solve for the point where the edge's line meets the face's plane, in the face's own shares."""
    if set(edge) & set(face):
        return False
    p, q = vertices[edge]
    a, b, c = vertices[face]
    matrix = np.column_stack([b - a, c - a, p - q])
    if abs(np.linalg.det(matrix)) < 1e-25:
        return False
    u, v, t = np.linalg.solve(matrix, p - a)
    return u > 0 and v > 0 and u + v < 1 and 0 < t < 1
