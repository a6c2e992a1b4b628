"""Water, displacement and pockets of solids whose volumes are known in closed form.

Volumes: sphere 4/3 pi r³, torus 2 pi² R r² (Pappus), half-filled lying cylinder pi r² l / 2, the common part
of two equal cylinders crossing at right angles 16 r³ / 3 (Steinmetz). Meshes have the true volume, or are
within 0.1 % of it; that is the tolerance.
"""

import math
from dataclasses import replace

import pytest
from closed_solids import ball, revolve

from layout3d.model.build import build_model
from layout3d.model.model import Model
from layout3d.parts.base import Body
from layout3d.scene.reader import read_scene
from layout3d.solid.boolean import difference
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement, Shape, Solid
from layout3d.water.cavity import around, basins, tank_cavity
from layout3d.water.displaced import displaced
from layout3d.water.figures import figures

WITHIN = 1e-3
LENGTH, DEPTH, HEIGHT, WATERLINE = 1.0, 0.5, 0.6, 0.4
GROSS = LENGTH * DEPTH * WATERLINE
MIDDLE = (0.5, 0.25, WATERLINE)
TEXT = f"""
format: 1
units: mm
waterline: {WATERLINE} m
parts:
  tank: {{kind: tank, inside: [{LENGTH} m, {DEPTH} m, {HEIGHT} m], glass: 10, silicone: 0}}
"""


def tank(*solids: Solid, porosity: float = 0.0) -> Model:
    model = build_model(read_scene("closed.yaml", text=TEXT))
    bodies = tuple(
        Body(
            name=f"body_{i}",
            part=f"body_{i}",
            kind="rock",
            group="rock",
            solid=solid,
            material="granite",
            density=2700.0,
            porosity=porosity,
        )
        for i, solid in enumerate(solids)
    )
    return replace(model, bodies=(*model.bodies, *bodies))


def net(model: Model) -> float:
    volume = figures(model)["water_volume_net"]
    assert isinstance(volume, float)
    return volume


def at(shape: Shape, point: tuple[float, float, float]) -> Solid:
    return shape.solid(Placement.at(point))


def lying(shape: Shape, point: tuple[float, float, float]) -> Solid:
    """Turn a bar along z to lie along x, its start at ``point``."""
    return shape.solid(Placement.from_frame(point, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)))


def test_an_empty_tank_holds_length_by_depth_by_waterline() -> None:
    assert net(tank()) == pytest.approx(GROSS, rel=1e-12)


def test_a_sphere_half_sunk_displaces_half_its_volume() -> None:
    half = 2.0 / 3.0 * math.pi * 0.1**3
    found = tank(at(ball(0.1), MIDDLE))
    assert displaced(found).parts["body_0"] == pytest.approx(half, rel=WITHIN)
    assert GROSS - net(found) == pytest.approx(half, rel=WITHIN)


def test_a_sphere_sunk_to_a_quarter_of_its_height_displaces_the_cap() -> None:
    r, h = 0.1, 0.05
    cap = math.pi * h**2 * (3 * r - h) / 3
    found = tank(at(ball(r), (0.5, 0.25, WATERLINE + r - h)))
    assert displaced(found).total == pytest.approx(cap, rel=WITHIN)


def test_a_cylinder_lying_half_in_the_water_displaces_half_its_volume() -> None:
    found = tank(lying(cylinder(0.08, 0.6), (0.2, 0.25, WATERLINE)))
    assert displaced(found).total == pytest.approx(math.pi * 0.08**2 * 0.6 / 2, rel=WITHIN)


def test_crossed_cylinders_count_their_common_part_once() -> None:
    r, length = 0.05, 0.4
    along = lying(cylinder(r, length), (0.3, 0.25, 0.2))
    across = cylinder(r, length).solid(Placement.from_frame((0.5, 0.05, 0.2), (1, 0, 0), (0, 1, 0)))
    both = 2 * math.pi * r**2 * length - 16 * r**3 / 3
    found = tank(along, across)
    taken = displaced(found).parts
    assert GROSS - net(found) == pytest.approx(both, rel=WITHIN)
    assert taken["body_0"] == pytest.approx(math.pi * r**2 * length, rel=WITHIN)
    assert taken["body_1"] == pytest.approx(math.pi * r**2 * length - 16 * r**3 / 3, rel=WITHIN)


