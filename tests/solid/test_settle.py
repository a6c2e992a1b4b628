"""A piece let go comes to rest where statics has it: on a face, against what is there, nearer than 0.1 mm."""

import math

import coal
import manifold3d
import numpy as np
import pytest

from layout3d.errors import OutOfRange
from layout3d.hold.balance import tip_angle
from layout3d.keep import forget
from layout3d.parts.forms.rock import rock
from layout3d.parts.forms.wood import driftwood
from layout3d.solid.boolean import difference
from layout3d.solid.distance import gap, overlap
from layout3d.solid.nearby import FEW_FACES
from layout3d.solid.primitives import box, heightfield
from layout3d.solid.settle import _Piece, settled
from layout3d.solid.shape import Placement, Shape
from layout3d.solid.touch import touching

FLOOR = box((1.2, 0.6, 0.02)).solid(Placement.at((0.0, 0.0, -0.02)))


def rests(solid, obstacles):
    """Free of everything, touching something, and borne: the weight acts within what it stands on."""
    assert all(overlap(solid, other) is None for other in obstacles)
    assert min(gap(solid, other).distance for other in obstacles) < 1e-4
    touches = [touching(solid, other, apart=1e-4) for other in obstacles]
    below = np.concatenate([touch.points[touch.normals[:, 2] > 0.1] for touch in touches])
    return tip_angle(below, solid.centroid)


@pytest.mark.parametrize(
    ("turn", "height"),
    [(0.3, 0.2), (0.55, 0.1), (math.pi / 2 - 0.2, 0.1)],
)
def test_a_block_falls_on_the_side_that_it_leans_to(turn, height):
    """100 mm wide, 200 high: tipped by more than atan(50 / 100) = 0.46 it falls over, by less back."""
    block = box((0.1, 0.06, 0.2)).solid(Placement.at((0.5, 0.2, 0.3)) @ Placement.turned((0, 1, 0), turn))
    found = settled(block, [FLOOR])
    assert float(np.ptp(found.vertices[:, 2])) == pytest.approx(height, abs=2e-4)
    assert rests(found, [FLOOR]) > 0.2


def test_a_block_over_an_edge_falls_off_and_one_over_it_by_less_than_half_stays():
    table = box((0.4, 0.4, 0.1)).solid(Placement.at((0.0, 0.1, 0.0)))
    for past, low in ((0.09, 0.1), (0.11, 0.0)):
        block = box((0.2, 0.1, 0.05)).solid(Placement.at((0.2 + past, 0.2, 0.15)))
        found = settled(block, [FLOOR, table])
        assert rests(found, [FLOOR, table]) > 0.0
        assert float(found.bounds[0, 2]) == pytest.approx(low, abs=2e-4)


def test_a_plank_let_go_beside_a_wall_leans_or_lies_but_never_hangs():
    wall = box((0.1, 0.6, 0.5)).solid(Placement.at((0.0, 0.0, 0.0)))
    plank = box((0.02, 0.1, 0.4)).solid(Placement.at((0.25, 0.2, 0.1)) @ Placement.turned((0, 1, 0), -0.3))
    found = settled(plank, [FLOOR, wall])
    assert all(overlap(found, other) is None for other in (FLOOR, wall))
    assert float(found.bounds[0, 2]) < 1e-4
    assert found.centroid[2] < plank.centroid[2]


def test_rock_and_a_log_of_twenty_thousand_triangles_find_their_feet():
    boulder = Shape.of(*rock(3, form="boulder", size=(0.2, 0.15, 0.12), roughness=0.5, detail=None))
    stone = settled(boulder.solid(Placement.at((0.5, 0.3, 0.05))), [FLOOR])
    assert rests(stone, [FLOOR]) > 0.0
    looks = {"form": "log", "branches": 3, "twist": 0.5, "taper": 0.5, "detail": 20_000}
    log = Shape.of(*driftwood(5, length=0.5, thickness=0.08, **looks))
    assert len(log.faces) > 18_000
    found = settled(log.solid(Placement.at((0.5, 0.3, 0.3))), [FLOOR, stone])
    assert rests(found, [FLOOR, stone]) > 0.0
    again = settled(log.solid(Placement.at((0.5, 0.3, 0.3))), [FLOOR, stone])
    assert again.placement == found.placement


