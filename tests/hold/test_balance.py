"""Rigid bodies at rest against closed forms of statics."""

import math

import manifold3d
import numpy as np
import pytest

from layout3d.hold import balance
from layout3d.hold.balance import FIXED, Contact, Pile, tip_angle
from layout3d.solid.primitives import box, cylinder
from layout3d.solid.shape import Placement, Shape
from layout3d.solid.touch import touching

GRAVITY = 9.80665
FACETS = 1 - math.cos(math.pi / 16)  # an inscribed cone of 16 edges understates a push by up to this


def weight(mass):
    return np.array([0.0, 0.0, -mass * GRAVITY, 0.0, 0.0, 0.0])


def pile(movable, fixed=(), *, friction=0.5, normal_gap=1e-6):
    """A pile of solids that touch, of density 1000 kg/m³; everything rubs alike."""
    contacts = []
    for i, a in enumerate(movable):
        others = [(FIXED, b) for b in fixed] + [(j, b) for j, b in enumerate(movable) if j < i]
        for other, b in others:
            touch = touching(a, b, apart=normal_gap, into=1e-6)
            if len(touch.points):
                contacts.append(
                    Contact(
                        upper=i, lower=other, points=touch.points, normals=touch.normals, friction=friction
                    )
                )
    made = Pile(np.array([solid.centroid for solid in movable]), contacts)
    return made, np.array([weight(1000.0 * solid.volume) for solid in movable])


def stands(made, loads):
    left, _ = made.unrest(loads)
    return not left.any()


FLOOR = box((4.0, 4.0, 1.0)).solid(Placement.at((-2.0, -2.0, -1.0)))


@pytest.mark.parametrize("friction", [0.2, 0.5])
def test_a_block_slides_where_the_slope_is_as_steep_as_its_friction(friction):
    """Coulomb: it slides from tan a = mu on, whatever its weight. Any text on statics."""
    block = box((0.4, 0.4, 0.05)).solid(Placement.at((-0.2, -0.2, 0.0)))
    limit = math.atan(friction)
    for angle, holds in ((limit - 0.002, True), (limit + 0.002, False)):
        turn = Placement.turned((0, 1, 0), -angle)
        made, loads = pile([block.moved(turn)], [FLOOR.moved(turn)], friction=friction)
        assert stands(made, loads) == holds


def test_a_tall_block_tips_before_it_slides():
    """Base 0.1 m, height 0.4 m, mu 0.6: over its lower edge at tan a = b / h = 0.25."""
    block = box((0.1, 0.1, 0.4)).solid(Placement.at((-0.05, -0.05, 0.0)))
    limit = math.atan(0.25)
    for angle, holds in ((limit - 0.001, True), (limit + 0.001, False)):
        turn = Placement.turned((0, 1, 0), -angle)
        made, loads = pile([block.moved(turn)], [FLOOR.moved(turn)], friction=0.6)
        assert stands(made, loads) == holds
    feet = np.array([(x, y, 0.0) for x in (-0.05, 0.05) for y in (-0.05, 0.05)])
    assert tip_angle(feet, np.array([0.0, 0.0, 0.2])) == pytest.approx(limit)


@pytest.mark.parametrize(("friction", "share"), [(0.6, 0.25), (0.2, 0.2)])
def test_the_push_that_moves_a_block_is_the_lesser_of_tipping_and_sliding(friction, share):
    """At the centre of mass: tips at W b / h, slides at mu W."""
    block = box((0.1, 0.1, 0.4)).solid(Placement.at((-0.05, -0.05, 0.0)))
    made, loads = pile([block], [FLOOR], friction=friction)
    exact = share * -loads[0, 2]
    assert (1 - FACETS) * math.cos(math.pi / 8) * exact <= made.pushes(0, [loads])[0] <= exact * (1 + 1e-9)


