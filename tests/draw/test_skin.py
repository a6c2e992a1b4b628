from __future__ import annotations

import numpy as np
import pytest
from closed_solids import ball

from layout3d.draw.skin import LONGEST_EDGE, SPARED, pane_skin, sharp_edges, smooth_skin
from layout3d.solid.primitives import box, cylinder, heightfield, tube
from layout3d.solid.shape import Shape


def test_a_box_keeps_its_flat_faces_and_its_twelve_edges():
    shape = box((0.3, 0.2, 0.1))
    skin = smooth_skin(shape, 35.0)
    assert np.sort(np.abs(skin.normals), axis=1)[:, 2] == pytest.approx(1.0)
    edges = sharp_edges(shape)
    assert len(edges) == 12
    length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    assert length.sum() == pytest.approx(4 * (0.3 + 0.2 + 0.1))


def test_a_ball_is_smooth_all_round():
    shape = ball(0.1)
    skin = smooth_skin(shape, 35.0)
    assert len(skin.points) == len(shape.vertices)
    radial = skin.points / np.linalg.norm(skin.points, axis=1, keepdims=True)
    assert np.einsum("ij,ij->i", radial, skin.normals).min() > 0.995
    assert len(sharp_edges(shape)) == 0


def test_large_faces_are_divided_and_the_area_stays():
    shape = box((1.2, 0.4, 0.03))
    skin = smooth_skin(shape, 35.0)
    corners = skin.points[skin.faces]
    assert np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max() <= LONGEST_EDGE * 1.001
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.linalg.norm(across, axis=1).sum() / 2.0 == pytest.approx(shape.area)


def test_faces_stay_joined_where_they_are_divided():
    """Every side is that of two faces, also where a divided face meets one that is not."""
    skin = smooth_skin(
        heightfield(np.linspace(0.0, 0.5, 9), np.linspace(0.0, 0.1, 5), np.ones((9, 5)), 0.0), 180.0
    )
    sides = np.sort(np.stack([skin.faces, np.roll(skin.faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    assert len(skin.faces) > 100
    assert (np.unique(sides, axis=0, return_counts=True)[1] == 2).all()


def test_a_pipe_is_shown_with_fewer_sides_that_stray_by_no_more_than_stated():
    outer, inner, length = 0.0167, 0.0133, 0.6
    shape = tube(outer, inner, length)
    skin = smooth_skin(shape, 35.0, made=True)
    assert len(skin.faces) < 0.5 * len(smooth_skin(shape, 35.0).faces)
    middles = skin.points[skin.faces].mean(axis=1)
    off = np.hypot(middles[:, 0], middles[:, 1])
    along = np.abs(skin.normals[skin.faces].mean(axis=1)[:, 2]) < 0.5
    strays = np.minimum(np.abs(off - outer), np.abs(off - inner))[along]
    assert 0.0 < strays.max() < 2.0 * SPARED


def test_a_ridge_and_a_hollow_are_told_apart():
    shape = ball(0.1)
    dented = shape.vertices * (1.0 - 0.2 * (shape.vertices[:, 2] > 0.08))[:, None]
    hollow = smooth_skin(Shape.of(dented, shape.faces), 180.0).hollow
    # the dent's foot is hollow; a ball bulges alike everywhere
    assert hollow.max() > 0.15
    assert smooth_skin(shape, 35.0).hollow.max() < 0.0


def test_a_pane_knows_its_edges():
    """The edge of a pane is four narrow strips: 2 (l + h) t of its surface."""
    length, height, thickness = 0.8, 0.5, 0.01
    skin = pane_skin(box((length, thickness, height)))
    corners = skin.points.reshape(-1, 3, 3)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(across, axis=1) / 2.0
    narrow = skin.narrow.reshape(-1, 3).all(axis=1)
    assert area[narrow].sum() == pytest.approx(2 * (length + height) * thickness)


def test_a_bent_pane_is_broad_on_both_sides_however_fine_its_strips():
    """A round tank: its two round faces are broad though their strips are a few mm wide, its rims narrow."""
    radius, wall, height = 0.4, 0.01, 0.3
    skin = pane_skin(tube(radius, radius - wall, height))
    corners = skin.points.reshape(-1, 3, 3)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(across, axis=1) / 2.0
    narrow = skin.narrow.reshape(-1, 3).all(axis=1)
    assert area[narrow].sum() == pytest.approx(2.0 * np.pi * (radius**2 - (radius - wall) ** 2), rel=0.002)


def test_the_flat_back_of_a_fine_relief_is_divided_too():
    """Light is kept at corners: one triangle over a whole back wall would smear it from three of them."""
    x, z = np.linspace(0.0, 1.0, 60), np.linspace(0.0, 0.6, 40)
    bumps = 0.08 + 0.02 * np.sin(40.0 * x)[:, None] * np.cos(30.0 * z)[None, :]
    skin = smooth_skin(heightfield(x, z, bumps, 0.0), 40.0)
    corners = skin.points[skin.faces]
    assert np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max() < 0.1


def test_a_round_bar_has_sharp_rims_only():
    edges = sharp_edges(cylinder(0.02, 0.3))
    assert np.ptp(edges[:, :, 2], axis=1).max() < 1e-12
