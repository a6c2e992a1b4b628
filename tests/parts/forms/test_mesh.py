import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout3d.parts.forms import mesh as mesh_module
from layout3d.parts.forms.mesh import (
    fit,
    geodesic,
    lofted,
    not_seen,
    require,
    require_one_of,
    thickened,
    united,
)
from layout3d.parts.forms.rock import rock
from layout3d.solid.folds import crossings


def volume_of(mesh):
    """Signed volume by the divergence theorem; above 0 when the faces turn outward."""
    a, b, c = (mesh[0][mesh[1][:, k]] for k in range(3))
    return float(np.sum(a * np.cross(b, c)) / 6.0)


def is_closed(mesh):
    vertices, faces = mesh
    body = manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(vertices), faces.astype(np.uint64)))
    return body.status() == manifold3d.Error.NoError


@pytest.mark.parametrize("count", [20, 500, 5000])
def test_geodesic_ball_is_closed_and_nears_the_ball(count):
    """Closed form 4/3 pi, less what even inscribed triangles of edge a leave out: 3 a² / 8 of it.

    With N triangles over 4 pi of surface that is 10.9 / N; uneven ones leave out up to a quarter more.
    """
    vertices, faces = geodesic(count)
    assert is_closed((vertices, faces))
    assert len(faces) == 20 * round(math.sqrt(count / 20)) ** 2
    assert len(vertices) == len(faces) // 2 + 2  # Euler
    assert np.allclose((vertices**2).sum(axis=1), 1.0, atol=1e-12)
    short = 1.0 - volume_of((vertices, faces)) / (4.0 / 3.0 * math.pi)
    assert 0.0 < short < 14.0 / len(faces)


def test_lofted_prism_has_the_volume_of_its_polygon():
    """Closed form: area of a regular hexagon of radius 1, 3 sqrt(3) / 2, times the height."""
    angle = np.arange(6) * np.pi / 3.0
    rings = [np.stack([np.cos(angle), np.sin(angle), 0.0 * angle + z], axis=1) for z in (0.0, 0.7, 2.0)]
    mesh = lofted(np.stack(rings))
    assert is_closed(mesh)
    assert volume_of(mesh) == pytest.approx(3.0 * math.sqrt(3.0))


def test_thickened_sheet_is_a_closed_slab():
    sheet = np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]])
    mesh = thickened(sheet, np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0.0, 0.0, 0.05], (4, 1)))
    assert is_closed(mesh)
    assert volume_of(mesh) == pytest.approx(0.1)


def test_united_counts_what_overlaps_once_and_can_drop_loose_pieces():
    ball = geodesic(80)
    moved = (ball[0] + [5.0, 0.0, 0.0], ball[1])
    one = volume_of(ball)
    assert volume_of(united([ball, ball])) == pytest.approx(one)
    assert volume_of(united([ball, moved])) == pytest.approx(2.0 * one)
    big = (2.0 * moved[0], moved[1])
    assert volume_of(united([ball, big], largest_only=True)) == pytest.approx(8.0 * one)


def test_united_refuses_an_open_shell_as_our_own_fault():
    vertices, faces = geodesic(20)
    with pytest.raises(RuntimeError, match=r"forms\.mesh\.united"):
        united([(vertices, faces[1:])])


def test_fit_reaches_the_asked_box_exactly():
    size = np.array([0.1 + 0.2, 1 / 3, 0.7])
    placed = fit(geodesic(80)[0], size)
    assert np.array_equal(placed.min(axis=0), [-size[0] / 2, -size[1] / 2, 0.0])
    assert np.array_equal(placed.max(axis=0), [-size[0] / 2 + size[0], -size[1] / 2 + size[1], size[2]])


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -0.1, 1.1])
def test_require_tells_name_value_and_limits(value):
    with pytest.raises(ValueError, match=rf"depth must be 0 to 1 m, got {value!r}"):
        require("depth", value, 0.0, 1.0, "m")


def test_require_one_of_lists_what_is_known():
    assert require_one_of("form", "a", ("a", "b")) == "a"
    with pytest.raises(ValueError, match="form must be one of a, b, got 'c'"):
        require_one_of("form", "c", ("a", "b"))


def test_each_face_of_a_ball_is_the_only_one_in_its_direction():
    vertices, faces = geodesic(320)
    assert not len(not_seen((vertices, faces)))
    assert not len(not_seen((vertices * [1.0, 0.3, 2.0] + 5.0, faces)))
    twice = np.concatenate([vertices, 2.0 * vertices]), np.concatenate([faces, faces + len(vertices)])
    for mesh in ((vertices, faces[:, ::-1]), twice):  # inside out, and one in the other
        assert len(not_seen(mesh)) == len(mesh[1])


@given(data=st.data())
def test_what_runs_through_itself_is_among_what_is_not_seen_alone(data):
    vertices, faces = geodesic(720)
    middle = vertices[data.draw(st.integers(0, len(vertices) - 1))]
    near = np.exp(-((np.sum((vertices - middle) ** 2, axis=1) / data.draw(st.floats(0.02, 0.3))) ** 2))
    shift = np.array(data.draw(st.tuples(*[st.floats(-2.5, 2.5)] * 3)))
    bent = vertices + near[:, None] * shift  # a knob that is drawn out, leans over or is pushed through
    assert set(crossings(bent, faces).ravel().tolist()) <= set(not_seen((bent, faces)).tolist())


def test_a_ball_is_made_anew_each_time():
    vertices, _ = geodesic(80)
    vertices *= 2.0
    assert np.abs(np.linalg.norm(geodesic(80)[0], axis=1) - 1.0).max() < 1e-12


@pytest.mark.parametrize("form", ["boulder", "crag", "lava"])
def test_folds_of_stones_are_found_among_what_is_not_seen_alone(form, monkeypatch):
    asked = []

    def told(mesh):
        hidden = not_seen(mesh)
        asked.append((len(hidden), len(mesh[1])))
        assert np.array_equal(hidden[crossings(mesh[0], mesh[1][hidden])], crossings(*mesh))
        return hidden

    monkeypatch.setattr(mesh_module, "not_seen", told)
    for seed, size in enumerate(([0.12, 0.1, 0.08], [0.4, 0.05, 0.1], [0.08, 0.08, 0.3])):
        rock(seed, form=form, size=size, roughness=0.5 * seed, detail=400)
    assert any(few < 0.9 * every for few, every in asked)
