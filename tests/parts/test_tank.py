"""Names of a tank's panels, and where each stands."""

import pytest

from layout3d.model.build import build_model
from layout3d.scene.reader import read_scene

SCENE = """
format: 1
units: mm
waterline: 100
parts:
  tank:
    kind: tank
    footprint: {corners}
    panels: {panels}
    height: 400
    glass: {{slant: 15, others: 10}}
"""
CORNERS = [(0, 0), (600, 0), (450, 400), (0, 400)]
NAMES = ["front", "slant", "back", "left"]


def panels(corners, names):
    text = SCENE.format(corners=[list(c) for c in corners], panels=names)
    return build_model(read_scene("tank.yaml", text=text)).tank.panels


def test_a_footprint_given_clockwise_gives_the_same_tank():
    """The edges are those of the file, whichever way round its corners are told."""
    ways = (
        panels(CORNERS, NAMES),
        panels([CORNERS[k] for k in (1, 0, 3, 2)], ["front", "left", "back", "slant"]),
    )
    assert list(ways[0]) == list(ways[1]) == ["front", "slant", "back", "left", "bottom"]
    for name in ways[0]:
        one, other = ways[0][name], ways[1][name]
        assert one.origin == pytest.approx(other.origin)
        assert one.inward == pytest.approx(other.inward)
        assert one.thickness == other.thickness


def test_each_panel_stands_on_its_own_edge():
    found = panels([CORNERS[k] for k in (1, 0, 3, 2)], ["front", "left", "back", "slant"])
    assert found["front"].inward == pytest.approx((0.0, 1.0, 0.0))
    assert found["back"].inward == pytest.approx((0.0, -1.0, 0.0))
    assert found["left"].inward == pytest.approx((1.0, 0.0, 0.0))
    assert found["slant"].thickness == 0.015
    assert found["slant"].length == pytest.approx((0.15**2 + 0.4**2) ** 0.5)