def test_a_standing_cylinder_tips_at_radius_over_half_its_height():
    """tan a = r / (h / 2); the mesh is a polygon of the circle's own area, corners just outside of it."""
    round_one = cylinder(0.05, 0.3).solid()
    touch = touching(round_one, FLOOR, apart=1e-6, into=1e-6)
    found = tip_angle(touch.points, round_one.centroid)
    assert math.tan(found) == pytest.approx(0.05 / 0.15, rel=2e-3)


def test_a_body_on_a_point_or_a_line_has_no_angle_to_tip():
    line = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0)])
    assert tip_angle(line, np.array([0.5, 0.0, 0.3])) == 0.0
    assert tip_angle(line[:1], np.array([0.0, 0.0, 0.3])) == 0.0


def test_a_centre_beside_the_support_falls():
    feet = np.array([(0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)])
    assert tip_angle(feet, np.array([0.6, 0.6, 0.3])) == 0.0


@pytest.mark.parametrize(("stretch", "holds"), [(0.999, True), (1.001, False)])
def test_blocks_over_an_edge_reach_out_by_the_harmonic_series(stretch, holds):
    """Equal blocks overhang 1/2, 3/4, 11/12 of a length at most: the harmonic series, in texts on statics."""
    length, high = 0.2, 0.05
    reach = [stretch * length * share for share in (1 / 6, 5 / 12, 11 / 12)]  # of the lowest, middle, top
    # each block's right end past the edge at x = 0
    blocks = [
        box((length, 0.1, high)).solid(Placement.at((end - length, 0.0, k * high)))
        for k, end in enumerate(reach)
    ]
    table = box((1.0, 0.3, 0.1)).solid(Placement.at((-1.0, -0.1, -0.1)))
    made, loads = pile(blocks, [table])
    assert stands(made, loads) == holds


def test_a_ladder_on_a_smooth_wall_needs_half_the_cotangent_of_friction():
    """A plank at angle a to the floor against a frictionless wall stands from mu = 1 / (2 tan a) on."""
    angle = math.radians(60)
    thin = 0.002
    plank = box((1.0, 0.1, thin)).solid(Placement.turned((0, 1, 0), -angle))
    plank = plank.moved(Placement.at((-plank.bounds[1, 0], 0.0, -plank.bounds[0, 2])))
    wall = box((0.1, 1.0, 2.0)).solid(Placement.at((0.0, -0.5, 0.0)))
    need = 1 / (2 * math.tan(angle))
    for friction, holds in ((0.97 * need, False), (1.03 * need, True)):
        made, loads = pile([plank], [FLOOR, wall], friction=friction)
        assert stands(made, loads) == holds


def test_a_block_squeezed_between_two_panes_is_held_by_nothing():
    """Rigid bodies could be squeezed as hard as one likes; no friction is counted on such faces."""
    block = box((0.2, 0.2, 0.2)).solid(Placement.at((0.0, 0.0, 0.5)))
    panes = [box((0.1, 1.0, 2.0)).solid(Placement.at((x, -0.5, 0.0))) for x in (-0.1, 0.2)]
    made, loads = pile([block], panes, friction=0.8)
    assert not stands(made, loads)


def arch(thickness, count=20):
    """Voussoirs of a half circle of mean radius 1 m."""
    radii = (1 - thickness / 2, 1 + thickness / 2)
    stones = []
    for k in range(count):
        turns = np.pi * np.array([k, k + 1]) / count
        plan = [(r * math.cos(turn), r * math.sin(turn)) for turn in turns for r in radii]
        corners = np.array([(x, y, z) for y in (0.0, 0.3) for x, z in plan])
        stones.append(Shape.from_manifold(manifold3d.Manifold.hull_points(corners)).solid())
    return stones


def test_a_half_circle_of_stones_stands_from_its_least_thickness_on():
    """A round arch stands under its own weight from t / R = 0.1075 on: Milankovitch 1907 (from memory)."""
    ground = box((4.0, 1.0, 1.0)).solid(Placement.at((-2.0, -0.3, -1.0)))
    for thickness, holds in ((0.1065, False), (0.1085, True)):
        made, loads = pile(arch(thickness), [ground], friction=0.7, normal_gap=1e-5)
        assert stands(made, loads) == holds


