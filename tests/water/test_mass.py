"""Masses, the floor's load and lift, against sums done by hand."""

import pytest

from layout3d.catalog import water_density
from layout3d.errors import OutOfRange
from layout3d.solid.primitives import box
from layout3d.solid.shape import Placement
from layout3d.water.mass import Masses, floor_load, lifts, masses, water_density_of

GLASS = (1.02 * 0.52 * 0.01 + 2 * 1.02 * 0.6 * 0.01 + 2 * 0.5 * 0.6 * 0.01) * 2500.0
"""Bottom, front and back over the full length, sides between them; 10 mm, 2500 kg/m³ (EN 572-1)."""
WATER = 997.30
"""Water at 24 °C, [kg/m³]. Tanaka et al., Metrologia 38 (2001)."""


def test_water_is_as_dense_as_at_its_temperature(model_of):
    assert water_density_of(model_of()) == pytest.approx(WATER, abs=0.01)


def test_an_empty_tank_weighs_its_glass_and_its_water(model_of):
    found = masses(model_of())
    assert found.glass == pytest.approx(GLASS)
    assert found.dry == found.glass
    assert found.water == pytest.approx(0.2 * WATER, rel=1e-5)
    assert found.total == pytest.approx(found.glass + found.water)
    assert found.bodies["tank.bottom"] == pytest.approx(1.02 * 0.52 * 0.01 * 2500)


def test_bodies_weigh_by_part_and_group(model_of, body_of):
    stone = body_of("stone", box((0.1, 0.1, 0.1)).solid(Placement.at((0.3, 0.1, 0.0))))
    sand = body_of("bed", box((0.2, 0.2, 0.1)), porosity=0.4, density=2650.0, group="substrate")
    found = masses(model_of([stone, sand]))
    assert found.parts["stone"] == pytest.approx(2.7)
    assert found.groups["substrate"] == pytest.approx(0.004 * 0.6 * 2650)
    assert found.shared == pytest.approx(0.0, abs=1e-9)


def test_shared_volume_weighs_once(model_of, body_of):
    stone = body_of("stone", box((0.1, 0.1, 0.1)))
    sand = body_of("bed", box((0.2, 0.2, 0.1)), porosity=0.4, density=2650.0, group="substrate")
    found = masses(model_of([sand, stone]))
    assert found.parts["stone"] == pytest.approx(2.7)
    assert found.parts["bed"] == pytest.approx(0.003 * 0.6 * 2650)
    assert found.shared == pytest.approx(0.001 * 0.6 * 2650)


def test_the_floor_under_a_tank(model_of):
    """40 psf is 1.915 kPa (IRC table R301.5, from memory); water alone makes 9.8 kPa for each metre."""
    load = floor_load(model_of())
    mass = GLASS + 0.2 * WATER
    assert load.stands_on == "tank"
    assert load.footprint == pytest.approx(1.02 * 0.52)
    assert load.pressure == pytest.approx(mass * 9.80665 / (1.02 * 0.52), rel=1e-5)
    assert load.times_limit == pytest.approx(load.pressure / 1915.0)
    assert not load.asks
    assert "engineer" in load.caution


def test_a_heavy_tank_asks_for_an_engineer(model_of):
    load = floor_load(model_of(inside=(1.5, 0.6, 0.6), waterline=0.5))
    assert load.asks
    assert load.mass > load.ask.value


STAND = """
  stand: {kind: stand, height: 800 mm, board: 20 mm, overhang: 50 mm}
"""


def test_a_stand_is_what_loads_the_floor(model_of):
    model = model_of(more=STAND)
    load = floor_load(model)
    assert load.stands_on == "stand"
    assert load.footprint == pytest.approx((1.02 + 0.1) * (0.52 + 0.1))
    assert load.mass == pytest.approx(masses(model).total)


def test_ten_litres_of_foam_pull_up_with_ninety_five_newtons(model_of, body_of):
    """One-part foam of 25 kg/m³: (997.3 - 25) kg/m³ times 10 L times g is 95.3 N."""
    foam = body_of("wall", box((0.5, 0.1, 0.2)), density=25.0, group="background")
    stone = body_of("stone", box((0.1, 0.1, 0.1)).solid(Placement.at((0.7, 0.3, 0.0))))
    (lift,) = lifts(model_of([foam, stone]))
    assert lift.part == "wall"
    assert lift.buoyancy == pytest.approx(0.010 * WATER * 9.80665, rel=1e-5)
    assert lift.net == pytest.approx(0.010 * (WATER - 25.0) * 9.80665, rel=1e-5)


def test_foam_above_the_water_pulls_less_or_not_at_all(model_of, body_of):
    foam = body_of("wall", box((0.5, 0.1, 0.5)).solid(Placement.at((0, 0, 0.3))), density=25.0)
    (lift,) = lifts(model_of([foam]))
    assert lift.net == pytest.approx((0.5 * 0.1 * 0.1 * WATER - 0.025 * 25.0) * 9.80665, rel=1e-5)
    assert lifts(model_of([foam], waterline=0.2)) == ()


def test_water_too_hot_for_the_density_formula_is_refused():
    with pytest.raises(OutOfRange):
        water_density(41.0)


def test_a_waterline_above_the_rim_is_refused(model_of, overfill):
    with pytest.raises(OutOfRange, match="100 mm above the rim"):
        masses(overfill(model_of()))


@pytest.mark.parametrize("order", [1, -1])
def test_a_floor_is_loaded_over_the_feet_alone(model_of, body_of, order):
    """Two feet of 100 x 100 mm, 1 m apart, and a wider board on them: the hull of the feet is 1.1 x 0.1 m.

    A foot 1.5 mm short of the floor still stands on it, one 3 mm short doesn't.
    """
    feet = [
        body_of("stand.left", box((0.1, 0.1, 0.7)).solid(Placement.at((0.0, 0.1, -0.8))), group="stand"),
        body_of(
            "stand.right", box((0.1, 0.1, 0.6985)).solid(Placement.at((1.0, 0.1, -0.7985))), group="stand"
        ),
        body_of("stand.short", box((0.1, 0.1, 0.697)).solid(Placement.at((0.5, 0.4, -0.797))), group="stand"),
        body_of("stand.board", box((1.4, 0.6, 0.1)).solid(Placement.at((-0.1, 0.0, -0.1))), group="stand"),
    ]
    load = floor_load(model_of(feet[::order]))
    assert load.stands_on == "stand"
    assert load.footprint == pytest.approx(1.1 * 0.1)


def test_of_several_lifts_the_strongest_comes_first(model_of, body_of):
    small = body_of("small", box((0.1, 0.1, 0.1)), density=25.0)
    large = body_of("large", box((0.2, 0.1, 0.1)).solid(Placement.at((0.5, 0.1, 0.0))), density=25.0)
    assert [lift.part for lift in lifts(model_of([small, large]))] == ["large", "small"]


def test_all_water_is_on_the_floor_that_of_the_sump_too():
    """By hand: 100 kg of parts, 40 in the tank, 25 in the sump; and no more than that."""
    masses = Masses(bodies={}, parts={}, groups={}, dry=100.0, shared=3.0, water=40.0, sump_water=25.0)
    assert masses.total == 165.0
