"""What is left of the inside: it adds up, at every level, however it is turned, and by a second way."""

from dataclasses import replace

import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given, settings
from hypothesis import strategies as st

from layout3d.errors import OutOfRange
from layout3d.solid.boolean import difference, trim, union
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement, Shape
from layout3d.water.cavity import around, basins, tank_cavity
from layout3d.water.displaced import displaced_below

SIZE = (1.0, 0.5, 0.6)


def millimetres(low: int, high: int) -> st.SearchStrategy[float]:
    """Lengths in steps of 0.1 mm, so that faces also meet exactly, [m]."""
    return st.integers(10 * low, 10 * high).map(lambda tenths: tenths * 1e-4)


PLACES = st.tuples(millimetres(-100, 1000), millimetres(-100, 500), millimetres(-100, 600))


def hollow_ball() -> Shape:
    made = difference(ball(0.09, n=40).solid(), [ball(0.07, n=40).solid()])
    assert made is not None
    return made.shape


FORMS = (ball(0.09, n=40), box((0.3, 0.12, 0.2)), hollow_ball(), tube(0.05, 0.04, 0.3))


def bodies_at(body_of, places):
    return [
        body_of(f"b{i}", FORMS[i % 4].solid(Placement.at(place)), porosity=0.35 * (i % 3 == 1))
        for i, place in enumerate(places)
    ]


@given(places=st.lists(PLACES, max_size=6), level=millimetres(0, 600))
@settings(max_examples=8)
def test_displaced_and_net_and_pockets_add_up_to_the_inside(model_of, body_of, places, level):
    model = model_of(bodies_at(body_of, places), inside=SIZE)
    cavity = tank_cavity(model)
    parts = displaced_below(model, level).total + cavity.net(level) + cavity.shut(level)
    assert parts[0] == pytest.approx(cavity.gross(level)[0], rel=1e-6, abs=1e-9)


@given(places=st.lists(PLACES, min_size=1, max_size=5), level=millimetres(50, 550))
@settings(max_examples=6)
def test_what_is_left_is_what_cutting_at_the_level_leaves(model_of, body_of, places, level):
    """The slow way: one boolean for each level."""
    bodies = bodies_at(body_of, places)
    cavity = tank_cavity(model_of(bodies, inside=SIZE))
    water = trim(cavity.inside, normal=(0, 0, 1), offset=level)
    left = difference(water, [body.solid for body in bodies])
    assert cavity.free(level)[0] + cavity.shut(level)[0] == pytest.approx(left.volume, rel=1e-6)


@given(places=st.lists(PLACES, min_size=1, max_size=5))
@settings(max_examples=6)
def test_net_water_rises_with_the_level(model_of, body_of, places):
    levels = np.linspace(0.0, 0.6, 61)
    cavity = tank_cavity(model_of(bodies_at(body_of, places), inside=SIZE))
    assert (np.diff(cavity.net(levels)) >= -1e-12).all()
    assert (cavity.surface(levels) <= 0.5 + 1e-9).all()


@given(places=st.lists(PLACES, min_size=1, max_size=5), level=millimetres(0, 600))
@settings(max_examples=6)
def test_a_mirrored_scene_holds_the_same(model_of, body_of, places, level):
    bodies = bodies_at(body_of, places)
    mirrored = []
    for body in bodies:
        vertices = body.solid.vertices * [-1.0, 1.0, 1.0] + [SIZE[0], 0.0, 0.0]
        shape = Shape.of(vertices, body.solid.faces[:, ::-1])
        mirrored.append(replace(body, solid=shape.solid()))
    one, other = model_of(bodies, inside=SIZE), model_of(mirrored, inside=SIZE)
    level *= 0.99993  # off the level faces, where the surface jumps
    for figure in ("net", "free", "shut", "pores", "surface"):
        a, b = (getattr(tank_cavity(model), figure)(level)[0] for model in (one, other))
        assert a == pytest.approx(b, rel=1e-6, abs=1e-9)
    assert displaced_below(one, level).parts == pytest.approx(displaced_below(other, level).parts, abs=1e-9)


@pytest.mark.parametrize("level", [-0.01, 0.601])
def test_a_level_outside_the_tank_is_refused(model_of, level):
    with pytest.raises(OutOfRange, match="above the rim" if level > 0 else "below the floor") as caught:
        tank_cavity(model_of(inside=SIZE)).net(level)
    assert caught.value.expected == "a level from 0 to 600 mm above the floor"


def test_a_waterline_at_the_rim_is_allowed(model_of):
    model = model_of(inside=SIZE, waterline=0.6)
    assert tank_cavity(model).net(model.waterline)[0] == pytest.approx(0.3)


def test_a_wall_to_the_top_parts_the_water_in_two(model_of, body_of):
    wall = box((0.02, 0.5, 0.6)).solid(Placement.at((0.3, 0.0, 0.0)))
    model = model_of([body_of("wall", wall)], inside=SIZE)
    large, small = basins(model)
    assert large.volume == pytest.approx(0.68 * 0.5 * 0.4)
    assert small.volume == pytest.approx(0.3 * 0.5 * 0.4)
    assert not tank_cavity(model).pockets
    assert around(small.solid, model.bodies) == (
        "tank.front",
        "tank.back",
        "tank.left",
        "tank.bottom",
        "wall",
    )


