import hashlib

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.parts.forms.wood import WOOD_FORMS, driftwood


def body_of(mesh):
    vertices, faces = mesh
    return manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(vertices), faces.astype(np.uint64)))


def digest(mesh):
    vertices, faces = mesh
    return hashlib.sha256(np.round(vertices * 1e6).astype(np.int64).tobytes() + faces.tobytes()).hexdigest()


@settings(max_examples=7)
@given(
    seed=st.integers(0, 10_000),
    form=st.sampled_from(WOOD_FORMS),
    length=st.floats(0.1, 1.5),
    stoutness=st.floats(1 / 40, 1 / 3),
    branches=st.integers(0, 8),
    twist=st.floats(0.0, 1.0),
    taper=st.floats(0.0, 0.95),
)
def test_driftwood_is_one_closed_piece_of_the_length_asked(
    seed, form, length, stoutness, branches, twist, taper
):
    vertices, faces = driftwood(
        seed,
        form=form,
        length=length,
        thickness=length * stoutness,
        branches=branches,
        twist=twist,
        taper=taper,
        detail=2000,
    )
    body = body_of((vertices, faces))
    assert body.status() == manifold3d.Error.NoError
    assert len(body.decompose()) == 1
    assert body.volume() > 0.0
    assert np.ptp(vertices, axis=0).max() == pytest.approx(length, rel=1e-12)
    assert vertices[:, 2].min() == 0.0
    middle = vertices.min(axis=0) + vertices.max(axis=0)
    assert np.abs(middle[:2]).max() < 1e-9


@pytest.mark.parametrize("form", WOOD_FORMS)
def test_another_seed_gives_another_piece(form):
    """That the same seed gives the same piece, ``tests/regression`` holds from version to version."""
    one, other = (driftwood(s, form=form, length=0.6, thickness=0.08, detail=2000) for s in (4, 5))
    assert digest(one) != digest(other)


@pytest.mark.parametrize("length", [0.8, 1.2])
def test_a_straight_untapered_log_without_limbs_holds_about_a_cylinder(length):
    """Closed form pi r² L; flutes, cracks and torn ends take away or add up to about a seventh."""
    mesh = driftwood(
        2, form="log", length=length, thickness=0.1, branches=0, twist=0.0, taper=0.0, detail=4000
    )
    assert body_of(mesh).volume() == pytest.approx(np.pi * 0.05**2 * length, rel=0.15)


@pytest.mark.parametrize("form", WOOD_FORMS)
def test_twice_the_length_and_thickness_is_eight_times_the_wood(form):
    """Closed form: similar bodies. The grain keeps its share of the thickness."""
    one, two = (
        driftwood(6, form=form, length=k * 0.5, thickness=k * 0.06, branches=3, detail=2000)
        for k in (1.0, 2.0)
    )
    assert np.allclose(2.0 * one[0], two[0], atol=1e-9)
    assert body_of(two).volume() == pytest.approx(8.0 * body_of(one).volume(), rel=1e-9)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"form": "plank"}, r"form must be one of log, root, branch, got 'plank'"),
        ({"length": 60.0}, r"length must be 0.05 to 4 m, got 60.0"),
        ({"thickness": 0.6}, r"thickness must be .* m, got 0.6"),
        ({"branches": 99}, r"branches must be 0 to 16, got 99"),
        ({"branches": 2.5}, r"branches must be a whole number, got 2.5"),
        ({"branches": float("nan")}, r"branches must be 0 to 16, got nan"),
        ({"twist": -0.1}, r"twist must be 0 to 1, got -0.1"),
        ({"taper": 1.0}, r"taper must be 0 to 0.95, got 1.0"),
        ({"detail": 5}, r"detail must be 2000 to 200000 triangles, got 5"),
    ],
)
def test_absurd_values_are_told_with_name_value_and_limit(values, told):
    with pytest.raises(ValueError, match=told):
        driftwood(1, **({"length": 0.6, "thickness": 0.08} | values))


@pytest.mark.parametrize("form", WOOD_FORMS)
def test_booleans_of_wood_add_up(form):
    """What a block loses around the wood is what both share: only so of a skin that nowhere folds."""
    mesh = driftwood(3, form=form, length=0.5, thickness=0.06, branches=6)
    assert 10_000 <= len(mesh[1]) <= 25_000  # where nobody says how fine
    wood = body_of(mesh)
    block = manifold3d.Manifold.cube((0.4, 0.4, 0.06), True).translate((0.0, 0.0, 0.04))
    lost, common = block.volume() - (block - wood).volume(), (block ^ wood).volume()
    assert common > 1e-6
    assert lost == pytest.approx(common, abs=1e-13)
