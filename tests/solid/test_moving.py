"""What a moved solid meets, against the measures of a pair, each taken anew for where it was moved to."""

from itertools import pairwise

import numpy as np
import pytest
from closed_solids import ball
from hypothesis import given
from hypothesis import strategies as st

from layout3d.solid.boolean import difference, union
from layout3d.solid.distance import gap, meet
from layout3d.solid.moving import Moving, corners_of, met_along
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
        clear = [moving.clear(move, move.offset, k) for k in range(len(there))]
        near = moving.nearer(move, 0.05)
        for k, other in enumerate(there):
            distance = gap(moved, other).distance
            # below 0 where they meet, and never farther than they are
            assert clear[k] < 0.0 if meet(moved, other) else 0.0 <= clear[k] <= distance
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


@pytest.mark.parametrize("phase", np.linspace(0.0004, 0.0094, 10))
def test_no_place_is_passed_over_where_a_crumb_is_led_through_a_leaning_pane(phase):
    """Closed form: square to the pane, it is met within half of both."""
    lean = Placement.turned((1.0, -1.0, 0.0), 0.7)
    pane, crumb = box((0.4, 0.4, 0.004), centre=True).solid(lean), box((0.002, 0.002, 0.002), centre=True)
    moving, heights = Moving(crumb.solid(lean), [pane]), 0.01 * np.arange(41) - 0.2 + phase
    offsets = heights[:, None] * lean.direction([0.0, 0.0, 1.0])
    course, still = moving.course(Placement.identity(), offsets), Placement.identity()
    assert course.near.sum() > 20
    found = met_along([course], [course.near], lambda _, place, k: moving.clear(still, offsets[place], k))
    met = np.flatnonzero(np.abs(heights) < 0.003)
    assert found == ((0, met[0], 0) if len(met) else None)


@pytest.mark.parametrize("seed", range(30))
def test_what_is_met_along_legs_is_met_there_and_nothing_where_no_place_is(others, seed):
    """Along two straight legs, turned, past some of the others: each place alone tells which are met."""
    random = np.random.default_rng(seed)
    there = list(others.values())
    there += [box((0.3, 0.3, 0.002), centre=True).solid(Placement.turned(random.normal(size=3), 1.0))]
    own = ball(random.choice([0.001, 0.02]), n=12).solid()  # seldom met, or often
    moving, ends = Moving(own, there), random.uniform(-0.2, 0.2, (3, 3))
    legs = [a + (b - a) * np.arange(1, 41)[:, None] / 40 for a, b in pairwise(ends)]
    turn = Placement.turned(random.normal(size=3), random.uniform(-3.0, 3.0))
    courses = [moving.course(turn, leg) for leg in legs]
    looks = [
        course.near & (random.random(course.near.shape) < random.choice([0.9, 1.0])) for course in courses
    ]
    met = {
        (leg, place, k)
        for leg, look in enumerate(looks)
        for place, k in np.argwhere(look).tolist()
        if courses[leg].meets(place, k)
    }
    asked = []

    def clear(leg, place, k):
        asked.append((leg, place, k))
        return moving.clear(turn, legs[leg][place], k)

    for first in (False, True):
        asked.clear()
        found = met_along(courses, looks, clear, first=first)
        assert found in met if met else found is None
        assert not (first and met) or found[:2] == min(met)[:2]
        assert len(asked) == len(set(asked))