def test_it_is_lifted_out_of_what_it_is_put_into():
    block = box((0.1, 0.1, 0.1)).solid(Placement.at((0.5, 0.2, -0.05)))
    found = settled(block, [FLOOR])
    assert float(found.bounds[0, 2]) == pytest.approx(0.0, abs=1e-4)
    assert rests(found, [FLOOR]) > 0.5


def test_over_nothing_it_is_refused():
    block = box((0.1, 0.1, 0.1)).solid(Placement.at((5.0, 0.2, 0.5)))
    with pytest.raises(OutOfRange, match="nothing under it"):
        settled(block, [FLOOR])


def test_a_start_that_differs_in_its_last_digits_ends_at_the_same_place_to_the_last():
    """As between processors, whose sums of products differ by some 1e-15."""
    ends = []
    for nudge in (0.0, 4e-16, -7e-16):
        start = Placement.at((0.5 + nudge, 0.2, 0.3 - nudge)) @ Placement.turned((0, 1, 0), 0.4)
        found = settled(box((0.1, 0.06, 0.2)).solid(start), [FLOOR]).placement
        ends.append((found.offset.tolist(), found.rotation.tolist()))
    assert ends[1] == ends[0]
    assert ends[2] == ends[0]


def told_of_falls(monkeypatch):
    """Return a list that tells what falls from now on, instead of having it fall."""
    falls = []

    def rest(piece):
        falls.append(piece)
        there = Placement.at((0.0, 0.0, 1.0))
        piece._beside(piece._turned(there), there.offset)
        return there

    monkeypatch.setattr(_Piece, "rest", rest)
    return falls


def test_what_of_an_obstacle_lies_far_off_does_not_let_it_fall_anew(monkeypatch):
    """A wall beside it that grows higher up, and one that grows where it falls."""
    stone = box((0.1, 0.06, 0.05)).solid(Placement.at((0.0, 0.0, 0.02)) @ Placement.turned((0, 1, 0), 0.3))

    def wall(height, near=0.12):
        return box((0.02, 0.2, height)).solid(Placement.at((near, 0.0, -0.01)))

    found = settled(stone, [FLOOR, wall(0.5)]).placement
    falls = told_of_falls(monkeypatch)
    assert settled(stone, [FLOOR, wall(0.6)]).placement == found
    assert not falls
    settled(stone, [FLOOR, wall(0.6, near=0.11)])
    assert len(falls) == 1


def test_a_cut_beside_where_a_stone_falls_does_not_let_it_fall_anew(monkeypatch):
    """It stands upright: only what comes near it as it is counts, not what it would reach if it lay."""
    stone = box((0.03, 0.03, 0.2)).solid(Placement.at((-0.015, -0.015, 0.001)))
    fine = Shape.from_manifold(manifold3d.Manifold.sphere(0.06, 64))
    assert len(fine.faces) > FEW_FACES

    def drilled(at, beside=0.1):
        round_stone = fine.solid(Placement.at((beside, 0.0, 0.06)))
        return difference(round_stone, [box((0.01, 0.01, 0.02)).solid(Placement.at((at, 0.0, 0.11)))])

    found = settled(stone, [FLOOR, drilled(0.08)]).placement
    falls = told_of_falls(monkeypatch)
    assert settled(stone, [FLOOR, drilled(0.085)]).placement == found
    assert not falls
    settled(stone, [FLOOR, drilled(0.08, beside=0.07)])
    assert len(falls) == 1


def test_where_another_piece_was_moved_it_falls_past_the_rest_as_before(monkeypatch):
    block = box((0.1, 0.06, 0.2)).solid(Placement.at((0.51, 0.2, 0.3)) @ Placement.turned((0, 1, 0), 0.3))
    post = box((0.02, 0.02, 0.1))
    looked = []

    def free_by(piece, index, *where):
        looked.append(piece.obstacles[index])
        return ask(piece, index, *where)

    ask = _Piece._free_by
    monkeypatch.setattr(_Piece, "_free_by", free_by)
    _Piece(block, [FLOOR, post.solid(Placement.at((0.43, 0.25, 0.0)))], 0.0).rest()
    looked.clear()
    moved = post.solid(Placement.at((0.43, 0.2, 0.0)))
    again = _Piece(block, [FLOOR, moved], 0.0).rest()
    known = looked.count(FLOOR)
    _Piece(block, [FLOOR, post.solid(Placement.at((0.55, 0.2, 0.0)))], 0.0).rest()
    looked.clear()
    assert _Piece(block, [FLOOR, moved], 0.0).rest() == again
    assert not looked  # though it fell another way in between
    forget()
    assert _Piece(block, [FLOOR, moved], 0.0).rest() == again
    assert known < looked.count(FLOOR)