def test_what_stands_presses_with_its_weight_and_a_stack_with_all_of_it():
    blocks = [box((0.2, 0.2, 0.1)).solid(Placement.at((0.0, 0.0, 0.1 * k))) for k in range(3)]
    made, loads = pile(blocks, [FLOOR])
    left, presses = made.unrest(loads)
    assert not left.any()
    one = 1000 * 0.004 * GRAVITY
    assert [float(each.sum()) for each in presses] == pytest.approx([3 * one, 2 * one, one], rel=1e-6)


def test_what_falls_is_named():
    """Of two stones side by side the one that hangs over is told."""
    good = box((0.1, 0.1, 0.1)).solid(Placement.at((-0.5, 0.0, 0.0)))
    bad = box((0.2, 0.1, 0.1)).solid(Placement.at((-0.05, 0.0, 0.0)))
    table = box((1.0, 0.3, 0.1)).solid(Placement.at((-1.0, -0.1, -0.1)))
    made, loads = pile([good, bad], [table])
    left, _ = made.unrest(loads)
    assert left[0] == 0.0
    assert left[1] > 0.0


def test_a_push_in_a_large_pile_is_understated_if_anything(monkeypatch):
    """A wall of 12 bricks in bond: with the far ones left as they press, no push found is too great."""
    bricks = [
        box((0.2, 0.1, 0.08)).solid(Placement.at((0.1 * row + 0.202 * k, 0.0, 0.08 * row)))
        for row in range(3)
        for k in range(5 - row)
    ]
    assert len(bricks) == 12
    made, loads = pile(bricks, [FLOOR])
    near = [made.pushes(body, [loads])[0] for body in range(0, 12, 4)]
    monkeypatch.setattr(balance, "NEAR", 12)
    whole = [pile(bricks, [FLOOR])[0].pushes(body, [loads])[0] for body in range(0, 12, 4)]
    assert all(0.0 < a <= b * (1 + 1e-6) for a, b in zip(near, whole, strict=True))
    assert sum(near) == pytest.approx(sum(whole), rel=0.1)  # and by little


def rough_pile():
    """Three stones on each other, on faces none of which lies quite level; and what they weigh."""
    draw = np.random.default_rng(3)
    centres = np.array([(0.0, 0.0, 0.1), (0.04, 0.02, 0.3), (0.0, 0.03, 0.5)])
    feet = np.array([(x, y, -0.1) for x in (-0.1, 0.0, 0.1) for y in (-0.08, 0.08)])
    contacts = []
    for k, centre in enumerate(centres):
        normals = np.array([0.0, 0.0, 1.0]) + draw.normal(scale=0.1, size=feet.shape)
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        points = centre + feet + draw.normal(scale=0.01, size=feet.shape)
        contacts.append(Contact(upper=k, lower=k - 1, points=points, normals=normals, friction=0.5))
    assert contacts[0].lower == FIXED
    return Pile(centres, contacts), np.array([weight(mass) for mass in (4.0, 3.0, 2.0)])


def test_pushes_and_what_is_left_are_what_a_library_finds_from_nothing(monkeypatch):
    """The corner of one load is where the next begins: HiGHS begins anew, and finds the same."""
    made, dry = rough_pile()
    wet = dry * np.array([[0.7], [0.45], [0.6]])
    found = [made.pushes(body, [dry, wet]) for body in range(3)]
    assert not made.left(wet, dry).any()
    over = dry.copy()
    over[1, 0] = 80.0
    assert made.left(over, dry).tolist() == made.unrest(over)[0].tolist()
    assert made.left(over, dry).any()
    monkeypatch.setattr(balance, "cheapest", lambda *_: None)
    for body, told in enumerate(found):
        assert 0.0 < told[1] < told[0]
        assert made.pushes(body, [dry, wet]) == pytest.approx(told, rel=1e-9)