def test_a_torus_displaces_what_pappus_says() -> None:
    ring_radius, r = 0.12, 0.04
    turns = [2 * math.pi * (i + 0.5) / 160 for i in range(160)]
    wide = r * math.sqrt(2 * math.pi / 160 / math.sin(2 * math.pi / 160))  # the polygon has the circle's area
    profile = [(ring_radius + wide * math.cos(t), wide * math.sin(t)) for t in turns]
    found = tank(at(revolve(profile), (0.5, 0.25, 0.2)))
    assert displaced(found).total == pytest.approx(2 * math.pi**2 * ring_radius * r**2, rel=WITHIN)


def test_a_flooded_tube_displaces_its_wall_only() -> None:
    found = tank(lying(tube(0.03, 0.025, 0.5), (0.2, 0.25, 0.2)))
    wall = math.pi * (0.03**2 - 0.025**2) * 0.5
    assert displaced(found).total == pytest.approx(wall, rel=WITHIN)
    assert net(found) == pytest.approx(GROSS - wall, rel=1e-5)
    assert not tank_cavity(found).pockets


def test_a_hollow_sphere_keeps_a_sealed_pocket_that_is_no_water() -> None:
    hollow = difference(at(ball(0.1), (0.5, 0.25, 0.2)), [at(ball(0.08), (0.5, 0.25, 0.2))])
    assert hollow is not None
    found = tank(hollow)
    cavity = tank_cavity(found)
    sphere, void = 4 / 3 * math.pi * 0.1**3, 4 / 3 * math.pi * 0.08**3
    assert net(found) == pytest.approx(GROSS - sphere, rel=1e-4)
    assert displaced(found).total == pytest.approx(sphere - void, rel=WITHIN)
    (pocket,) = cavity.pockets
    assert pocket.volume == pytest.approx(void, rel=WITHIN)
    assert pocket.at == pytest.approx((0.5, 0.25, 0.2), abs=1e-6)
    assert around(pocket.solid, found.bodies) == ("body_0",)


def test_the_half_of_a_sealed_pocket_below_the_waterline_counts_against_the_inside() -> None:
    hollow = difference(at(ball(0.1), MIDDLE), [at(ball(0.08), MIDDLE)])
    assert hollow is not None
    found = tank(hollow)
    assert float(tank_cavity(found).shut(WATERLINE)[0]) == pytest.approx(
        2 / 3 * math.pi * 0.08**3, rel=WITHIN
    )


def cup(foot: float, height: float) -> Solid:
    made = difference(
        at(cylinder(0.1, height), (0.5, 0.25, foot)), [at(cylinder(0.09, height), (0.5, 0.25, foot + 0.01))]
    )
    assert made is not None
    return made


def test_a_sunken_cup_fills() -> None:
    found = tank(cup(0.05, 0.2))
    solid = math.pi * 0.1**2 * 0.2 - math.pi * 0.09**2 * 0.19
    assert GROSS - net(found) == pytest.approx(solid, rel=WITHIN)
    assert len(basins(found)) == 1


def test_a_cup_whose_rim_stands_above_the_waterline_is_a_basin_of_its_own() -> None:
    found = tank(cup(0.25, 0.3))
    inner = math.pi * 0.09**2 * (WATERLINE - 0.26)
    pool, own = basins(found)
    assert own.volume == pytest.approx(inner, rel=WITHIN)
    assert own.area == pytest.approx(math.pi * 0.09**2, rel=WITHIN)
    assert own.depth == pytest.approx(0.14, rel=1e-9)
    assert pool.volume == pytest.approx(GROSS - math.pi * 0.1**2 * (WATERLINE - 0.25), rel=1e-4)
    assert pool.volume + own.volume == pytest.approx(net(found), rel=1e-9)
    assert figures(found)["water_volume_apart"] == pytest.approx(own.volume)


def test_a_cup_above_the_waterline_changes_nothing() -> None:
    found = tank(cup(0.45, 0.1))
    assert net(found) == pytest.approx(GROSS, rel=1e-12)
    assert displaced(found).parts["body_0"] == 0.0


def test_a_porous_block_displaces_its_grains_and_holds_the_rest_as_water() -> None:
    """Sand of porosity 0.40 keeps 0.40 of its volume as water (soil texts)."""
    found = tank(at(box((LENGTH, DEPTH, 0.1)), (0.0, 0.0, 0.0)), porosity=0.4)
    bed = LENGTH * DEPTH * 0.1
    numbers = figures(found)
    assert numbers["pore_water"] == pytest.approx(0.4 * bed, rel=1e-9)
    assert numbers["water_volume_net"] == pytest.approx(GROSS - 0.6 * bed, rel=1e-9)
    assert displaced(found).space["body_0"] == pytest.approx(bed, rel=1e-9)
