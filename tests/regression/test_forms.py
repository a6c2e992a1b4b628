"""Our own numbers: a seed keeps giving the same form from release to release, and on each machine.

Rounded to 0.001 mm, far above what the last bit of a sine differs by between machines. Forms that go
through booleans are held by volume and size, since the triangulation is the boolean library's own.
"""

import hashlib

import numpy as np
import pytest

from layout3d.parts.forms.bed import sculpted_bed
from layout3d.parts.forms.leaf import plant
from layout3d.parts.forms.relief import relief
from layout3d.parts.forms.rock import rock
from layout3d.parts.forms.wood import driftwood


def volume_of(mesh):
    """Signed volume by the divergence theorem; above 0 when the faces turn outward."""
    a, b, c = (mesh[0][mesh[1][:, k]] for k in range(3))
    return float(np.sum(a * np.cross(b, c)) / 6.0)


def digest(values):
    return hashlib.sha256(np.round(np.asarray(values) * 1e6).astype("<i8").tobytes()).hexdigest()[:16]


@pytest.mark.parametrize(("form", "kept"), [("boulder", "7e27de9cc109501e"), ("lava", "54fe1549e1df1fc0")])
def test_rock_of_seed_11(form, kept):
    assert digest(rock(11, form=form, size=(0.3, 0.2, 0.15))[0]) == kept


@pytest.mark.parametrize(
    ("form", "kept"),
    [
        ("strata", "1f35899309f8f8e4"),
        ("crevices", "1fad775042f470b9"),
        ("boulders", "cd042cb4c0924a4c"),
        ("roots", "33324c55b4600f3d"),
    ],
)
def test_relief_of_seed_11(form, kept):
    assert digest(relief(11, form=form, width=0.8, height=0.4, depth=0.08, pitch=0.02)[2]) == kept


def test_bed_of_seed_11():
    bed = sculpted_bed([(0, 0, 0.05), (1, 0.5, 0.15), (0.4, 0.3, 0.08)], roughness=0.3, seed=11)
    x = np.linspace(0.0, 1.0, 20)
    assert digest(bed(x[:, None], x[None, :])) == "6558928f51b5bb61"


@pytest.mark.parametrize(("form", "kept"), [("slab", 0.003901479012693644), ("crag", 0.003420601106323267)])
def test_broken_rock_of_seed_11(form, kept):
    assert volume_of(rock(11, form=form, size=(0.3, 0.2, 0.15))) == pytest.approx(kept, rel=1e-4)


@pytest.mark.parametrize(
    ("form", "kept"),
    [("log", 0.0019130241646735872), ("root", 0.0017790242854559338), ("branch", 0.0022312778639770113)],
)
def test_driftwood_of_seed_11(form, kept):
    assert volume_of(driftwood(11, form=form, length=0.6, thickness=0.08)) == pytest.approx(kept, rel=1e-4)


@pytest.mark.parametrize(
    ("form", "kept"),
    [
        ("fern", 3.910105067350315e-05),
        ("broadleaf", 9.234392602198788e-05),
        ("grass", 1.778419398698836e-05),
        ("moss", 0.004938354689580555),
        ("creeper", 2.0346362660198863e-05),
        ("bromeliad", 0.00010976822486820986),
    ],
)
def test_plant_of_seed_11(form, kept):
    foliage = plant(11, form=form, height=0.2, spread=0.25)["foliage"]
    assert volume_of(foliage) == pytest.approx(kept, rel=1e-4)
