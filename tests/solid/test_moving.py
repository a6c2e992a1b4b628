"""What a moved solid meets, against the measures of a pair, each taken anew for where it was moved to."""

import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given
from hypothesis import strategies as st

from layout3d.solid.boolean import difference, union
from layout3d.solid.distance import gap, meet
from layout3d.solid.moving import Moving, corners_of
from layout3d.solid.placement import Placement
from layout3d.solid.primitives import box, cylinder, tube


@pytest.fixture
def others():
    hollow = box((0.16, 0.16, 0.16), centre=True).solid()
    pair = union(cylinder(0.01, 0.03).solid(Placement.at((0, 0, shift))) for shift in (-0.05, 0.05))
    return {
        "chest": difference(box((0.2, 0.2, 0.2), centre=True).solid(), [hollow]),
        "ball": ball(0.05, n=40).solid(Placement.at((0.3, 0.0, 0.0))),
        "tube": tube(0.06, 0.05, 0.1).solid(Placement.at((0, 0.3, 0)) @ Placement.turned((1, 2, 3), 0.7)),
        "pair": pair.moved(Placement.at((0.15, 0.15, 0.2))),
    }


@pytest.mark.parametrize("name", ["crumb", "ball", "pair", "chest"])
def test_it_meets_and_nears_what_the_measures_of_pairs_say(others, name):
    own = others.get(name) or ball(0.02, n=40).solid(Placement.at((0.01, 0, 0)))
    moving, there = Moving(own, list(others.values())), list(others.values())

    @given(shift=st.tuples(*[st.floats(-0.35, 0.35)] * 3), turn=st.floats(-3.0, 3.0))
    def at_a_place(shift, turn):
        move = Placement.at(shift) @ Placement.turned((1, 1, 0), turn)
        moved = own.moved(move)
        assert moving.met(move) == [k for k, other in enumerate(there) if meet(moved, other)]
        near = moving.nearer(move, 0.05)
        for k, other in enumerate(there):
            distance = gap(moved, other).distance
            if k in near:
                assert near[k] == pytest.approx(distance, abs=1e-9)
            else:
                assert distance > 0.05
        assert np.ptp(move.apply(corners_of(own)), axis=0) == pytest.approx(np.ptp(moved.vertices, axis=0))

    at_a_place()


def test_what_lies_in_a_closed_hollow_is_apart_and_in_the_wall_is_held(others):
    there = list(others.values())
    crumb = Moving(ball(0.005, n=40).solid(), there)
    assert crumb.met(Placement.identity()) == []
    assert crumb.met(Placement.at((0.09, 0.0, 0.0))) == [0]
    around = Moving(box((0.9, 0.9, 0.9), centre=True).solid(), there)
    assert around.met(Placement.identity()) == [0, 1, 2, 3]
    assert Moving(ball(0.01, n=40).solid(), []).met(Placement.identity()) == []


@pytest.mark.parametrize("name", ["crumb", "pair"])
def test_at_places_on_a_way_it_meets_what_it_meets_at_each_alone(others, name):
    """Longer than the places that are looked at together; begun in the middle, as a way that is barred is."""
    there = list(others.values())
    own = ball(0.005, n=20).solid() if name == "crumb" else others[name]
    moving, turn = Moving(own, there), Placement.turned((1, 2, 0), 0.4)
    offsets = np.linspace((-0.12, -0.1, -0.2), (0.12, 0.3, 0.1), 45)
    course = moving.course(turn, offsets)
    for place in (*range(9, 45), *range(9)):
        alone = moving.course(turn, offsets[place : place + 1])
        for index in np.flatnonzero(course.near[place]).tolist():
            assert course.meets(place, index) == alone.meets(0, index)
