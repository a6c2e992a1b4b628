"""What faces hide, against a library that knows triangles and lines in the plane."""

import numpy as np
import pytest
import shapely

from layout3d.sheets import cover
from layout3d.sheets.cover import Cover
from layout3d.sheets.projection import _joined


def hidden(faces, pieces, **limits):
    """Return how much of each piece is hidden, [m]."""
    spans, index = _joined(*Cover(faces, **limits).spans(pieces))
    lengths = np.linalg.norm(pieces[:, 1, :2] - pieces[:, 0, :2], axis=1)
    return np.bincount(index, weights=spans[:, 1] - spans[:, 0], minlength=len(pieces)) * lengths


def facing(faces):
    """Turn triangles (n, 3, 2) so that they run anticlockwise."""
    (a, b), (c, d) = (faces[:, 1] - faces[:, 0]).T, (faces[:, 2] - faces[:, 0]).T
    return np.where((a * d < b * c)[:, None, None], faces[:, ::-1], faces)


def at_height(flat, z):
    return np.concatenate([flat, np.full((*flat.shape[:2], 1), z)], axis=2)


@pytest.mark.parametrize("waste", [0.01, cover.WASTE])
def test_slender_faces_hide_what_lies_under_them(monkeypatch, waste):
    """Small faces, and rows of long ones as pipes across the picture have them, some way or other."""
    monkeypatch.setattr(cover, "WASTE", waste)  # the picture is turned for them, or they are parted
    chance = np.random.default_rng(1)
    small = chance.random((60, 1, 2)) + 0.1 * chance.random((60, 3, 2))
    rows = []
    for angle in (0.52, 0.53, 2.1):
        way = np.array((np.cos(angle), np.sin(angle)))
        across = np.array((-way[1], way[0]))
        begin = chance.random((8, 1, 2)) * 0.6 + np.arange(8)[:, None, None] * 0.002 * across
        rows.append(np.concatenate([begin, begin + 0.9 * way, begin + 0.9 * way + 0.004 * across], axis=1))
    flat = facing(np.concatenate([small, *rows]))
    begin = chance.random((80, 1, 2))
    pieces = np.concatenate([begin, begin + chance.normal(0.0, 0.1, (80, 1, 2))], axis=1)
    under = shapely.union_all(shapely.polygons(flat))
    expected = shapely.length(shapely.intersection(shapely.linestrings(pieces), under))
    assert expected.sum() > 0.5
    got = hidden(at_height(flat, 1.0), at_height(pieces, 0.0))
    np.testing.assert_allclose(got, expected, atol=1e-7)


def test_what_ends_right_behind_an_edge_is_hidden():
    """A square's own outline, far behind it: on its edges, from corner to corner."""
    corners = np.array([(0.1, 0.2), (0.7, 0.3), (0.6, 0.9), (0.0, 0.8)])
    square = at_height(corners[[[0, 1, 2], [0, 2, 3]]], 1.0)
    outline = at_height(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1), 0.3)
    assert hidden(square, outline) == pytest.approx(shapely.Polygon(corners).length / 4, rel=0.2)
    assert hidden(square, outline).sum() == pytest.approx(shapely.Polygon(corners).length)
    assert hidden(square, outline, behind=0.5).sum() == 0.0
    assert hidden(np.zeros((0, 3, 3)), outline).sum() == 0.0
