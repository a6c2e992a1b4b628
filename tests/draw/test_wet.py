"""Wet rock below drip holes, and the water that runs down it."""

import numpy as np
import pytest

from layout3d.draw.stage import set_stage
from layout3d.draw.wet import Drips, drips_of, rivulets, wetness

ONE = Drips(
    at=np.array([[0.5, 0.4, 0.8]]), along=np.array([[1.0, 0.0, 0.0]]), out=np.array([[0.0, -1.0, 0.0]])
)
WATERLINE = 0.2


def wall(y=0.3):
    x, z = (grid.ravel() for grid in np.meshgrid(np.linspace(0.3, 0.7, 81), np.linspace(0.0, 1.0, 101)))
    points = np.column_stack([x, np.full(len(x), y), z])
    return points, np.tile([0.0, -1.0, 0.0], (len(x), 1))


def test_rock_is_wet_below_a_hole_and_dry_beside_above_and_under_water():
    points, normals = wall()
    wet = wetness(ONE, points, normals, WATERLINE)
    off, z = np.abs(points[:, 0] - 0.5), points[:, 2]
    assert wet[(z > 0.8) | (z < WATERLINE)].max() == 0.0
    assert wet[off > 0.09].max() < 0.001
    below = (z > 0.25) & (z < 0.75)
    assert wet[below & (off < 0.006)].min() > 0.3
    assert wet[below & (off > 0.06)].max() < 0.05
    assert 0.0 <= wet.min() <= wet.max() <= 1.0


@pytest.mark.parametrize(("y", "turned"), [(0.1, 1.0), (0.5, 1.0), (0.3, -1.0)])
def test_a_wall_far_off_behind_or_facing_away_stays_dry(y, turned):
    points, normals = wall(y)
    assert wetness(ONE, points, turned * normals, WATERLINE).max() == 0.0
    assert rivulets(ONE, [(points, turned * normals)], WATERLINE) == []


def test_a_rivulet_runs_on_the_face_of_the_wall_from_its_hole_to_the_water():
    (lines,) = rivulets(ONE, [wall()], WATERLINE)
    ends = lines.segments.reshape(-1, 3)
    assert ends[:, 1] == pytest.approx(0.298, abs=1e-6)  # 2 mm before the face, so that it is seen
    assert np.abs(ends[:, 0] - 0.5).max() < 0.02
    assert (ends[:, 2].min(), ends[:, 2].max()) == pytest.approx((WATERLINE, 0.8), abs=0.03)
    assert (np.diff(lines.segments[:, :, 2], axis=1) < 0.0).all()


WALL = """
wall:
  kind: background
  panels: [back]
  thickness: 80
  channels: [{follow: bar, gap: 3}]
  cut_outs: [{panel: back, along: 600, up: 445, width: 640, height: 6, stop: 30}]
pump: {kind: pump, model: small 1000, speed: 70 %, outlet: d25 pn 10, at: {left: 150, back: 140, bottom: 0}}
bar:
  kind: run
  pipe: d25 pn 10
  start: pump.outlet
  route:
    - {until: up, reach: [0, 0, 460]}
    - {until: back, reach: [0, 460, 0]}
    - right: 700
      drip: {diameter: 2.5, pitch: 25, margin: 40, angles: [20 deg]}
    - cap
"""


def test_a_drip_wall_is_darker_where_its_water_runs_and_only_with_water(scene):
    model = scene(WALL)
    drips = drips_of(model)
    assert len(drips.at) > 20
    assert drips.out == pytest.approx(np.tile([0.0, -1.0, 0.0], (len(drips.at), 1)))
    running, dry = (set_stage(model, hide=hide) for hide in ((), ("water",)))
    name = next(body.name for body in model.bodies if body.kind == "slab")
    one, other = (next(p for p in stage.pieces if p.body == name) for stage in (running, dry))
    over = one.points[:, 2] > model.waterline + 0.01
    darker = other.colours[:, :3].astype(float).sum(axis=1) - one.colours[:, :3].astype(float).sum(axis=1)
    assert darker[over].max() > 30.0
    assert darker[one.points[:, 2] > 0.47].max() < 1.0
    assert len(running.lines) > len(dry.lines)
