"""What a bed lies around, and where it stops."""

import numpy as np
import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

SCENE = """
format: 1
units: mm
waterline: 200
parts:
  tank: {{kind: tank, {tank}, glass: 10, silicone: 0}}
  bed: {{kind: substrate, pitch: 50, {bed}}}
  block: {{kind: heater, length: 100, at: {{left: 150, front: 200, bottom: {height}}}}}
"""
BOX = "inside: [600, 400, 400]"


def model(*, tank=BOX, bed="depth: 50", height=0):
    return build_model(read_scene("bed.yaml", text=SCENE.format(tank=tank, bed=bed, height=height)))


def buried(built):
    return {join.b for join in built.built["bed"].joins if join.how == "embedded"}


def test_only_what_meets_the_bed_is_buried_in_it():
    """The bed rises to 120 mm at the right; what hangs over its low left end is within its box, not in it."""
    slope = "depths: [[0, 0, 20], [0, 400, 20], [600, 0, 120], [600, 400, 120]]"
    assert buried(model(bed=slope, height=80)) == set()
    assert buried(model(bed=slope, height=30)) == {"block"}


def test_a_bed_in_a_trapezium_stays_in_the_glass():
    """Area of the floor by the shoelace formula: (600 + 300) / 2 x 400 mm, times 50 mm of depth."""
    tank = "footprint: [[0, 0], [600, 0], [450, 400], [150, 400]], height: 400"
    built = model(tank=tank, height=100)
    assert built.body("bed").solid.volume == pytest.approx(0.45 * 0.4 * 0.05, rel=1e-9)


def test_the_surface_is_told_for_arrays_and_stops_at_the_region():
    built = model(bed="front: 20, back: 100, region: [100, 0, 300, 400]", height=200)
    part = built.built["bed"].part

    class Site:
        def tank(self):
            return built.built["tank"]

    surface = part.surface(Site())
    heights = surface(np.array([0.05, 0.2, 0.2]), np.array([0.2, 0.2, 0.4]))
    assert np.isnan(heights[0])
    assert heights[1:] == pytest.approx([0.060, 0.100])
    assert part.height_at(Site(), 0.2, 0.2) == pytest.approx(0.060)
