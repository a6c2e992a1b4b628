"""Scans drawn with their own colours, where the part itself stands."""

import numpy as np
import pytest
import trimesh

from layout3d.draw.scan_skin import scan_skins
from layout3d.draw.stage import set_stage
from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

SCENE = """format: 1
units: mm
waterline: 100
parts:
  tank: {{kind: tank, inside: [600, 400, 400], glass: 10}}
  stone: {{kind: rock, mesh: {file}, at: [300, 200, 0], turn: {{about_up: 30, tip_left: 20}}, {size}}}
"""
COLOURS = np.array([[200, 10, 10, 255], [10, 200, 10, 255]] * 4, dtype=np.uint8)


def model_of(folder, file, size, colours=COLOURS):
    block = trimesh.creation.box((0.2, 0.1, 0.05))
    trimesh.Trimesh(block.vertices, block.faces, vertex_colors=colours, process=False).export(folder / file)
    return build_model(read_scene(folder / "scene.yaml", text=SCENE.format(file=file, size=size)))


@pytest.mark.parametrize(
    ("file", "size"), [("a.ply", "file_unit: m"), ("a.glb", "longest: 150"), ("a.obj", "longest: 150")]
)
def test_a_scan_s_colours_lie_where_the_part_stands(tmp_path, file, size):
    model = model_of(tmp_path, file, size)
    solid = model.body("stone").solid
    skin = scan_skins(model)["stone"]
    assert np.ptp(skin.points, axis=0) == pytest.approx(np.ptp(solid.shape.bounds, axis=0), rel=1e-6)
    placed = solid.placement.apply(skin.points)
    assert [placed.min(axis=0), placed.max(axis=0)] == pytest.approx(np.array(solid.bounds), abs=1e-7)
    assert {tuple(np.round(c * 255).astype(int)) for c in skin.colours} == {(200, 10, 10), (10, 200, 10)}
    (piece,) = [piece for piece in set_stage(model, show=["stone"]).pieces if piece.body == "stone"]
    assert len(piece.points) == len(skin.points)


def test_a_scan_of_one_colour_is_drawn_as_its_material(tmp_path):
    assert scan_skins(model_of(tmp_path, "a.ply", "file_unit: m", COLOURS[:1].repeat(8, axis=0))) == {}