@pytest.mark.parametrize("left", [0.55, 0.56, 0.62, 0.74])
def test_what_it_is_known_to_be_clear_of_changes_nothing_of_its_way(left, monkeypatch):
    """Against asking for each obstacle at each place, by all its faces: met or not, and no more."""

    def plain(piece, index, moving):
        other, result = piece.obstacles[index], coal.CollisionResult()
        tree, there = other.shape.tree, coal.Transform3s(other.placement.rotation, other.placement.offset)
        coal.collide(start.shape.tree, moving, tree, there, coal.CollisionRequest(), result)
        return -1.0 if result.isCollision() else 0.0

    log = Shape.of(*driftwood(5, length=0.3, thickness=0.05, form="log", branches=3, detail=2_000))
    stones = [
        Shape.of(*rock(seed, form="boulder", size=(0.1, 0.08, 0.07), detail=800)).solid(
            Placement.at((0.4 + 0.11 * seed, 0.25, 0.0))
        )
        for seed in range(4)
    ]
    start = log.solid(Placement.at((left, 0.3, 0.2)) @ Placement.turned((0, 1, 0), 0.3))
    x, y = np.linspace(0.0, 1.2, 49), np.linspace(0.0, 0.6, 25)
    bed = heightfield(x, y, 0.02 + 0.01 * np.sin(30 * x[:, None]) * np.cos(20 * y), 0.0).solid()
    found = _Piece(start, [bed, *stones], 0.0)
    here, asked = found.rest(), len(found._last[0])
    assert found._lately
    forget()
    monkeypatch.setattr(_Piece, "_free_by", plain)
    again = _Piece(start, [bed, *stones], 0.0)
    assert again.rest() == here
    assert asked < len(again._last[0])


def test_a_hollow_on_its_way_out_of_what_it_is_put_into_is_seen():
    """Put into the foot of a pillar it comes out on top, or into the room in it, once there is one."""
    pillar = Shape.from_manifold(manifold3d.Manifold.cylinder(0.5, 0.1, 0.1, 200)).solid()
    hollow = difference(pillar, [box((0.1, 0.1, 0.2)).solid(Placement.at((-0.05, -0.05, 0.2)))])
    assert len(pillar.faces) > FEW_FACES
    block = box((0.02, 0.02, 0.02)).solid(Placement.at((0.0, 0.0, 0.02)))
    heights = [settled(block, [FLOOR, one]).bounds[0, 2] for one in (pillar, hollow)]
    assert heights == pytest.approx([0.5, 0.2], abs=1e-4)


def test_it_falls_as_far_at_once_as_the_nearest_of_all_lets_it():
    """Against the distance to each by itself; the nearest comes first, last and in between."""
    log = Shape.of(*driftwood(5, length=0.3, thickness=0.05, form="log", branches=3, detail=2_000))
    start = log.solid(Placement.at((0.6, 0.3, 0.3)) @ Placement.turned((0, 1, 0), 0.3))
    stone = Shape.of(*rock(1, form="boulder", size=(0.1, 0.08, 0.07), detail=800))
    stones = [stone.solid(Placement.at((0.45 + 0.1 * k, 0.25, 0.1 - 0.02 * k))) for k in range(4)]
    for obstacles in ([FLOOR, *stones], [*stones[::-1], FLOOR], [FLOOR, *stones[2:]]):
        found = _Piece(start, obstacles, 0.0)._distance(start.placement)
        least = min(gap(start, other).distance for other in obstacles)
        assert found == pytest.approx(least, rel=1e-12)
        assert found > 0.0