@pytest.mark.parametrize("waterline", [7 * 0.0254, 0.1 / 3, 0.314325])
def test_a_basin_has_the_surface_of_its_plan_at_any_level(model_of, body_of, waterline):
    stone = body_of("stone", ball(0.15, n=40).solid(Placement.at((0.51, 0.23, 0.13))))
    model = model_of([stone], inside=SIZE, waterline=waterline)
    (pool,) = basins(model)
    assert pool.area == pytest.approx(tank_cavity(model).surface(waterline)[0], rel=1e-9)


def test_a_cover_does_not_seal(model_of, body_of):
    cover = box((1.0, 0.5, 0.01)).solid(Placement.at((0.0, 0.0, 0.5)))
    cavity = tank_cavity(model_of([body_of("cover", cover)], inside=SIZE))
    assert cavity.covered
    assert not cavity.pockets
    assert cavity.net(0.4)[0] == pytest.approx(0.2)
    assert cavity.surface(0.4)[0] == pytest.approx(0.5)  # 1 by 0.5 m


@pytest.mark.parametrize("covered", [False, True])
def test_leaves_take_their_room_under_a_cover_too_but_not_that_of_a_stone_in_them(model_of, body_of, covered):
    """By hand: 0.4 m on 0.5 m² less a leaf of 2 L, in which a stone of 1 L stands: 198 L are left."""
    leaf = body_of("fern", box((0.2, 0.1, 0.1)).solid(Placement.at((0.1, 0.1, 0.1))), kind="foliage")
    stone = body_of("stone", box((0.1, 0.1, 0.1)).solid(Placement.at((0.1, 0.1, 0.1))))
    cover = body_of("cover", box((1.0, 0.5, 0.01)).solid(Placement.at((0.0, 0.0, 0.5))))
    model = model_of([leaf, stone, *([cover] if covered else [])], inside=SIZE)
    assert tank_cavity(model).net(0.4)[0] == pytest.approx(0.198)


def test_a_tank_filled_with_stone_holds_nothing(model_of, body_of):
    model = model_of([body_of("block", box((1.2, 0.7, 0.8)).solid(Placement.at((-0.1, -0.1, -0.1))))])
    cavity = tank_cavity(model)
    assert cavity.net([0.0, 0.4]).tolist() == [0.0, 0.0]
    assert cavity.surface(0.3).tolist() == [0.0]
    assert basins(model) == ()


def test_no_water_has_no_basins(model_of):
    assert basins(model_of(waterline=0.0)) == ()


def test_a_bar_through_the_wall_counts_inside_only(model_of, body_of):
    bar = cylinder(0.05, 0.6).solid(Placement.from_frame((-0.3, 0.25, 0.2), (0, 0, 1), (1, 0, 0)))
    model = model_of([body_of("bar", bar)], inside=SIZE)
    assert displaced_below(model, 0.4).parts["bar"] == pytest.approx(bar.volume / 2, rel=1e-9)


def test_the_surface_is_the_slope_of_the_volume(model_of, body_of):
    cavity = tank_cavity(model_of([body_of("b", ball(0.1, n=40).solid(Placement.at((0.5, 0.25, 0.3))))]))
    level, step = 0.33, 1e-6
    slope = np.diff(cavity.free([level - step, level + step]))[0] / (2 * step)
    assert cavity.surface(level)[0] == pytest.approx(slope, rel=1e-6)


def test_a_polygonal_tank_holds_its_plan_by_the_waterline():
    """Hexagon of side a: area 3 sqrt(3) / 2 a²."""
    from layout3d.model.build import build_model
    from layout3d.scene.reader import read_scene

    corners = [(0.3 * np.cos(t), 0.3 * np.sin(t)) for t in np.arange(6) * np.pi / 3]
    moved = np.array(corners) - np.min(corners, axis=0)
    plan = [[f"{x!r} m", f"{y!r} m"] for x, y in moved.tolist()]
    text = (
        "format: 1\nunits: mm\nwaterline: 200 mm\nparts:\n"
        f"  tank: {{kind: tank, footprint: {plan}, height: 300, glass: 8, silicone: 0}}\n"
    )
    model = build_model(read_scene("hexagon.yaml", text=text.replace("'", "")))
    assert tank_cavity(model).net(0.2)[0] == pytest.approx(1.5 * np.sqrt(3) * 0.09 * 0.2, rel=1e-9)
    assert not tank_cavity(model).pockets


def test_union_of_all_bodies_is_what_is_missing(model_of, body_of):
    rng = np.random.default_rng(7)
    bodies = bodies_at(body_of, rng.uniform([0.1, 0.1, 0.1], [0.6, 0.3, 0.3], (8, 3)))
    cavity = tank_cavity(model_of(bodies, inside=SIZE))
    taken = displaced_below(model_of(bodies, inside=SIZE), 0.6).space
    joined = union([body.solid for body in bodies])
    assert sum(taken.values()) == pytest.approx(joined.volume, rel=1e-6)
    assert cavity.gross(0.6)[0] - cavity.free(0.6)[0] - cavity.shut(0.6)[0] == pytest.approx(
        joined.volume, rel=1e-6
    )


def test_a_body_whose_box_reaches_a_pocket_but_which_does_not_is_not_around_it(body_of):
    """A plate on its corner, at 45 degrees: the pocket in its box's corner is 70 mm off it."""
    plate = box((0.4, 0.4, 0.01), centre=True).solid(Placement.turned((0.0, 1.0, 0.0), np.pi / 4))
    pocket = box((0.02, 0.02, 0.02), centre=True).solid(Placement.at((0.1, 0.0, 0.1)))
    floor = box((0.4, 0.4, 0.01)).solid(Placement.at((-0.2, -0.2, 0.08)))
    assert around(pocket, [body_of("plate", plate), body_of("floor", floor)]) == ("floor",)
