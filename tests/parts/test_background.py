"""A background read from a mesh: where its front is."""

import numpy as np
import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene
from layout3d.solid.mesh_file import save_mesh
from layout3d.solid.primitives import heightfield
from layout3d.solid.shape import Placement

SCENE = """
format: 1
units: mm
waterline: 100
parts:
  tank: {kind: tank, inside: [600, 400, 400], glass: 10, silicone: 0}
  wall: {kind: background, panels: [back], thickness: 50, mesh: wall.stl, longest: 500}
"""


def test_the_front_of_a_coarse_mesh_is_its_surface_not_its_corners(tmp_path):
    """A wedge, 20 mm thick at its foot and 60 at its head; its few corners lie far from most of it."""
    wedge = heightfield([0.0, 0.5], [0.0, 0.3], np.array([[0.02, 0.06], [0.02, 0.06]]), 0.0)
    # the mesh's z is up the panel and its y runs from the front to the glass
    turned = wedge.solid(Placement.turned((1, 0, 0), np.pi / 2))
    save_mesh(turned, tmp_path / "wall.stl", 1.0)
    slab = build_model(read_scene(tmp_path / "scene.yaml", text=SCENE)).built["wall"].data.slabs[0]
    up = np.linspace(0.01, 0.29, 9)
    front = slab.front_at(np.full(9, 0.3), up)
    assert front == pytest.approx(0.02 + 0.04 * up / 0.3, abs=1e-6)
