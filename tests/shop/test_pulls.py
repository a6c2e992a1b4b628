"""Straight pulls, hands and openings on shapes whose answers are plain, or stand in a book."""

import numpy as np
import pytest

from layout3d.parts.base import Body, Port
from layout3d.shop.access import HAND, hand_reaches
from layout3d.shop.pulls import Pull, Pulls
from layout3d.solid.boolean import difference
from layout3d.solid.distance import ball_passes
from layout3d.solid.primitives import box, cylinder, tube
from layout3d.solid.shape import Placement

UP, DOWN, LEFT, RIGHT, FRONT, BACK = (2, 1), (2, -1), (0, -1), (0, 1), (1, -1), (1, 1)
SIX = (UP, DOWN, LEFT, RIGHT, FRONT, BACK)


def body(name, solid, group="rock"):
    return Body(
        name=name, part=name, kind="rock", group=group, solid=solid, material="granite", density=2700.0
    )


def block(name, size, at, **more):
    return body(name, box(size).solid(Placement.at(at)), **more)


def free_ways(*bodies):
    pulls = Pulls(bodies)
    others = [other.name for other in bodies[1:]]
    return {way for way in SIX if pulls.free(bodies[0].name, Pull(way), others)}


def test_a_block_on_a_floor_and_against_a_wall_slides_along_both():
    stone = block("stone", (0.1, 0.1, 0.1), (0.0, 0.0, 0.0))
    floor = block("floor", (1.0, 1.0, 0.1), (-0.5, -0.5, -0.1))
    wall = block("wall", (0.1, 1.0, 1.0), (0.1, -0.5, 0.0))
    assert free_ways(stone, floor, wall) == {UP, LEFT, FRONT, BACK}


def test_a_block_under_a_shelf_goes_aside_and_then_up():
    stone = block("stone", (0.1, 0.1, 0.1), (0.0, 0.0, 0.0))
    shelf = block("shelf", (1.0, 0.12, 0.02), (-0.5, 0.0, 0.3))
    pulls = Pulls([stone, shelf])
    assert not pulls.free("stone", Pull(UP), ["shelf"])
    assert not pulls.free("stone", Pull(UP, FRONT, 0.06), ["shelf"])  # half of it is under the shelf still
    assert pulls.free("stone", Pull(UP, FRONT, 0.12), ["shelf"])
    assert pulls.free("stone", Pull(UP, reach=0.15), ["shelf"])  # it stops short of the shelf
    assert not pulls.free("stone", Pull(UP, reach=0.25), ["shelf"])


def test_a_pipe_in_a_ring_goes_along_it_alone():
    ring = body("ring", tube(0.05, 0.02, 0.03).solid())
    pipe = body("pipe", tube(0.0195, 0.017, 0.5).solid(Placement.at((0, 0, -0.25))), group="plumbing")
    assert free_ways(pipe, ring) == {UP, DOWN}
    assert free_ways(ring, pipe) == {UP, DOWN}


def test_a_thin_walled_pipe_does_not_slip_through_a_plate():
    """Its wall is thinner than a pixel: it moves as a full rod."""
    plate = block("plate", (0.5, 0.5, 0.01), (-0.25, -0.25, 0.4))
    pipe = body("pipe", tube(0.02, 0.0185, 0.2).solid(), group="plumbing")
    assert UP not in free_ways(pipe, plate)


def test_a_slab_over_a_bar_in_its_open_channel_comes_off_to_the_front():
    bar = body(
        "bar", cylinder(0.016, 1.0).solid(Placement.from_frame((0.0, 0.06, 0.5), (0, 0, 1), (1, 0, 0)))
    )
    slot = box((1.2, 0.08, 0.038)).solid(Placement.at((-0.1, 0.041, 0.481)))
    slab = difference(box((1.0, 0.08, 1.0)).solid(), [slot])
    assert free_ways(body("slab", slab), bar) >= {FRONT}
    assert not free_ways(body("slab", slab), bar) & {UP, DOWN, BACK}


def test_a_hand_gets_through_a_slot_as_wide_as_a_hand_and_through_none_narrower():
    port = Port(
        name="p", at=(0, 0, 0), direction=(0, -1, 0), end="socket", size="d20", bore=0.02, body="b", depth=0.0
    )
    for width, reached in ((HAND + 0.004, True), (HAND - 0.004, False)):
        high = 0.6
        walls = [
            box((0.6, 0.02, high)).solid(Placement.at((-0.3, 0.001, -high / 2))),
            box((0.6, 0.6, 0.02)).solid(Placement.at((-0.3, -0.6, width / 2))),
            box((0.6, 0.6, 0.02)).solid(Placement.at((-0.3, -0.6, -width / 2 - 0.02))),
        ]
        assert hand_reaches(port, walls) is reached


def test_a_ball_passes_as_its_capsule_says():
    wall = box((1.0, 1.0, 0.1)).solid(Placement.at((0.0, 0.0, 0.0)))
    start, end = np.array([-0.5, 0.5, 0.15]), np.array([1.5, 0.5, 0.15])
    assert ball_passes(start, end, 0.049, [wall])
    assert not ball_passes(start, end, 0.051, [wall])


@pytest.mark.parametrize("way", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (-1, 2, -3), (1e-9, 0, -1), (3, -2, 0.5)])
def test_a_ball_on_a_slant_passes_what_lies_farther_beside_its_way(way):
    """A dot of 1 mm, 30 mm square to the way's middle, and dots off its rounded ends: closed form."""
    way = np.array(way) / np.linalg.norm(way)
    aside = np.cross(way, (0.3, 0.5, 0.8))
    aside /= np.linalg.norm(aside)
    start, end = np.array([0.1, 0.2, 0.3]) - 0.2 * way, np.array([0.1, 0.2, 0.3]) + 0.2 * way
    for spot in ((start + end) / 2.0 + 0.030 * aside, end + 0.030 * way, start - 0.030 * way):
        dot = box((0.001, 0.001, 0.001), centre=True).solid(Placement.at(spot))
        assert ball_passes(start, end, 0.029, [dot])
        assert not ball_passes(start, end, 0.0301, [dot])
