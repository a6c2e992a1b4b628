"""Fewer triangles, held to the tolerance by a measure of its own."""

import numpy as np
import pytest
import trimesh

from layout3d.parts.forms.rock import rock
from layout3d.solid.primitives import box
from layout3d.solid.reduce import farthest, reduced, reduced_for_looks
from layout3d.solid.shape import Shape


@pytest.mark.parametrize("tolerance", [0.001, 0.003])
def test_a_rock_has_fewer_triangles_and_strays_no_further_than_asked(tolerance):
    fine = Shape.of(*rock(3, form="lava", size=(0.3, 0.2, 0.2), detail=9000))
    coarse, strayed, count = reduced(fine, tolerance)
    assert len(coarse.faces) < 0.9 * len(fine.faces)
    assert 0.0 < strayed <= tolerance
    assert count == len(fine.vertices)


def test_how_far_a_surface_strays_is_the_known_distance():
    """A block 10 mm less on one side: its outer corners are 10 mm off, the others on it."""
    fine, coarse = box((0.3, 0.2, 0.1)), box((0.29, 0.2, 0.1))
    far, whose = farthest(np.asarray(fine.vertices), coarse)
    assert far == pytest.approx(0.01)
    assert fine.vertices[whose][0] == pytest.approx(0.3)


def test_of_a_large_mesh_evenly_picked_corners_are_measured():
    fine = Shape.of(*rock(1, form="boulder", size=(0.3, 0.2, 0.2), detail=50_000))
    _, strayed, count = reduced(fine, 0.001)
    assert 10_000 < count <= 20_000
    assert 0.0 < strayed <= 0.001


def test_nothing_is_spared_where_every_corner_counts():
    block = box((0.1, 0.1, 0.1))
    assert reduced(block, 0.001)[0].volume == pytest.approx(block.volume)


def test_nothing_thin_that_sticks_out_is_lost_to_the_eye():
    """A sheet of 0.2 mm on a block: the mesh library's own way drops it, 20 mm from what is left.

    Distances are trimesh's, from each corner to all faces.
    """
    block = trimesh.creation.icosphere(2, 0.02)
    sheet = trimesh.creation.box((0.04, 0.0002, 0.04))
    sheet.apply_translation((0.0, 0.0, 0.02))
    both = trimesh.boolean.union([block, sheet.subdivide().subdivide()], engine="manifold")
    shape = Shape.of(both.vertices, both.faces)
    coarse, thin = reduced_for_looks(shape, 0.001)

    def strays(triangles):
        corners = np.asarray(shape.vertices)
        points, faces = np.repeat(corners, len(triangles), axis=0), np.tile(triangles, (len(corners), 1, 1))
        nearest = trimesh.triangles.closest_point(faces, points)
        return np.linalg.norm(nearest - points, axis=1).reshape(len(corners), -1).min(axis=1).max()

    assert strays(coarse.corners) > 0.01
    assert strays(np.concatenate([coarse.corners, thin])) <= 0.001 + 1e-9
    assert len(coarse.faces) + len(thin) < len(shape.faces)
    assert {tuple(map(tuple, face)) for face in thin.tolist()} <= {
        tuple(map(tuple, face)) for face in shape.corners.tolist()
    }


def test_the_farthest_corner_of_all_is_found_without_asking_each():
    """Of a rock's corners, from the rock with fewer: as when each is asked by itself."""
    fine = Shape.of(*rock(3, form="lava", size=(0.3, 0.2, 0.2), detail=2000))
    coarse = Shape.from_manifold(fine.manifold.simplify(0.004))
    assert coarse is not None
    far, whose = farthest(np.asarray(fine.vertices), coarse)
    each = [farthest(corner[None], coarse)[0] for corner in np.asarray(fine.vertices)]
    assert far == pytest.approx(max(each), abs=1e-12)
    assert whose == int(np.argmax(each))
