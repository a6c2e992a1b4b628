"""The key figures add up, and are kept for as long as the model lives."""

import gc
import json
import weakref

import pytest
from closed_solids import ball
from shipped import SCENES, shipped_coarse

from layout3d.errors import OutOfRange
from layout3d.solid.boolean import difference, intersection, trim
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement
from layout3d.water.cavity import space_left, tank_cavity
from layout3d.water.figures import figures
from layout3d.water.remembered import kept
from layout3d.water.share import GIVES_WAY, shares


@pytest.fixture
def model(model_of, body_of):
    hollow = difference(ball(0.1, n=40).solid(), [ball(0.05, n=40).solid()]).moved(
        Placement.at((0.7, 0.25, 0.2))
    )
    return model_of(
        [
            body_of("bed", box((1.0, 0.5, 0.05)), porosity=0.4, density=2650.0, group="substrate"),
            body_of("stone", box((0.2, 0.2, 0.3)).solid(Placement.at((0.1, 0.1, 0.0)))),
            body_of("hollow", hollow, density=1500.0),
        ]
    )


@pytest.mark.parametrize("name", sorted(path.stem for path in SCENES.glob("*.yaml")))
def test_the_water_and_all_that_takes_its_place_fill_every_shipped_tank(name):
    """Two ways: the space is cut out at once, and what each body takes of it is cut by itself.

    A bed cut around a slab has faces that all but lie in the slab's; cutting both out of one space left
    2.6 mL of a slab standing as a pocket of the water.
    """
    model = shipped_coarse(name)
    cavity = space_left(tank_cavity(model).inside, shares(model))  # bores of drains are told apart below
    taken = sum(share.volume for share in cavity.shares if share.body.kind not in GIVES_WAY)
    left = sum(solid.volume for solid in (cavity.open, *cavity.sealed) if solid is not None)
    assert taken + left == pytest.approx(cavity.inside.volume, rel=1e-9)
    found = figures(model)
    parts = ("water_volume_net", "displaced_total", "sealed_pockets", "overflow_box_air")
    assert sum(found[part] for part in parts) == pytest.approx(found["water_volume_gross"], rel=1e-9)
    for pocket in tank_cavity(model).pockets:
        assert not any(intersection(pocket.solid, body.solid) for body in model.bodies)


def test_figures_add_up(model):
    found = figures(model)
    assert found["tank_inside_volume"] == pytest.approx(0.3)
    assert found["water_volume_gross"] == pytest.approx(0.2)
    assert found["water_volume_gross"] == pytest.approx(
        found["water_volume_net"] + found["displaced_total"] + found["sealed_pockets"], rel=1e-6
    )
    assert found["displaced_total"] == pytest.approx(sum(found["displaced"].values()))
    assert found["mass_total"] == pytest.approx(found["mass_dry"] + found["mass_water"])
    assert found["mass_dry"] == pytest.approx(sum(found["mass_by_group"].values()))
    assert found["displaced"]["stone"] == pytest.approx(0.012)
    assert found["displaced"]["bed"] == pytest.approx(0.6 * (0.5 - 0.04) * 0.05)
    assert found["displaced"]["tank"] == 0.0
    assert found["body_count"] == 8


def test_figures_are_plain_json(model):
    assert json.loads(json.dumps(figures(model), allow_nan=False)) == figures(model)


def test_a_waterline_above_the_rim_has_no_figures(model_of, overfill):
    with pytest.raises(OutOfRange, match="above the rim"):
        figures(overfill(model_of()))


def test_a_model_is_computed_once_and_then_let_go(model_of):
    count = []

    @kept
    def counted(model):
        count.append(1)
        return object()

    one, other = model_of(), model_of()
    assert counted(one) is counted(one)
    assert counted(other) is not counted(one)
    assert len(count) == 2
    figures(one)
    gone = weakref.ref(one)
    del one
    gc.collect()
    assert gone() is None
    assert counted(other) is counted(other)
    assert len(count) == 2


def test_the_cavity_is_computed_once(model):
    assert tank_cavity(model) is tank_cavity(model)


def test_a_whole_scene_adds_up():
    """A scene of every kind, cut at the waterline by a boolean: the slow second way."""
    model = shipped_coarse("ledge")
    found = figures(model)
    below = trim(model.tank.interior, normal=(0.0, 0.0, 1.0), offset=model.waterline)
    left = difference(below, [body.solid for body in model.bodies])
    sealed, pores = found["sealed_pockets"], found["pore_water"]
    assert left.volume == pytest.approx(found["water_volume_net"] - pores + sealed, rel=1e-6)
    assert found["water_volume_gross"] == pytest.approx(
        found["water_volume_net"] + found["displaced_total"] + sealed, rel=1e-5
    )
