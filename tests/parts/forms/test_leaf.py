import hashlib

import manifold3d
import numpy as np
import pytest
from embedded import deepest_crossing
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.parts.forms.leaf import PLANT_FORMS, plant
from layout3d.solid.shape import Shape

CRUMB = 1e-10  # [m³]


def body_of(mesh):
    vertices, faces = mesh
    return manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(vertices), faces.astype(np.uint64)))


def digest(mesh):
    vertices, faces = mesh
    return hashlib.sha256(np.round(vertices * 1e6).astype(np.int64).tobytes() + faces.tobytes()).hexdigest()


@settings(max_examples=8)
@given(
    seed=st.integers(0, 10_000),
    form=st.sampled_from(PLANT_FORMS),
    height=st.floats(0.05, 0.6),
    ratio=st.floats(0.4, 2.5),
)
def test_plants_are_closed_and_of_the_height_and_spread_asked(seed, form, height, ratio):
    spread = height * ratio
    parts = plant(seed, form=form, height=height, spread=spread, detail=0.5)
    assert set(parts) == {"foliage", "root"}
    for mesh in parts.values():
        body = body_of(mesh)
        assert body.status() == manifold3d.Error.NoError
        assert body.volume() > 0.0
        # joining leaves may chip off crumbs of a hundredth of a cubic millimetre
        assert len([piece for piece in body.decompose() if piece.volume() > CRUMB]) == 1
    # nor does a blade fold through itself where it bends, narrows or waves: no boolean bears that
    # (a fern of 20 mm still may, by some µm)
    assert deepest_crossing(Shape.of(*parts["foliage"])) < 1e-9 or spread < 0.03
    low, high = parts["foliage"][0].min(axis=0), parts["foliage"][0].max(axis=0)
    assert high[2] - low[2] == pytest.approx(height, rel=1e-12)
    assert max(high[0] - low[0], high[1] - low[1]) == pytest.approx(spread, rel=1e-12)
    assert low[0] < 0.0 < high[0]  # it grows from the origin
    assert (high[2] if form == "creeper" else low[2]) == 0.0
    assert parts["root"][0][:, 2].max() == 0.0


@pytest.mark.parametrize("form", PLANT_FORMS)
def test_another_seed_gives_another_plant(form):
    """That the same seed gives the same one, ``tests/regression`` holds from version to version."""
    one, other = (plant(s, form=form, height=0.2, spread=0.25) for s in (2, 3))
    for name in ("foliage", "root"):
        assert digest(one[name]) != digest(other[name])
    assert 2500 <= len(one["foliage"][1]) <= 9_000


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"form": "oak"}, r"form must be one of fern, .*got 'oak'"),
        ({"height": 20.0}, r"height must be 0.01 to 2 m, got 20.0"),
        ({"spread": 0.0}, r"spread must be 0.025 to 1.6 m, got 0.0"),
        ({"detail": 9.0}, r"detail must be 0.5 to 3, got 9.0"),
    ],
)
def test_absurd_values_are_told_with_name_value_and_limit(values, told):
    with pytest.raises(ValueError, match=told):
        plant(1, **({"form": "fern", "height": 0.2, "spread": 0.3} | values))
