"""Coarser surfaces: fewer faces, in the same place, facing the same way."""

import numpy as np
import pytest

from layout3d.draw.pieces import surface_of
from layout3d.view.coarse import alike, coarse, together


def ball(radius, rings=60):
    """A ball's surface as (points, faces), wound outwards, closed at the poles by its rings."""
    up, around = np.meshgrid(np.linspace(0, np.pi, rings), np.linspace(0, 2 * np.pi, rings), indexing="ij")
    points = np.stack([np.sin(up) * np.cos(around), np.sin(up) * np.sin(around), np.cos(up)], axis=-1)
    at = np.arange(rings * rings).reshape(rings, rings)
    a, b, c, d = at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel()
    return radius * points.reshape(-1, 3), np.concatenate(
        [np.column_stack(t) for t in ((a, b, c), (a, c, d))]
    )


def piece(radius, **look):
    points, faces = ball(radius)
    return surface_of(
        "", points, points / radius, faces.astype(np.int32), np.array([0.5, 0.4, 0.3, 1.0]), **look
    )


def enclosed(one):
    a, b, c = (one.points[one.faces[:, k]].astype(float) for k in range(3))
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6


def test_a_coarser_ball_is_still_that_ball(monkeypatch):
    monkeypatch.setattr("layout3d.view.coarse.FACES", 1000)
    (found,) = coarse([piece(0.1)]).values()
    assert 300 < len(found.faces) < 2000
    # closed form: 4/3 pi r3; corners put together lie within it, by their sagitta
    assert enclosed(found) == pytest.approx(4 / 3 * np.pi * 0.1**3, rel=0.1)
    assert np.linalg.norm(found.points, axis=1) == pytest.approx(0.1, rel=0.12)
    assert (np.einsum("ij,ij->i", found.normals, found.points) > 0).all()
    assert (found.colours == piece(0.1).colours[0]).all()


def test_both_sides_of_a_thin_wall_stay_apart(monkeypatch):
    monkeypatch.setattr("layout3d.view.coarse.FACES", 600)
    outer, (points, faces) = piece(0.1), ball(0.099)
    both = surface_of(
        "",
        np.concatenate([outer.points, points]),
        np.concatenate([outer.normals, -points / 0.099]),
        np.concatenate([outer.faces, faces[:, ::-1] + len(outer.points)]).astype(np.int32),
        np.array([0.5, 0.4, 0.3, 1.0]),
    )
    (found,) = coarse([both]).values()
    inwards = np.einsum("ij,ij->i", found.normals, found.points) < 0
    sides = inwards[found.faces]
    assert (sides.all(axis=1) | ~sides.any(axis=1)).all()  # no face goes from one side to the other
    assert inwards.any()
    assert not inwards.all()


def test_panes_and_what_has_few_faces_stay_as_they_are(monkeypatch):
    monkeypatch.setattr("layout3d.view.coarse.FEW", 10_000)
    assert coarse([piece(0.1)]) == {}
    monkeypatch.setattr("layout3d.view.coarse.FEW", 10)
    assert coarse([piece(0.1, clear=True, one_sided=True)]) == {}
    assert coarse([]) == {}


def test_what_looks_alike_is_one_surface_in_the_same_place():
    near, far, shining = piece(0.1), piece(0.3), piece(0.2, shine=0.5)
    dull, bright = map(together, alike([near, shining, far]))
    assert bright.shine == 0.5
    assert enclosed(bright) == pytest.approx(enclosed(shining), rel=1e-6)
    assert enclosed(dull) == pytest.approx(enclosed(near) + enclosed(far), rel=1e-6)
    assert np.array_equal(dull.points, np.concatenate([near.points, far.points]))
    assert np.array_equal(dull.points[dull.faces[-1]], far.points[far.faces[-1]])
    assert alike([]) == []
